#include "core/interval.h"

#include <math.h>

#include "core/pitch.h"
#include "core/plucks.h"

/* Standard errors are held to this range: below, weights would overflow; above, a pluck
 * says nothing anyway. */
#define MIN_STD_ERROR_CENTS 1e-6
#define MAX_STD_ERROR_CENTS 1e6

#define MAX_SPAN_S         1e9 /* beyond, squares of times are of no use */
#define MIN_HZ             1e-3
#define MAX_HZ             1e6
#define MAX_INTERVAL_CENTS 12000.0

/* Weighted straight lines through both kinds: two levels and, if wanted, one slope. */
typedef struct {
    double weight[SB_KINDS], mean_time_s[SB_KINDS], mean_cents[SB_KINDS];
    double slope, slope_variance; /* cents per second; 0 where not fitted */
    double chi2[SB_KINDS];
} line_fit;

static double square(double x) {
    return x * x;
}

/* --- the weighted fit ---------------------------------------------------------------- */

static void add_means(const sb_pluck_points *t, const double scatter2[SB_KINDS], line_fit *fit) {
    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        if (!p->out) {
            const double w = 1.0 / (p->variance + scatter2[p->kind]);
            fit->weight[p->kind] += w;
            fit->mean_time_s[p->kind] += w * p->time_s;
            fit->mean_cents[p->kind] += w * p->cents;
        }
    }
    for (int k = 0; k < SB_KINDS; k++) {
        fit->mean_time_s[k] /= fit->weight[k];
        fit->mean_cents[k] /= fit->weight[k];
    }
}

/* The common slope comes from the spread within each kind only, about the kind's means. */
static void add_slope(const sb_pluck_points *t, const double scatter2[SB_KINDS], line_fit *fit) {
    double sxx = 0.0;
    double sxy = 0.0;

    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        if (!p->out) {
            const double w = 1.0 / (p->variance + scatter2[p->kind]);
            const double x = p->time_s - fit->mean_time_s[p->kind];
            sxx += w * x * x;
            sxy += w * x * (p->cents - fit->mean_cents[p->kind]);
        }
    }
    fit->slope = sxy / sxx;
    fit->slope_variance = 1.0 / sxx;
}

static line_fit fit_lines(const sb_pluck_points *t, const double scatter2[SB_KINDS],
                          bool drifting) {
    line_fit fit = {.slope = 0.0};

    add_means(t, scatter2, &fit);
    if (drifting) {
        add_slope(t, scatter2, &fit);
    }
    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        if (!p->out) {
            const double there =
                fit.mean_cents[p->kind] + fit.slope * (p->time_s - fit.mean_time_s[p->kind]);
            fit.chi2[p->kind] += square(p->cents - there) / (p->variance + scatter2[p->kind]);
        }
    }
    return fit;
}

/* --- scatter beyond the standard errors ---------------------------------------------- */

/* Which plucks a scatter is learned from, and with what model. */
typedef struct {
    bool from[SB_KINDS];
    bool drifting;
    size_t dof; /* degrees of freedom; > 0 */
} scatter_source;

/* The square of the Birge ratio when `scatter2` is added to every variance. */
static double birge_squared(const sb_pluck_points *t, const scatter_source *source,
                            double scatter2) {
    const double both[SB_KINDS] = {scatter2, scatter2};
    const line_fit fit = fit_lines(t, both, source->drifting);
    double chi2 = 0.0;

    for (int k = 0; k < SB_KINDS; k++) {
        chi2 += source->from[k] ? fit.chi2[k] : 0.0;
    }
    return chi2 / (double)source->dof;
}

/* The added variance at which the Birge ratio is 1, or 0 where it is not over 1 (Paule and
 * Mandel). The ratio falls steadily with it, so bisection is safe. */
static double added_scatter2(const sb_pluck_points *t, const scatter_source *source) {
    double low = 0.0;
    double high = square(MIN_STD_ERROR_CENTS);

    if (birge_squared(t, source, 0.0) <= 1.0) {
        return 0.0;
    }
    while (birge_squared(t, source, high) > 1.0) {
        low = high;
        high *= 4.0;
    }
    for (int i = 0; i < 40; i++) {
        const double middle = 0.5 * (low + high);
        if (birge_squared(t, source, middle) > 1.0) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return high;
}

/* Scatter of each kind without drift: what both show together, which alone speaks for a
 * single pluck, or what the kind itself shows, whichever is more. */
static void level_scatter2(const sb_pluck_points *t, double scatter2[SB_KINDS]) {
    const size_t n[SB_KINDS] = {sb_plucks_count(t, SB_KIND_OPEN),
                                sb_plucks_count(t, SB_KIND_FRETTED)};
    const scatter_source all = {{true, true}, false, n[SB_KIND_OPEN] + n[SB_KIND_FRETTED] - 2};
    const double common = all.dof > 0 ? added_scatter2(t, &all) : 0.0;

    for (int k = 0; k < SB_KINDS; k++) {
        const scatter_source own = {{k == SB_KIND_OPEN, k == SB_KIND_FRETTED}, false, n[k] - 1};
        scatter2[k] = own.dof > 0 ? fmax(common, added_scatter2(t, &own)) : common;
    }
}

/* --- drift --------------------------------------------------------------------------- */

/* The scatter about lines with a slope. With three plucks there is none to see; then a
 * hand's is taken, or a quarter of the pair's difference where that is more, as nothing
 * shows that the difference is drift and not one bad pluck. */
static double drift_scatter2(const sb_pluck_points *t, size_t dof) {
    const scatter_source lines = {{true, true}, true, dof};
    const scatter_source levels = {{true, true}, false, 1};

    if (dof > 0) {
        return added_scatter2(t, &lines);
    }
    /* The level's scatter is the difference over the root of 2. */
    return fmax(square(SB_UNSEEN_SCATTER_CENTS), added_scatter2(t, &levels) / 8.0);
}

/* How many standard errors a slope must reach: about twice where the readings' own errors
 * explain the scatter; else Student's two-sided 95 % point for one degree of freedom more
 * than the scatter was learned from, a hand's usual scatter being the one. */
static double significant_ratio(double scatter2, size_t dof) {
    static const double student[] = {2.0, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23};
    const size_t known = sizeof student / sizeof student[0];

    if (scatter2 <= 0.0) {
        return student[0];
    }
    return dof < known ? student[dof] : 2.1;
}

/* Fits both levels and a common slope, and says whether the slope is there. */
static bool find_drift(const sb_pluck_points *t, line_fit *fit) {
    const size_t dof = sb_plucks_count(t, SB_KIND_OPEN) + sb_plucks_count(t, SB_KIND_FRETTED) - 3;
    const double scatter2 = drift_scatter2(t, dof);
    const double seen[SB_KINDS] = {scatter2, scatter2};
    double judged2 = scatter2;

    *fit = fit_lines(t, seen, true);
    if (dof > 0 && scatter2 > 0.0) {
        judged2 = ((double)dof * scatter2 + square(SB_UNSEEN_SCATTER_CENTS)) / (double)(dof + 1);
    }
    const double judged[SB_KINDS] = {judged2, judged2};
    const double std_error = sqrt(fit_lines(t, judged, true).slope_variance);
    return fabs(fit->slope) > significant_ratio(scatter2, dof) * std_error;
}

/* --- in and out ---------------------------------------------------------------------- */

/* `first` serves as the reference of times and cents. The comparisons fail on NaN. */
static bool valid_pluck(const sb_pluck *p, const sb_pluck *first) {
    return fabs(p->time_s - first->time_s) <= MAX_SPAN_S && p->hz >= MIN_HZ && p->hz <= MAX_HZ &&
           isfinite(p->std_error_cents) && p->std_error_cents > 0.0 &&
           p->common_std_error_cents >= 0.0 && p->common_std_error_cents <= p->std_error_cents;
}

static sb_status check(const sb_pluck plucks[], size_t n, const sb_interval_options *options) {
    size_t fretted = 0;

    if (n > SB_MAX_PLUCKS || !(fabs(options->interval_cents) <= MAX_INTERVAL_CENTS) ||
        !(options->hand_scatter_cents >= 0.0 &&
          options->hand_scatter_cents <= MAX_INTERVAL_CENTS)) {
        return SB_E_RANGE;
    }
    for (size_t i = 0; i < n; i++) {
        if (!valid_pluck(&plucks[i], &plucks[0])) {
            return SB_E_RANGE;
        }
        fretted += plucks[i].fretted ? 1U : 0U;
    }
    return fretted > 0 && fretted < n ? SB_OK : SB_E_TOO_SHORT;
}

/* Cents are counted from the first pluck, a true interval higher for fretted ones, so that
 * the difference of the two levels is the error itself. */
static void read_plucks(const sb_pluck plucks[], size_t n, const sb_interval_options *options,
                        sb_pluck_points *t) {
    t->n = n;
    for (size_t i = 0; i < n; i++) {
        const double std_error =
            fmin(fmax(plucks[i].std_error_cents, MIN_STD_ERROR_CENTS), MAX_STD_ERROR_CENTS);
        t->points[i] = (sb_pluck_point){
            .time_s = plucks[i].time_s - plucks[0].time_s,
            .cents = sb_cents_between(plucks[0].hz, plucks[i].hz) -
                     (plucks[i].fretted ? options->interval_cents : 0.0),
            .variance = square(std_error) + square(options->hand_scatter_cents),
            .kind = plucks[i].fretted ? SB_KIND_FRETTED : SB_KIND_OPEN,
        };
    }
}

/* Writes the levels at the mean time of all plucks and their difference. */
static void write_levels(const line_fit *fit, double reference_hz, double interval_cents,
                         sb_interval *out) {
    const double *w = fit->weight;
    const double *time_s = fit->mean_time_s;
    const double now =
        (w[SB_KIND_OPEN] * time_s[SB_KIND_OPEN] + w[SB_KIND_FRETTED] * time_s[SB_KIND_FRETTED]) /
        (w[SB_KIND_OPEN] + w[SB_KIND_FRETTED]);
    double level[SB_KINDS];
    double variance[SB_KINDS];

    for (int k = 0; k < SB_KINDS; k++) {
        level[k] = fit->mean_cents[k] + fit->slope * (now - time_s[k]);
        variance[k] = 1.0 / w[k] + fit->slope_variance * square(now - time_s[k]);
    }
    out->open_hz = reference_hz * sb_ratio_from_cents(level[SB_KIND_OPEN]);
    out->fretted_hz = reference_hz * sb_ratio_from_cents(level[SB_KIND_FRETTED] + interval_cents);
    out->open_std_error_cents = sqrt(variance[SB_KIND_OPEN]);
    out->fretted_std_error_cents = sqrt(variance[SB_KIND_FRETTED]);
    out->error_cents = level[SB_KIND_FRETTED] - level[SB_KIND_OPEN];
    out->std_error_cents =
        sqrt(1.0 / w[SB_KIND_OPEN] + 1.0 / w[SB_KIND_FRETTED] +
             fit->slope_variance * square(time_s[SB_KIND_FRETTED] - time_s[SB_KIND_OPEN]));
}

static void write_drift(const line_fit *fit, bool drifts, sb_interval *out) {
    out->drift_fitted = true;
    out->drift_significant = drifts;
    out->drift_cents_per_min = 60.0 * fit->slope;
    out->drift_std_error = 60.0 * sqrt(fit->slope_variance);
}

/* Fits the model that the plucks bear out, and writes it. */
static void write_interval(const sb_pluck_points *t, double reference_hz, double interval_cents,
                           sb_interval *out) {
    line_fit drifting = {.slope = 0.0};
    double scatter2[SB_KINDS];

    const bool drifts = sb_plucks_spread(t) && find_drift(t, &drifting);
    const bool in_turn = sb_plucks_in_turn(t);
    level_scatter2(t, scatter2);
    const line_fit level = fit_lines(t, scatter2, false);
    write_levels(drifts && in_turn ? &drifting : &level, reference_hz, interval_cents, out);
    if (in_turn) {
        write_drift(&drifting, drifts, out);
    } else if (drifts) {
        const double gap_s = level.mean_time_s[SB_KIND_FRETTED] - level.mean_time_s[SB_KIND_OPEN];
        out->std_error_cents = hypot(out->std_error_cents, drifting.slope * gap_s);
    }
}

/* By how much the variance of a kind's weighted mean is larger since its plucks share a part of
 * their errors: that part is averaged, not its square over their number. */
static double shared_variance(const sb_pluck plucks[], const sb_pluck_points *t, int kind) {
    double weights = 0.0, sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *point = &t->points[i];
        if (point->out || point->kind != kind) {
            continue;
        }
        const double common = plucks[i].common_std_error_cents / point->variance;
        weights += 1.0 / point->variance;
        sum += common;
        squares += square(common);
    }
    return weights > 0.0 ? (square(sum) - squares) / square(weights) : 0.0;
}

static void add_shared(const sb_pluck plucks[], const sb_pluck_points *t, sb_interval *out) {
    const double open = shared_variance(plucks, t, SB_KIND_OPEN);
    const double fretted = shared_variance(plucks, t, SB_KIND_FRETTED);
    out->open_std_error_cents = sqrt(square(out->open_std_error_cents) + open);
    out->fretted_std_error_cents = sqrt(square(out->fretted_std_error_cents) + fretted);
    out->std_error_cents = sqrt(square(out->std_error_cents) + open + fretted);
}

sb_status sb_interval_combine(sb_pluck plucks[], size_t n, const sb_interval_options *options,
                              sb_interval *out) {
    sb_pluck_points t = {.n = 0};

    const sb_status status = check(plucks, n, options);
    if (status != SB_OK) {
        return status;
    }
    read_plucks(plucks, n, options, &t);
    sb_plucks_drop_outliers(&t);
    *out = (sb_interval){.n_open = sb_plucks_count(&t, SB_KIND_OPEN),
                         .n_fretted = sb_plucks_count(&t, SB_KIND_FRETTED)};
    write_interval(&t, plucks[0].hz, options->interval_cents, out);
    add_shared(plucks, &t, out);
    for (size_t i = 0; i < n; i++) {
        plucks[i].outlier = t.points[i].out;
    }
    return SB_OK;
}
