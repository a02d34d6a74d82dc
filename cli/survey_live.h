/* survey_live: a survey from a device, hands-free, until every fret asked for is in.
 */
#ifndef SB_SURVEY_LIVE_H
#define SB_SURVEY_LIVE_H

#include "cli/session.h"
#include "cli/survey_take.h"

/* Listens until `plucks` good notes of each fret asked for are in and no more come; Ctrl-C and
 * the time limit end it sooner, and what is there is used. Fills take and frets and returns 0, or
 * reports the failure and returns the exit code. */
int sb_survey_listen(const sb_session_options *options, const sb_survey_plan *plan,
                     const sb_open_notes *open, sb_take *take, sb_take_frets *frets);

#endif
