/* survey_saddle: the best move of the saddle while the nut stays. Internal to the survey.
 */
#ifndef SB_SURVEY_SADDLE_H
#define SB_SURVEY_SADDLE_H

#include "core/survey_fit.h"

/* Fills the saddle_only members of *out: the move that makes the sum of squares of the errors
 * read least, each with the player's weight over its variance; bad frets (data->out) aside. */
void sb_survey_move_saddle(const sb_survey_data *data, const sb_survey_fit *fit, sb_survey *out);

#endif
