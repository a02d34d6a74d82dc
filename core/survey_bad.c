#include "core/survey_bad.h"

#include <math.h>

#include "core/chance.h"

#define MOST_BAD    9    /* a quarter of all readings at most */
#define LEAST_SPARE 1e-6 /* of a reading's freedom, for it to be spared */

double sb_survey_limit2(double p, const sb_survey_surety *surety) {
    const double t = sb_student_limit(p, surety->learned_dof);

    return t * t;
}

/* How far leaving a reading out lowers chi-squared, by its residual and leverage (Cook &
 * Weisberg, sec. 2.2.2): exact where the model is straight. -1 where it alone holds an unknown. */
static double expected_fall(const sb_survey_data *data, const sb_survey_fit *fit, size_t i) {
    double slopes[SB_FREES];
    double leverage = 0.0;

    sb_survey_slopes(data, fit->value, fit->free, i, slopes);
    for (int p = 0; p < SB_FREES; p++) {
        for (int q = 0; q < SB_FREES; q++) {
            leverage += slopes[p] * fit->covariance[p][q] * slopes[q];
        }
    }
    const double off = (data->readings[i].error_cents - sb_survey_expected(data, fit->value, i)) /
                       data->std_error[i];
    leverage /= data->std_error[i] * data->std_error[i];
    return leverage < 1.0 - LEAST_SPARE ? off * off / (1.0 - leverage) : -1.0;
}

/* The fret whose absence lowers chi-squared most, left out of data; *fit becomes the fit without
 * it. False where none can be spared. */
static bool remove_worst(sb_survey_data *data, sb_survey_fit *fit, size_t *worst) {
    double most = -1.0;
    sb_survey_fit without;

    for (size_t i = 0; i < data->n; i++) {
        if (!data->out[i] && data->readings[i].fret > 0) {
            const double fall = expected_fall(data, fit, i);
            if (fall > most) {
                most = fall;
                *worst = i;
            }
        }
    }
    if (most < 0.0) {
        return false;
    }
    data->out[*worst] = true;
    if (sb_survey_fit_free(data, fit->free, fit, &without) && without.dof > 0) {
        *fit = without;
        return true;
    }
    data->out[*worst] = false;
    return false;
}

static bool stands_out(double fall, const sb_survey_fit *rest, size_t tried,
                       const sb_survey_surety *surety) {
    const double scale2 = surety->studentize ? rest->chi2 / rest->dof : 1.0;
    const int dof = surety->studentize ? rest->dof : surety->learned_dof;

    return sb_student_tail(sqrt(fmax(fall, 0.0) / scale2), dof) * (double)tried < SB_SURVEY_ALARM;
}

bool sb_survey_drop_bad(sb_survey_data *data, unsigned free, const sb_survey_surety *surety,
                        sb_survey_fit *out) {
    sb_survey_fit fit;
    size_t order[MOST_BAD] = {0};
    size_t n_bad = 0;
    size_t n_out = 0;

    if (!sb_survey_fit_free(data, free, NULL, &fit)) {
        return false;
    }
    *out = fit;
    const size_t all = sb_survey_used(data);
    const size_t most = all < 4 ? 0 : all / 4 < MOST_BAD ? all / 4 : MOST_BAD;
    for (; n_out < most; n_out++) {
        const double before = fit.chi2;
        if (!remove_worst(data, &fit, &order[n_out])) {
            break;
        }
        if (stands_out(before - fit.chi2, &fit, all - n_out, surety)) {
            n_bad = n_out + 1;
            *out = fit;
        }
    }
    for (size_t i = n_bad; i < n_out; i++) {
        data->out[order[i]] = false;
    }
    return true;
}
