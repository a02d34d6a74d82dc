/* survey_input: what a survey is told in words and files: lists of frets, weights, readings
 * made elsewhere, temperaments. Each reports what is wrong and returns the exit code.
 */
#ifndef SB_SURVEY_INPUT_H
#define SB_SURVEY_INPUT_H

#include "cli/surveyed.h"

/* Makes the plan but for its pitch, from what was told; each may be NULL.
 *   scl      a Scala file, else equal temperament; frets beyond what an octave and more can hold
 * are left off frets    "1,2,5-9": these alone, else the usual ones but not alone; fret 0 is always
 * among them weights  "1-4:3,12:2,17:0": how much each fret counts, else 1 each */
int sb_survey_plan_make(sb_survey_plan *plan, const char *scl, const char *frets,
                        const char *weights);

/* Readings made elsewhere: lines of fret, cents and, where known, standard error, divided by
 * tabs or spaces; '-' reads standard input. Lines that are empty or begin with '#', and a
 * heading that begins with `fret', are passed over. Several lines of a fret are combined. */
int sb_survey_load(sb_surveyed *s, const char *path);

#endif
