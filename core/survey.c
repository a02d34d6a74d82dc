#include "core/survey.h"

#include <math.h>

#include "core/chance.h"
#include "core/survey_judge.h"
#include "core/survey_saddle.h"

#define MAX_FRET        36
#define MAX_FRET_CENTS  4800.0
#define MAX_ERROR_CENTS 100.0

#define SADDLE SB_FREE(SB_FREE_SADDLE)
#define NUT    SB_FREE(SB_FREE_NUT)
#define SLOT   SB_FREE(SB_FREE_SLOT)
#define KAPPA  SB_FREE(SB_FREE_KAPPA)

/* --- what comes in --------------------------------------------------------------------- */

static bool valid_reading(const sb_survey_reading *r) {
    const bool open = r->fret == 0 && r->fret_cents == 0.0;
    const bool fretted = r->fret >= 1 && r->fret <= MAX_FRET && r->fret_cents > 0.0 &&
                         r->fret_cents <= MAX_FRET_CENTS;

    return (open || fretted) && fabs(r->error_cents) <= MAX_ERROR_CENTS &&
           (r->std_error_cents == 0.0 ||
            (r->std_error_cents >= 1e-4 && r->std_error_cents <= 100.0)) &&
           r->weight >= 0.0 && isfinite(r->weight);
}

/* Frets and what they stand for must rise together, which excludes a fret twice as well. */
static bool valid_pair(const sb_survey_reading *a, const sb_survey_reading *b) {
    return a->fret < b->fret ? a->fret_cents < b->fret_cents
                             : a->fret > b->fret && a->fret_cents > b->fret_cents;
}

static bool valid_options(const sb_survey_options *o) {
    return o->neck.scale_mm >= 100.0 && o->neck.scale_mm <= 2000.0 && o->neck.good_slot_mm >= 0.0 &&
           o->neck.good_slot_mm <= 3.0 && o->neck.saddle_mm >= 0.0 && o->neck.saddle_mm <= 30.0 &&
           o->kappa.kappa >= 1.0 && o->kappa.kappa <= 1e4 && o->kappa.factor > 1.0 &&
           o->kappa.factor <= 10.0 && o->slot_std_error_mm >= 0.0 && o->slot_std_error_mm <= 10.0 &&
           o->slot_mm > -o->neck.good_slot_mm - 1e-9 && o->slot_mm <= 5.0 &&
           o->tolerance_cents > 0.0 && o->tolerance_cents <= 100.0;
}

static sb_status check(const sb_survey_reading readings[], size_t n,
                       const sb_survey_options *options) {
    size_t fretted = 0;

    if (n > SB_SURVEY_MAX || !valid_options(options)) {
        return SB_E_RANGE;
    }
    for (size_t i = 0; i < n; i++) {
        if (!valid_reading(&readings[i])) {
            return SB_E_RANGE;
        }
        for (size_t j = 0; j < i; j++) {
            if (!valid_pair(&readings[i], &readings[j])) {
                return SB_E_RANGE;
            }
        }
        fretted += readings[i].fret > 0 ? 1U : 0U;
    }
    return fretted > 0 ? SB_OK : SB_E_TOO_SHORT;
}

static bool errors_known(const sb_survey_data *data) {
    for (size_t i = 0; i < data->n; i++) {
        if (data->readings[i].std_error_cents == 0.0) {
            return false;
        }
    }
    return true;
}

/* --- the estimate ---------------------------------------------------------------------- */

/* Saddle and nut always, unless the slot stands for the nut. */
static unsigned estimated(unsigned parts, size_t used, bool slot_measured) {
    unsigned free = parts | SADDLE;

    if (slot_measured) {
        free |= SLOT;
    }
    if (used >= 2 && ((free & SLOT) == 0 || slot_measured)) {
        free |= NUT;
    }
    return free;
}

static void write_parts(const sb_survey_data *data, const sb_survey_fit *fit, sb_survey *out) {
    sb_survey_fit all;
    sb_survey_data with_all = *data;
    const bool full =
        sb_survey_fit_free(&with_all, sb_survey_free_of(SADDLE | NUT | SLOT), NULL, &all);

    for (int p = 0; p < SB_PARTS; p++) {
        out->fitted[p] = (fit->free & SB_FREE(p)) != 0;
        out->excess_mm[p] = fit->value[p];
        out->std_error_mm[p] = out->fitted[p] ? sqrt(fit->covariance[p][p])
                               : full         ? sqrt(all.covariance[p][p])
                                              : (double)NAN;
    }
    for (int p = 0; p < SB_PARTS; p++) {
        for (int q = 0; q < SB_PARTS; q++) {
            out->correlation[p][q] =
                out->fitted[p] && out->fitted[q]
                    ? fit->covariance[p][q] / (out->std_error_mm[p] * out->std_error_mm[q])
                    : 0.0;
        }
    }
    out->kappa = data->options->kappa;
    if ((fit->free & KAPPA) != 0) {
        out->kappa = (sb_kappa){exp(fit->value[SB_FREE_KAPPA]),
                                exp(sqrt(fit->covariance[SB_FREE_KAPPA][SB_FREE_KAPPA]))};
    }
}

static double fit_variance(const sb_survey_data *data, const sb_survey_fit *fit, size_t i) {
    double slopes[SB_FREES];
    double sum = 0.0;

    sb_survey_slopes(data, fit->value, fit->free & ~SB_FREE(SB_FREE_OPEN), i, slopes);
    for (int p = 0; p < SB_FREES; p++) {
        for (int q = 0; q < SB_FREES; q++) {
            sum += slopes[p] * fit->covariance[p][q] * slopes[q];
        }
    }
    return sum;
}

static void write_curve(const sb_survey_data *data, const sb_survey_fit *fit, sb_survey *out) {
    const double open = fit->value[SB_FREE_OPEN];

    for (size_t i = 0; i < data->n; i++) {
        const double expected = sb_survey_expected(data, fit->value, i);
        out->bad[i] = data->out[i];
        out->used_std_error_cents[i] = data->std_error[i];
        out->fitted_cents[i] = expected - open;
        out->fit_std_error_cents[i] = sqrt(fmax(fit_variance(data, fit, i), 0.0));
        out->cured_cents[i] = data->readings[i].error_cents - expected;
    }
    sb_survey_worst(data, fit, out->worst_cents);
}

/* --- all of it ------------------------------------------------------------------------- */

static void write_adequacy(const sb_survey_data *data, const sb_survey_fit *fit, sb_survey *out) {
    double sum = 0.0;

    for (size_t i = 0; i < data->n; i++) {
        if (!data->out[i] && data->readings[i].fret > 0) {
            sum += out->cured_cents[i] * out->cured_cents[i];
        }
    }
    out->errors_known = errors_known(data);
    out->dof = fit->dof;
    out->scatter_cents = fit->dof > 0 ? sqrt(sum / fit->dof) : (double)NAN;
    out->chi2 = out->errors_known ? sb_survey_chi2(data, fit, data->out, 0.0) : fit->chi2;
    out->probability = fit->dof > 0 ? sb_chi2_tail(out->chi2, fit->dof) : 1.0;
    out->adequate = out->errors_known ? out->probability >= SB_SIGNIFICANT
                                      : !(out->scatter_cents > data->options->tolerance_cents);
}

/* Leaves data->out as the best explanation has it. */
static bool estimate(sb_survey_data *data, const sb_explanation *best, sb_survey_fit *fit) {
    for (size_t i = 0; i < data->n; i++) {
        data->out[i] = best->out[i];
    }
    const unsigned free =
        estimated(best->parts, sb_survey_used(data), data->options->slot_std_error_mm > 0.0);
    return sb_survey_fit_free(data, sb_survey_free_of(free), NULL, fit) ||
           sb_survey_fit_free(data, SADDLE, NULL, fit);
}

/* Wild readings far up a neck may put the saddle before a fret. */
static bool is_string(const sb_survey_data *data, const sb_survey *out) {
    bool whole = isfinite(out->saddle_only_mm);

    for (size_t i = 0; i < data->n; i++) {
        whole = whole && isfinite(out->fitted_cents[i]) && isfinite(out->cured_cents[i]) &&
                isfinite(out->saddle_only_cents[i]);
    }
    return whole;
}

static bool survey_once(sb_survey_data *data, const sb_survey_surety *surety, sb_survey *out) {
    sb_explanation sets[SB_EXPLANATIONS];
    sb_survey_fit fit;

    sb_survey_explain(data, surety, sets);
    const sb_explanation *best = sb_survey_best(sets);
    if (!best || !estimate(data, best, &fit)) {
        return false;
    }
    write_parts(data, &fit, out);
    write_curve(data, &fit, out);
    write_adequacy(data, &fit, out);
    sb_survey_move_saddle(data, &fit, out);
    sb_survey_judge(data, sets, best, out);
    return is_string(data, out);
}

sb_status sb_survey_string(const sb_survey_reading readings[], size_t n,
                           const sb_survey_options *options, sb_survey *out) {
    sb_survey_data data = {.options = options, .readings = readings, .n = n};
    sb_survey_surety surety = {.learned_dof = 0};
    sb_survey found = {.dof = 0};

    const sb_status status = check(readings, n, options);
    if (status != SB_OK) {
        return status;
    }
    const bool known = errors_known(&data);
    for (size_t i = 0; i < n; i++) {
        data.std_error[i] = known ? readings[i].std_error_cents : SB_SURVEY_HAND_CENTS;
    }
    bool done = known && survey_once(&data, &surety, &found);
    if (!done || !found.adequate) {
        sb_survey_learn(&data, &surety);
        done = survey_once(&data, &surety, &found);
    }
    if (!done) {
        return SB_E_UNDETERMINED;
    }
    *out = found;
    return SB_OK;
}

sb_status sb_survey_bound(const sb_survey_reading readings[], size_t n,
                          const sb_survey_options *options, const sb_faults *faults, unsigned free,
                          double std_error_mm[SB_PARTS]) {
    sb_survey_data data = {.options = options, .readings = readings, .n = n};
    double covariance[SB_FREES][SB_FREES];

    const sb_status status = check(readings, n, options);
    if (status != SB_OK) {
        return status;
    }
    for (size_t i = 0; i < n; i++) {
        data.std_error[i] =
            readings[i].std_error_cents > 0.0 ? readings[i].std_error_cents : SB_SURVEY_HAND_CENTS;
    }
    const bool told = sb_survey_covariance(&data, sb_survey_free_of(free), faults, covariance);
    for (int p = 0; p < SB_PARTS; p++) {
        std_error_mm[p] = (free & SB_FREE(p)) == 0 ? 0.0
                          : told                   ? sqrt(covariance[p][p])
                                                   : (double)NAN;
    }
    return SB_OK;
}
