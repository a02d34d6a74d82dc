/* survey_input: what a survey is told in words and files: lists of frets, weights, readings
 * made elsewhere, temperaments. Each reports what is wrong and returns the exit code.
 */
#ifndef SB_SURVEY_INPUT_H
#define SB_SURVEY_INPUT_H

#include "cli/surveyed.h"

/* Equal temperament, the usual frets asked for but not alone, weight 1 each. */
void sb_survey_plan_default(sb_survey_plan *plan);

/* "1,2,5-9": these alone. Fret 0 is always among them. */
int sb_survey_plan_frets(sb_survey_plan *plan, const char *text);

/* "1-4:3,12:2,17:0": how much each fret counts. */
int sb_survey_plan_weights(sb_survey_plan *plan, const char *text);

/* A Scala file; frets beyond what an octave and more can hold are left off. */
int sb_survey_plan_scl(sb_survey_plan *plan, const char *path);

/* Readings made elsewhere: lines of fret, cents and, where known, standard error, divided by
 * tabs or spaces; '-' reads standard input. Lines that are empty or begin with '#', and a
 * heading that begins with `fret', are passed over. Several lines of a fret are combined. */
int sb_survey_load(sb_surveyed *s, const char *path);

#endif
