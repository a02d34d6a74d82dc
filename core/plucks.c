#include "core/plucks.h"

#include <math.h>

#include "core/order.h"

#define OUTLIER_OWN_ERRORS  4.0
#define OUTLIER_LEAST_CENTS 1.0
#define LEAST_TURN_S        1e-3 /* no two plucks are nearer */
#define MAX_PAIRS           (SB_MAX_PLUCKS * (SB_MAX_PLUCKS - 1) / 2)

static double square(double x) {
    return x * x;
}

size_t sb_plucks_count(const sb_pluck_points *t, int kind) {
    size_t n = 0;

    for (size_t i = 0; i < t->n; i++) {
        n += t->points[i].kind == kind && !t->points[i].out ? 1U : 0U;
    }
    return n;
}

/* First and last time of each kind. */
typedef struct {
    double first[SB_KINDS], last[SB_KINDS];
} time_range;

static time_range range_of(const sb_pluck_points *t) {
    time_range range = {{(double)INFINITY, (double)INFINITY},
                        {-(double)INFINITY, -(double)INFINITY}};

    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        if (!p->out) {
            range.first[p->kind] = fmin(range.first[p->kind], p->time_s);
            range.last[p->kind] = fmax(range.last[p->kind], p->time_s);
        }
    }
    return range;
}

bool sb_plucks_spread(const sb_pluck_points *t) {
    const time_range r = range_of(t);

    return r.last[SB_KIND_OPEN] - r.first[SB_KIND_OPEN] > LEAST_TURN_S ||
           r.last[SB_KIND_FRETTED] - r.first[SB_KIND_FRETTED] > LEAST_TURN_S;
}

bool sb_plucks_in_turn(const sb_pluck_points *t) {
    const time_range r = range_of(t);

    return r.last[SB_KIND_FRETTED] - r.first[SB_KIND_OPEN] > LEAST_TURN_S &&
           r.last[SB_KIND_OPEN] - r.first[SB_KIND_FRETTED] > LEAST_TURN_S;
}

/* The median of the slopes of all pairs of a kind (Theil and Sen): the drift that most
 * plucks show, however far off the others are. */
static double robust_slope(const sb_pluck_points *t) {
    double slopes[MAX_PAIRS];
    size_t n = 0;

    for (size_t i = 0; i < t->n; i++) {
        for (size_t j = 0; j < i; j++) {
            const sb_pluck_point *p = &t->points[i];
            const sb_pluck_point *q = &t->points[j];
            const double slope = (p->cents - q->cents) / (p->time_s - q->time_s);
            if (p->kind == q->kind && isfinite(slope)) {
                slopes[n++] = slope;
            }
        }
    }
    return n > 0 ? sb_median(slopes, n) : 0.0;
}

/* How far each pluck lies from its kind's median line of one slope. */
typedef struct {
    double off[SB_MAX_PLUCKS]; /* cents */
    double robust[SB_KINDS];   /* robust standard deviation that holds for the kind */
    size_t n_free;             /* departures that it rests on, those of both kinds */
} departures;

/* The lower median of sizes as a standard deviation: it outlives one bad size of two. */
static double robust_deviation(double sizes[], size_t n) {
    if (n == 0) {
        return 0.0;
    }
    sb_sort_ascending(sizes, n);
    return SB_MAD_TO_STD * sizes[(n - 1) / 2];
}

/* Departures of one kind; appends to `sizes` those that are free to vary. The least is the
 * median's own, or one half of the middle pair's gap, the other half of which remains. */
static void depart(const sb_pluck_points *t, int kind, double slope, departures *d,
                   double sizes[SB_MAX_PLUCKS]) {
    double values[SB_MAX_PLUCKS] = {0.0};
    double own[SB_MAX_PLUCKS];
    size_t n = 0;
    size_t n_own = 0;

    for (size_t i = 0; i < t->n; i++) {
        if (t->points[i].kind == kind) {
            d->off[i] = t->points[i].cents - slope * t->points[i].time_s;
            values[n++] = d->off[i];
        }
    }
    sb_sort_ascending(values, n);
    const double middle = 0.5 * (values[(n - 1) / 2] + values[n / 2]);
    for (size_t i = 0; i < n; i++) {
        if (i != (n - 1) / 2) {
            own[n_own++] = fabs(values[i] - middle);
            sizes[d->n_free++] = fabs(values[i] - middle);
        }
    }
    for (size_t i = 0; i < t->n; i++) {
        d->off[i] -= t->points[i].kind == kind ? middle : 0.0;
    }
    d->robust[kind] = robust_deviation(own, n_own);
}

/* A kind is judged by what both kinds scatter, or by its own scatter where that is more:
 * so its middle plucks stay, however steady the other kind was. */
static departures departures_from(const sb_pluck_points *t, double slope) {
    departures d = {.n_free = 0};
    double sizes[SB_MAX_PLUCKS];

    depart(t, SB_KIND_OPEN, slope, &d, sizes);
    depart(t, SB_KIND_FRETTED, slope, &d, sizes);
    const double both = robust_deviation(sizes, d.n_free);
    d.robust[SB_KIND_OPEN] = fmax(d.robust[SB_KIND_OPEN], both);
    d.robust[SB_KIND_FRETTED] = fmax(d.robust[SB_KIND_FRETTED], both);
    return d;
}

/* How many robust standard deviations make an outlier, by the number of free departures
 * that they rest on. Two or three departures may lie close together by chance; the figures
 * are where one normal sample in twenty shows an outlier (by simulation, 40,000 samples
 * each; even counts are the larger as the lower median is taken), but never under 4. */
static double outlier_ratio(size_t n) {
    static const double ratios[] = {22.6, 22.6, 22.6, 4.9, 8.4, 4.7, 6.4, 4.5, 5.3, 4.2, 4.9};
    const size_t known = sizeof ratios / sizeof ratios[0];

    if (n < known) {
        return ratios[n];
    }
    return n < 20 ? 4.4 : 4.0;
}

/* What a pluck's own standard error excuses. */
static double own_limit(const sb_pluck_point *p) {
    return fmax(OUTLIER_OWN_ERRORS * sqrt(p->variance), OUTLIER_LEAST_CENTS);
}

/* How badly lines fit, in squared standard deviations as `scale` has them, each pluck
 * counting no more than an outlier. */
static double misfit(const sb_pluck_points *t, const departures *d, const departures *scale) {
    const double most = square(OUTLIER_OWN_ERRORS);
    double sum = 0.0;

    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        const double unit = fmax(own_limit(p) / OUTLIER_OWN_ERRORS, scale->robust[p->kind]);
        sum += fmin(square(d->off[i] / unit), most);
    }
    return sum;
}

/* Whether a string drifts, or is at least more likely to than to have had far plucks: the
 * misfit must fall by more than one fitted number does by chance (chi-squared, 95 %, one
 * degree of freedom), with few plucks by more, as they tell the scatter less well. */
static bool drift_explains(const sb_pluck_points *t, const departures *still,
                           const departures *drifting) {
    const double gain = misfit(t, still, drifting) - misfit(t, drifting, drifting);
    const double n = (double)t->n;

    return n > 3.0 && gain > 3.84 * n / (n - 3.0);
}

void sb_plucks_drop_outliers(sb_pluck_points *t) {
    bool out[SB_MAX_PLUCKS] = {false};

    departures d = departures_from(t, 0.0);
    double ratio = outlier_ratio(d.n_free);
    if (sb_plucks_in_turn(t)) {
        const departures drifting = departures_from(t, robust_slope(t));
        if (drift_explains(t, &d, &drifting)) {
            d = drifting;
            ratio = fmax(ratio, outlier_ratio(d.n_free - 1)); /* the slope takes one */
        }
    }
    for (size_t i = 0; i < t->n; i++) {
        const sb_pluck_point *p = &t->points[i];
        const double limit = fmax(own_limit(p), ratio * d.robust[p->kind]);
        out[i] = sb_plucks_count(t, p->kind) >= 3 && fabs(d.off[i]) > limit;
    }
    for (size_t i = 0; i < t->n; i++) {
        t->points[i].out = out[i];
    }
}
