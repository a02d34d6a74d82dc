#include "core/survey_judge.h"

#include <math.h>

/* A slot acts so much like the nut that it must be the likelier by a rival's margin to be
 * believed. */
static double price(const sb_explanation *e) {
    return e->score + ((e->parts & SB_FREE(SB_FREE_SLOT)) != 0 ? SB_SURVEY_RIVAL : 0.0);
}

const sb_explanation *sb_survey_best(const sb_explanation sets[SB_EXPLANATIONS]) {
    const sb_explanation *best = NULL;

    for (int s = 0; s < SB_EXPLANATIONS; s++) {
        if (sets[s].possible && (!best || price(&sets[s]) < price(best))) {
            best = &sets[s];
        }
    }
    return best;
}

/* The likeliest explanation that blames something else and is hardly worse; or NULL. */
static const sb_explanation *rival_of(const sb_explanation sets[SB_EXPLANATIONS],
                                      const sb_explanation *best, double tolerance_cents) {
    const sb_explanation *rival = NULL;

    for (int s = 0; s < SB_EXPLANATIONS; s++) {
        const sb_explanation *e = &sets[s];
        if (e->possible && e->main != best->main && e->size_cents > tolerance_cents &&
            e->score < best->score + SB_SURVEY_RIVAL && (!rival || e->score < rival->score)) {
            rival = e;
        }
    }
    return rival;
}

/* The largest of the values at frets, and of an explanation's curve. */
static double largest(const sb_survey_data *data, const double values[]) {
    double most = 0.0;

    for (size_t i = 0; i < data->n; i++) {
        most = data->readings[i].fret > 0 ? fmax(most, fabs(values[i])) : most;
    }
    return most;
}

static double largest_explained(const sb_survey_data *data, const sb_explanation *e) {
    double curve[SB_SURVEY_MAX];

    for (size_t i = 0; i < data->n; i++) {
        curve[i] = sb_survey_expected(data, e->fit.value, i) - e->fit.value[SB_FREE_OPEN];
    }
    return largest(data, curve);
}

static bool any(const bool flags[], size_t n) {
    for (size_t i = 0; i < n; i++) {
        if (flags[i]) {
            return true;
        }
    }
    return false;
}

static sb_survey_doubt doubt_of(const sb_survey_data *data, const sb_explanation *best,
                                const sb_survey *out) {
    const double tolerance = data->options->tolerance_cents;
    const double worst = fmax(largest_explained(data, best), best->size_cents);
    const double unsure = 2.0 * largest(data, out->fit_std_error_cents);

    if (sb_survey_used(data) < 3 || out->dof < 1) {
        return SB_DOUBT_FEW;
    }
    if (!out->adequate && out->scatter_cents > tolerance) {
        return SB_DOUBT_MISFIT;
    }
    if (worst <= tolerance && unsure > tolerance) {
        return SB_DOUBT_LOOSE;
    }
    return SB_DOUBT_NONE;
}

/* The part that another explanation, hardly worse, puts in the place of `part`; or
 * SB_MAIN_NONE. */
static int instead_of(const sb_explanation sets[SB_EXPLANATIONS], const sb_explanation *best,
                      int part, double tolerance_cents) {
    for (int s = 0; s < SB_EXPLANATIONS; s++) {
        const sb_explanation *e = &sets[s];
        if (!e->possible || e->score >= best->score + SB_SURVEY_RIVAL ||
            e->worst_cents[part] > tolerance_cents) {
            continue;
        }
        for (int p = 0; p < SB_PARTS; p++) {
            if (e->worst_cents[p] > tolerance_cents && best->worst_cents[p] <= tolerance_cents) {
                return p;
            }
        }
    }
    return SB_MAIN_NONE;
}

/* Faults of the best explanation, but for those that others lay at another part's door. */
static void set_faults(const sb_explanation sets[SB_EXPLANATIONS], const sb_explanation *best,
                       double tolerance_cents, sb_survey *out) {
    for (int p = 0; p < SB_PARTS; p++) {
        const int other = instead_of(sets, best, p, tolerance_cents);
        out->fault[p] = best->worst_cents[p] > tolerance_cents || best->main == p;
        if (out->fault[p] && other != SB_MAIN_NONE) {
            out->fault[p] = false;
            out->between[0] = p;
            out->between[1] = other;
        }
    }
}

void sb_survey_judge(const sb_survey_data *data, const sb_explanation sets[SB_EXPLANATIONS],
                     const sb_explanation *best, sb_survey *out) {
    static const sb_survey_verdict of_part[] = {SB_SURVEY_SADDLE, SB_SURVEY_NUT, SB_SURVEY_SLOT,
                                                SB_SURVEY_FRET};
    const double tolerance = data->options->tolerance_cents;
    const bool good = fmax(largest_explained(data, best), best->size_cents) <= tolerance &&
                      !any(out->bad, data->n);
    const sb_explanation *rival = good ? NULL : rival_of(sets, best, tolerance);

    out->between[0] = out->between[1] = SB_MAIN_NONE;
    out->doubt = doubt_of(data, best, out);
    if (out->doubt == SB_DOUBT_NONE && !good) {
        set_faults(sets, best, tolerance, out);
        if (rival) {
            out->doubt = SB_DOUBT_RIVAL;
            out->between[0] = best->main;
            out->between[1] = rival->main;
        }
    }
    out->verdict = out->doubt != SB_DOUBT_NONE          ? SB_SURVEY_UNDECIDED
                   : good || best->main == SB_MAIN_NONE ? SB_SURVEY_TRUE
                                                        : of_part[best->main];
}
