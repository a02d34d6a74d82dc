/* survey_fit: weighted least squares of a neck's faults. Internal to the survey, whose header
 * says what is fitted and why.
 */
#ifndef SB_SURVEY_FIT_H
#define SB_SURVEY_FIT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/survey.h"

/* What may be free. SB_FREE_OPEN is the open string's own departure, where it was read. */
enum { SB_FREE_SADDLE, SB_FREE_NUT, SB_FREE_SLOT, SB_FREE_KAPPA, SB_FREE_OPEN, SB_FREES };

#define SB_FREE(which) (1U << (which))

typedef struct {
    const sb_survey_options *options;
    const sb_survey_reading *readings;
    size_t n;
    double std_error[SB_SURVEY_MAX]; /* cents, > 0 */
    bool out[SB_SURVEY_MAX];         /* left out of every fit */
} sb_survey_data;

typedef struct {
    unsigned free;
    double value[SB_FREES]; /* mm; of kappa its logarithm; of the open string cents */
    double covariance[SB_FREES][SB_FREES]; /* 0 where not free */
    double chi2;                           /* priors included */
    int dof;                               /* readings and priors less what is free; may be 0 */
} sb_survey_fit;

/* The values that go with nothing at fault. */
sb_faults sb_survey_faults(const double value[SB_FREES]);

/* What a reading ought to be, in cents. */
double sb_survey_expected(const sb_survey_data *data, const double value[SB_FREES], size_t i);

/* d expected / d value, in cents a unit; 0 for what is not in the set `free`. */
void sb_survey_slopes(const sb_survey_data *data, const double value[SB_FREES], unsigned free,
                      size_t i, double slopes[SB_FREES]);

/* Readings that count: neither left out nor the open string. */
size_t sb_survey_used(const sb_survey_data *data);

/* Fits what the set `free` names (the open string's departure is added where it was read) by
 * Gauss and Newton, from the values of `near` where that is not NULL. False where the readings
 * do not determine it. */
bool sb_survey_fit_free(const sb_survey_data *data, unsigned free, const sb_survey_fit *near,
                        sb_survey_fit *out);

/* The covariance that the readings would give with these faults: the inverse Fisher matrix.
 * False where it is singular. */
bool sb_survey_covariance(const sb_survey_data *data, unsigned free, const sb_faults *faults,
                          double covariance[SB_FREES][SB_FREES]);

#endif
