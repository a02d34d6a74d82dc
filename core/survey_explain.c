#include "core/survey_explain.h"

#include <math.h>

#define LEAST_SCATTER 0.05 /* cents: no hand is steadier */
#define MOST_SCATTER  100.0

#define SADDLE SB_FREE(SB_FREE_SADDLE)
#define NUT    SB_FREE(SB_FREE_NUT)
#define SLOT   SB_FREE(SB_FREE_SLOT)
#define KAPPA  SB_FREE(SB_FREE_KAPPA)

static double square(double x) {
    return x * x;
}

/* --- explanations ---------------------------------------------------------------------- */

/* Where a slot is free, kappa is. */
unsigned sb_survey_free_of(unsigned parts) {
    return parts | ((parts & SLOT) != 0 ? KAPPA : 0U);
}

static int count_parts(unsigned parts) {
    int n = 0;

    for (int p = 0; p < SB_PARTS; p++) {
        n += (parts >> p & 1U) != 0 ? 1 : 0;
    }
    return n;
}

/* The largest error that each part alone makes at a fret that was read. */
void sb_survey_worst(const sb_survey_data *data, const sb_survey_fit *fit,
                     double worst_cents[SB_PARTS]) {
    for (int p = 0; p < SB_PARTS; p++) {
        double alone[SB_FREES] = {0.0};
        alone[p] = fit->value[p];
        alone[SB_FREE_KAPPA] = fit->value[SB_FREE_KAPPA];
        worst_cents[p] = 0.0;
        for (size_t i = 0; i < data->n; i++) {
            const double off = fabs(sb_survey_expected(data, alone, i));
            worst_cents[p] = fmax(worst_cents[p], off);
        }
    }
}

static void set_main(const sb_survey_data *data, sb_explanation *e) {
    e->main = SB_MAIN_NONE;
    e->size_cents = 0.0;
    for (int p = 0; p < SB_PARTS; p++) {
        if (e->worst_cents[p] > e->size_cents) {
            e->main = p;
            e->size_cents = e->worst_cents[p];
        }
    }
    for (size_t i = 0; i < data->n; i++) {
        const double off =
            fabs(data->readings[i].error_cents - sb_survey_expected(data, e->fit.value, i));
        if (e->out[i] && off > e->size_cents) {
            e->main = SB_MAIN_FRET;
            e->size_cents = off;
        }
    }
}

/* What a part and a bad fret must lower chi-squared by. */
typedef struct {
    double part, fret;
} costs;

static costs costs_of(const sb_survey_data *data, const sb_survey_surety *surety) {
    size_t frets = 0;

    for (size_t i = 0; i < data->n; i++) {
        frets += data->readings[i].fret > 0 ? 1U : 0U;
    }
    return (costs){sb_survey_limit2(SB_SIGNIFICANT, surety),
                   sb_survey_limit2(SB_SURVEY_ALARM / (double)frets, surety)};
}

/* Every part costs what it gains by chance in one neck of a hundred, every bad fret what one
 * of them all gains. */
static sb_explanation explain(sb_survey_data *data, unsigned parts, const sb_survey_surety *surety,
                              const costs *cost) {
    sb_explanation e = {.parts = parts};
    size_t n_out = 0;

    for (size_t i = 0; i < data->n; i++) {
        data->out[i] = false;
    }
    e.possible = sb_survey_drop_bad(data, sb_survey_free_of(parts), surety, &e.fit);
    for (size_t i = 0; i < data->n; i++) {
        e.out[i] = data->out[i];
        n_out += data->out[i] ? 1U : 0U;
    }
    e.score = e.fit.chi2 + count_parts(parts) * cost->part + (double)n_out * cost->fret;
    if (e.possible) {
        sb_survey_worst(data, &e.fit, e.worst_cents);
        set_main(data, &e);
    }
    return e;
}

void sb_survey_explain(sb_survey_data *data, const sb_survey_surety *surety,
                       sb_explanation sets[SB_EXPLANATIONS]) {
    const costs cost = costs_of(data, surety);

    for (unsigned parts = 0; parts < SB_EXPLANATIONS; parts++) {
        sets[parts] = explain(data, parts, surety, &cost);
    }
}

/* --- scatter beyond the readings' errors ------------------------------------------------- */

double sb_survey_chi2(const sb_survey_data *data, const sb_survey_fit *fit, const bool out[],
                      double scatter_cents) {
    double sum = 0.0;

    for (size_t i = 0; i < data->n; i++) {
        const sb_survey_reading *r = &data->readings[i];
        if (!out[i] && r->fret > 0) {
            const double off = r->error_cents - sb_survey_expected(data, fit->value, i);
            sum += square(off) / (square(r->std_error_cents) + square(scatter_cents));
        }
    }
    return sum;
}

/* The scatter that makes chi-squared what it should be (Paule & Mandel, as core/interval.h). */
static double scatter_about(const sb_survey_data *data, const sb_explanation *e) {
    double low = LEAST_SCATTER;
    double high = MOST_SCATTER;

    for (int i = 0; i < 60; i++) {
        const double middle = sqrt(low * high);
        if (sb_survey_chi2(data, &e->fit, e->out, middle) > e->fit.dof) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return high;
}

/* The fit that departs least for its freedom, by studentized residuals. */
static bool least_scatter(sb_survey_data *data, sb_explanation *least) {
    static const unsigned fits[] = {SADDLE | NUT, SADDLE | SLOT, SADDLE | NUT | SLOT};
    const sb_survey_surety unknown = {.studentize = true};
    const costs cost = costs_of(data, &unknown);
    bool found = false;

    for (size_t i = 0; i < sizeof fits / sizeof fits[0]; i++) {
        const sb_explanation e = explain(data, fits[i], &unknown, &cost);
        if (e.possible && e.fit.dof >= 2 &&
            (!found || e.fit.chi2 * least->fit.dof < least->fit.chi2 * e.fit.dof)) {
            *least = e;
            found = true;
        }
    }
    return found;
}

void sb_survey_learn(sb_survey_data *data, sb_survey_surety *surety) {
    sb_explanation least;

    if (!least_scatter(data, &least)) {
        return;
    }
    const double scatter = scatter_about(data, &least);
    for (size_t i = 0; i < data->n; i++) {
        data->std_error[i] = hypot(data->readings[i].std_error_cents, scatter);
    }
    surety->learned_dof = least.fit.dof;
}
