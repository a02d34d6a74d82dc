/* print_survey: a survey for people, and its neck drawn in characters or as SVG.
 */
#ifndef SB_PRINT_SURVEY_H
#define SB_PRINT_SURVEY_H

#include "cli/print.h"
#include "cli/surveyed.h"

/* What to do, what it rests on, and the chart. */
void sb_print_survey(const sb_page *page, const sb_surveyed *s);

/* One line a fret: its error, and where that lies; what was fitted, and what would be left. */
void sb_print_neck(const sb_page *page, const sb_surveyed *s);

/* A drawing of n strings, one below the other; title: the instrument, or NULL. In black and
 * greys, to be printed. */
void sb_svg_survey(FILE *out, const char *title, const sb_surveyed strings[], size_t n);

#endif
