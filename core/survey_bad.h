/* survey_bad: which single frets stand out. Internal to the survey.
 */
#ifndef SB_SURVEY_BAD_H
#define SB_SURVEY_BAD_H

#include "core/survey_fit.h"

/* How sure the readings' errors are: known; or learned from so many degrees of freedom; or to
 * be learned from the other readings each time (externally studentized). */
typedef struct {
    int learned_dof; /* 0 = known */
    bool studentize;
} sb_survey_surety;

/* The square of the departure, in standard errors, that chance exceeds with probability p. */
double sb_survey_limit2(double p, const sb_survey_surety *surety);

/* Fits `free` and leaves out the frets that stand out, which it marks in data->out (all of it
 * false on entry). Frets are left out one after another, each the one that lowers chi-squared
 * most; as many are bad as the last significant one says, so that two do not hide each other
 * (Rosner, Technometrics 25, 165, 1983). False where there is no fit. */
bool sb_survey_drop_bad(sb_survey_data *data, unsigned free, const sb_survey_surety *surety,
                        sb_survey_fit *out);

#endif
