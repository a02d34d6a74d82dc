#include "core/survey_bad.h"

#include <math.h>

#include "core/chance.h"

#define MOST_BAD 9 /* a quarter of all readings at most */

/* What leaving out one fret more does. */
typedef struct {
    size_t fret; /* index of the reading */
    sb_survey_fit fit;
} removal;

double sb_survey_limit2(double p, const sb_survey_surety *surety) {
    const double t = sb_student_limit(p, surety->learned_dof);

    return t * t;
}

/* The fret whose absence lowers chi-squared most; false where none can be spared. */
static bool best_removal(sb_survey_data *data, const sb_survey_fit *with, removal *best) {
    bool found = false;

    for (size_t i = 0; i < data->n; i++) {
        sb_survey_fit fit;
        if (data->out[i] || data->readings[i].fret == 0) {
            continue;
        }
        data->out[i] = true;
        if (sb_survey_fit_free(data, with->free, with, &fit) && fit.dof > 0 &&
            (!found || fit.chi2 < best->fit.chi2)) {
            *best = (removal){i, fit};
            found = true;
        }
        data->out[i] = false;
    }
    return found;
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
    size_t order[MOST_BAD];
    size_t n_bad = 0;
    size_t n_out = 0;

    if (!sb_survey_fit_free(data, free, NULL, &fit)) {
        return false;
    }
    *out = fit;
    const size_t all = sb_survey_used(data);
    const size_t most = all < 4 ? 0 : all / 4 < MOST_BAD ? all / 4 : MOST_BAD;
    for (; n_out < most; n_out++) {
        removal next;
        if (!best_removal(data, &fit, &next)) {
            break;
        }
        order[n_out] = next.fret;
        data->out[next.fret] = true;
        if (stands_out(fit.chi2 - next.fit.chi2, &next.fit, all - n_out, surety)) {
            n_bad = n_out + 1;
            *out = next.fit;
        }
        fit = next.fit;
    }
    for (size_t i = n_bad; i < n_out; i++) {
        data->out[order[i]] = false;
    }
    return true;
}
