#include "core/survey_fit.h"

#include <math.h>
#include <string.h>

#define STEPS        60
#define HALVINGS     20
#define CLOSE        1e-6  /* a step, in standard errors */
#define LEAST_BOTTOM 0.05  /* of a good slot: what a slot is held to */
#define SINGULAR     1e-11 /* of a pivot, over what it was */

static double square(double x) {
    return x * x;
}

static bool is_free(unsigned free, int p) {
    return (free & SB_FREE(p)) != 0;
}

sb_faults sb_survey_faults(const double value[SB_FREES]) {
    return (sb_faults){.saddle_mm = value[SB_FREE_SADDLE],
                       .nut_mm = value[SB_FREE_NUT],
                       .slot_mm = value[SB_FREE_SLOT],
                       .kappa = exp(value[SB_FREE_KAPPA])};
}

double sb_survey_expected(const sb_survey_data *data, const double value[SB_FREES], size_t i) {
    const sb_survey_reading *r = &data->readings[i];
    const sb_faults faults = sb_survey_faults(value);

    if (r->fret == 0) {
        return value[SB_FREE_OPEN];
    }
    return value[SB_FREE_OPEN] +
           sb_faults_error_cents(&data->options->neck, &faults, r->fret_cents);
}

/* The model is smooth, and no unknown lies below the step. */
static double by_difference(const sb_survey_data *data, const double value[SB_FREES], int p,
                            size_t i) {
    const double step = 1e-5;
    double there[SB_FREES];

    memcpy(there, value, sizeof there);
    there[p] = value[p] + step;
    const double above = sb_survey_expected(data, there, i);
    there[p] = value[p] - step;
    return (above - sb_survey_expected(data, there, i)) / (2.0 * step);
}

void sb_survey_slopes(const sb_survey_data *data, const double value[SB_FREES], unsigned free,
                      size_t i, double slopes[SB_FREES]) {
    const sb_survey_reading *r = &data->readings[i];
    const sb_faults faults = sb_survey_faults(value);

    memset(slopes, 0, SB_FREES * sizeof slopes[0]);
    slopes[SB_FREE_OPEN] = 1.0;
    if (r->fret > 0) {
        sb_faults_slopes(&data->options->neck, &faults, r->fret_cents, &slopes[SB_FREE_SADDLE],
                         &slopes[SB_FREE_NUT]);
    }
    for (int p = 0; p < SB_FREES; p++) {
        if (!is_free(free, p)) {
            slopes[p] = 0.0;
        } else if (r->fret > 0 && (p == SB_FREE_SLOT || p == SB_FREE_KAPPA)) {
            slopes[p] = by_difference(data, value, p, i);
        }
    }
}

size_t sb_survey_used(const sb_survey_data *data) {
    size_t n = 0;

    for (size_t i = 0; i < data->n; i++) {
        n += !data->out[i] && data->readings[i].fret > 0 ? 1U : 0U;
    }
    return n;
}

/* --- priors: on kappa, and on a slot that was measured -------------------------------- */

typedef struct {
    double mean, weight; /* weight 0 = none */
} prior;

static prior prior_of(const sb_survey_data *data, int p) {
    const sb_survey_options *o = data->options;

    if (p == SB_FREE_KAPPA) {
        return (prior){log(o->kappa.kappa), 1.0 / square(log(o->kappa.factor))};
    }
    if (p == SB_FREE_SLOT && o->slot_std_error_mm > 0.0) {
        return (prior){o->slot_mm, 1.0 / square(o->slot_std_error_mm)};
    }
    return (prior){0.0, 0.0};
}

/* --- the normal equations ------------------------------------------------------------- */

typedef struct {
    double matrix[SB_FREES][SB_FREES];
    double right[SB_FREES];
} equations;

static bool counts(const sb_survey_data *data, unsigned free, size_t i) {
    return !data->out[i] && (data->readings[i].fret > 0 || is_free(free, SB_FREE_OPEN));
}

static double misfit(const sb_survey_data *data, unsigned free, const double value[SB_FREES]) {
    double sum = 0.0;

    for (size_t i = 0; i < data->n; i++) {
        if (counts(data, free, i)) {
            const double off = data->readings[i].error_cents - sb_survey_expected(data, value, i);
            sum += square(off / data->std_error[i]);
        }
    }
    for (int p = 0; p < SB_FREES; p++) {
        const prior known = prior_of(data, p); /* against what is not free it speaks too */
        sum += known.weight > 0.0 ? known.weight * square(value[p] - known.mean) : 0.0;
    }
    return sum;
}

static void add_row(equations *e, const double slopes[SB_FREES], double off, double weight) {
    for (int p = 0; p < SB_FREES; p++) {
        for (int q = 0; q < SB_FREES; q++) {
            e->matrix[p][q] += weight * slopes[p] * slopes[q];
        }
        e->right[p] += weight * slopes[p] * off;
    }
}

/* What is not free gets a unit row, so that one solver serves all sets. */
static equations set_up(const sb_survey_data *data, unsigned free, const double value[SB_FREES]) {
    equations e = {.right = {0.0}};

    for (size_t i = 0; i < data->n; i++) {
        if (counts(data, free, i)) {
            double slopes[SB_FREES];
            sb_survey_slopes(data, value, free, i, slopes);
            add_row(&e, slopes, data->readings[i].error_cents - sb_survey_expected(data, value, i),
                    1.0 / square(data->std_error[i]));
        }
    }
    for (int p = 0; p < SB_FREES; p++) {
        const prior known = prior_of(data, p);
        e.matrix[p][p] += is_free(free, p) ? known.weight : 1.0;
        e.right[p] += is_free(free, p) ? known.weight * (known.mean - value[p]) : 0.0;
    }
    return e;
}

/* Inverts a positive definite matrix in place by Gauss and Jordan; false where a pivot has
 * fallen to nothing. */
static bool invert(double m[SB_FREES][SB_FREES]) {
    double first[SB_FREES];

    for (int p = 0; p < SB_FREES; p++) {
        first[p] = m[p][p];
    }
    for (int p = 0; p < SB_FREES; p++) {
        const double pivot = m[p][p];
        if (!(pivot > SINGULAR * first[p])) {
            return false;
        }
        m[p][p] = 1.0;
        for (int q = 0; q < SB_FREES; q++) {
            m[p][q] /= pivot;
        }
        for (int r = 0; r < SB_FREES; r++) {
            const double factor = r == p ? 0.0 : m[r][p];
            m[r][p] = r == p ? m[r][p] : 0.0;
            for (int q = 0; q < SB_FREES; q++) {
                m[r][q] -= factor * m[p][q];
            }
        }
    }
    return true;
}

/* --- Gauss and Newton ------------------------------------------------------------------ */

static void hold(const sb_survey_data *data, double value[SB_FREES]) {
    const double least = -(1.0 - LEAST_BOTTOM) * data->options->neck.good_slot_mm;

    value[SB_FREE_SLOT] = fmax(value[SB_FREE_SLOT], least);
}

/* Goes the whole step, or the largest half of a half of it that does no harm. */
static bool advance(const sb_survey_data *data, sb_survey_fit *fit, const double step[SB_FREES]) {
    double share = 1.0;

    for (int h = 0; h < HALVINGS; h++) {
        double there[SB_FREES];
        for (int p = 0; p < SB_FREES; p++) {
            there[p] = fit->value[p] + share * step[p];
        }
        hold(data, there);
        const double chi2 = misfit(data, fit->free, there);
        if (chi2 <= fit->chi2) {
            for (int p = 0; p < SB_FREES; p++) {
                fit->value[p] = there[p];
            }
            fit->chi2 = chi2;
            return true;
        }
        share *= 0.5;
    }
    return false;
}

/* One step; *size is its length in standard errors, 0 at the end of the way. */
static bool step_once(const sb_survey_data *data, sb_survey_fit *fit, double *size) {
    equations e = set_up(data, fit->free, fit->value);
    double step[SB_FREES] = {0.0};

    if (!invert(e.matrix)) {
        return false;
    }
    *size = 0.0;
    for (int p = 0; p < SB_FREES; p++) {
        for (int q = 0; q < SB_FREES; q++) {
            step[p] += e.matrix[p][q] * e.right[q];
            fit->covariance[p][q] =
                is_free(fit->free, p) && is_free(fit->free, q) ? e.matrix[p][q] : 0.0;
        }
        *size += step[p] * e.right[p];
    }
    *size = advance(data, fit, step) ? sqrt(fmax(*size, 0.0)) : 0.0; /* no way down: arrived */
    return true;
}

static bool open_was_read(const sb_survey_data *data) {
    for (size_t i = 0; i < data->n; i++) {
        if (data->readings[i].fret == 0) {
            return true;
        }
    }
    return false;
}

/* Readings, a measured slot among them, less unknowns; kappa and the open string bring as many
 * of the one as of the other. */
static int freedom(const sb_survey_data *data, unsigned free) {
    const int slot = data->options->slot_std_error_mm > 0.0 ? 1 : 0;

    return (int)sb_survey_used(data) + slot - is_free(free, SB_FREE_SADDLE) -
           is_free(free, SB_FREE_NUT) - is_free(free, SB_FREE_SLOT);
}

/* The slot begins above its place: its effect is not straight, and the branch below is not
 * wanted. */
bool sb_survey_fit_free(const sb_survey_data *data, unsigned free, const sb_survey_fit *near,
                        sb_survey_fit *out) {
    const unsigned open = open_was_read(data) ? SB_FREE(SB_FREE_OPEN) : 0U;
    sb_survey_fit fit = {.free = free | open};
    double size = 1.0;

    fit.dof = freedom(data, fit.free);
    if (fit.dof < 0) {
        return false;
    }
    fit.value[SB_FREE_KAPPA] = log(data->options->kappa.kappa);
    fit.value[SB_FREE_SLOT] = is_free(free, SB_FREE_SLOT) ? 0.2 : 0.0;
    if (near) {
        memcpy(fit.value, near->value, sizeof fit.value);
    }
    fit.chi2 = misfit(data, fit.free, fit.value);
    for (int i = 0; i < STEPS && size > CLOSE; i++) {
        if (!step_once(data, &fit, &size)) {
            return false;
        }
    }
    *out = fit;
    return isfinite(fit.chi2);
}

bool sb_survey_covariance(const sb_survey_data *data, unsigned free, const sb_faults *faults,
                          double covariance[SB_FREES][SB_FREES]) {
    const unsigned open = open_was_read(data) ? SB_FREE(SB_FREE_OPEN) : 0U;
    const double value[SB_FREES] = {faults->saddle_mm, faults->nut_mm, faults->slot_mm,
                                    log(faults->kappa), 0.0};
    equations e = set_up(data, free | open, value);

    if (!invert(e.matrix)) {
        return false;
    }
    memcpy(covariance, e.matrix, sizeof e.matrix);
    return true;
}
