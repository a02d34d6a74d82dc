/* survey_judge: which set of faults is believed, and whether it may be. Internal to the survey.
 */
#ifndef SB_SURVEY_JUDGE_H
#define SB_SURVEY_JUDGE_H

#include "core/survey_explain.h"

/* The likeliest possible explanation; NULL = none is possible. */
const sb_explanation *sb_survey_best(const sb_explanation sets[SB_EXPLANATIONS]);

/* Fills verdict, doubt, faults and what they lie between in *out, whose estimate and adequacy are
 * filled in. */
void sb_survey_judge(const sb_survey_data *data, const sb_explanation sets[SB_EXPLANATIONS],
                     const sb_explanation *best, sb_survey *out);

#endif
