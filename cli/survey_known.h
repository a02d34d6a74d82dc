/* survey_known: what a survey knows of a string before it is heard: its note and gauge, told or
 * the instrument's own, its stiffness, and how it lies over the neck.
 */
#ifndef SB_SURVEY_KNOWN_H
#define SB_SURVEY_KNOWN_H

#include "cli/args.h"
#include "cli/book.h"
#include "cli/survey_take.h"

/* By options; 0, NULL or SB_NO_NOTE = not told. */
typedef struct {
    double scale_mm, action17_mm, first_fret_mm, good_slot_mm, kappa, a4_hz;
    const char *string, *material, *action;
    int note;
} sb_survey_told;

/* Rows of an option table for all of it but note and A4; offsets are into sb_survey_told. */
#define SB_SURVEY_TOLD_OPTIONS 8
extern const sb_option sb_survey_told_rows[SB_SURVEY_TOLD_OPTIONS];

/* Set the first three, then let the string be read. */
typedef struct {
    const sb_survey_told *told;
    const char *name; /* of the instrument; NULL = none */
    sb_description instrument;
    int number; /* of its string, from 1; 0 = by pitch */
    bool has_string;
    sb_string string; /* told by note and gauge */
} sb_survey_known;

/* Which string it is, as told. 0, or the exit code with the failure reported. */
int sb_survey_known_read(sb_survey_known *known);

/* What its open string may be. */
sb_open_notes sb_survey_known_notes(const sb_survey_known *known);

/* Names the string that was read, and fills in what its survey is to reckon with: scale, stiffness
 * and heights. 0, or the exit code with the failure reported. */
int sb_survey_known_describe(const sb_survey_known *known, sb_surveyed *s);

#endif
