/* json_survey: a survey for scripts (setback.survey/1) and for the book; schema in
 * DEVELOPERS.md.
 */
#ifndef SB_JSON_SURVEY_H
#define SB_JSON_SURVEY_H

#include <stdbool.h>
#include <stdio.h>

#include "cli/surveyed.h"

/* Prints one object and a newline; false when out of memory. */
bool sb_json_survey(FILE *out, const sb_surveyed *s);

/* The same object as text, to be freed; NULL when out of memory. */
char *sb_json_survey_text(const sb_surveyed *s);

#endif
