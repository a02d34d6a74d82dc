#include "audio/series.h"

#include <math.h>

#include "core/order.h"
#include "core/pitch.h"

enum { START_POINTS = 16, ROUNDS = 8, POINTS_MAX = 64 };

static const double MEDIAN_CHI_SQUARE = 0.455; /* of one degree of freedom */
static const double USUAL_SCATTER_CENTS = 0.03;
/* The noise alone lets partials depart so far beyond their errors, by chance. */
static const double SCATTER_SIGMAS = 1.5;
static const double PULLED_SIGMAS = 4.0, PULLED_LEAST_CENTS = 0.05;

double sb_series_hz(double f0_hz, double inharmonicity, int number) {
    return number * f0_hz * sqrt(fmax(1.0 + inharmonicity * number * number, 0.01));
}

int sb_series_nearest(double f0_hz, double inharmonicity, double hz) {
    double q = pow(hz / f0_hz, 2);
    double n2 = 2.0 * q / (1.0 + sqrt(fmax(1.0 + 4.0 * inharmonicity * q, 0.0)));
    return (int)fmin(fmax(round(sqrt(n2)), 1.0), 1e6);
}

/* Indices of the usable points with the smallest standard errors. */
static size_t best_points(const sb_series_point points[], size_t n, size_t chosen[]) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (points[i].left_out)
            continue;
        size_t at = kept < START_POINTS ? kept : START_POINTS;
        while (at > 0 && points[chosen[at - 1]].std_cents > points[i].std_cents) {
            if (at < START_POINTS)
                chosen[at] = chosen[at - 1];
            at--;
        }
        if (at < START_POINTS)
            chosen[at] = i;
        if (kept < START_POINTS)
            kept++;
    }
    return kept;
}

/* Of (f/n)^2 from the line level (1 + b n^2), relative: twice the departure, and no logarithm
 * for a hundred pairs. `most` if it is no less: it is not where fewer than half of them are. */
static double median_departure(const double x[], const double y[], size_t kept, double level,
                               double b, double most) {
    double sizes[START_POINTS];
    size_t less = 0;
    for (size_t i = 0; i < kept; i++) {
        sizes[i] = fabs(y[i] / (level * (1.0 + b * x[i])) - 1.0);
        less += sizes[i] < most;
    }
    return 2 * less < kept ? most : sb_median(sizes, kept);
}

static bool plausible(double level, double slope) {
    return level > 0 && slope / level > -2e-4 && slope / level < 6e-3;
}

static void robust_start(const sb_series_point points[], size_t n, double *ln_f0, double *b) {
    size_t chosen[START_POINTS] = {0}, kept = best_points(points, n, chosen);
    const sb_series_point *first = &points[chosen[0]];
    double x[START_POINTS], y[START_POINTS], best = HUGE_VAL;
    *b = kept < 3 ? SB_SERIES_PRIOR_B : 0.0;
    *ln_f0 = log(first->hz / sb_series_hz(1.0, *b, first->number));
    if (kept < 3)
        return;
    for (size_t i = 0; i < kept; i++) {
        const sb_series_point *point = &points[chosen[i]];
        x[i] = (double)point->number * point->number;
        y[i] = pow(point->hz / point->number, 2);
    }
    for (size_t i = 0; i < kept; i++) {
        for (size_t j = i + 1; j < kept; j++) {
            /* f0 and B through two points exactly: y = (f/n)^2 is linear in x = n^2 */
            double slope = (y[j] - y[i]) / (x[j] - x[i]), level = y[i] - slope * x[i];
            if (!plausible(level, slope))
                continue;
            double size = median_departure(x, y, kept, level, slope / level, best);
            if (size < best)
                best = size, *ln_f0 = 0.5 * log(level), *b = slope / level;
        }
    }
}

/* Weighted normal equations in (ln f0, B), residuals in ln units. */
struct system {
    double a00, a01, a11, b0, b1;
};

static double total_variance(const sb_series_point *point, double scatter) {
    return point->std_cents * point->std_cents + scatter * scatter;
}

double sb_series_slope(int number, double inharmonicity) {
    double x = (double)number * number;
    return 0.5 * x / fmax(1.0 + inharmonicity * x, 0.01);
}

static struct system assemble(const sb_series_point points[], size_t n, double b, double scatter) {
    double prior = 1.0 / (SB_SERIES_PRIOR_B_STD * SB_SERIES_PRIOR_B_STD);
    struct system s = {0, 0, prior, 0, prior * (SB_SERIES_PRIOR_B - b)};
    for (size_t i = 0; i < n; i++) {
        if (points[i].left_out)
            continue;
        double w = SB_CENTS_PER_LN * SB_CENTS_PER_LN / total_variance(&points[i], scatter);
        double g = sb_series_slope(points[i].number, b);
        double r = points[i].departure_cents / SB_CENTS_PER_LN;
        s.a00 += w, s.a01 += w * g, s.a11 += w * g * g;
        s.b0 += w * r, s.b1 += w * g * r;
    }
    return s;
}

static void update_departures(sb_series_point points[], size_t n, double ln_f0, double b) {
    double f0_hz = exp(ln_f0);
    for (size_t i = 0; i < n; i++)
        points[i].departure_cents =
            SB_CENTS_PER_LN * log(points[i].hz / sb_series_hz(f0_hz, b, points[i].number));
}

static void improve(sb_series_point points[], size_t n, double scatter, double *ln_f0, double *b) {
    for (int round = 0; round < 3; round++) {
        struct system s = assemble(points, n, *b, scatter);
        double det = s.a00 * s.a11 - s.a01 * s.a01;
        *ln_f0 += (s.a11 * s.b0 - s.a01 * s.b1) / det;
        *b += (s.a00 * s.b1 - s.a01 * s.b0) / det;
        update_departures(points, n, *ln_f0, *b);
    }
}

/* The part of a point's variance v that the fit does not take up. */
static double left_free(const sb_series_point *point, const struct system *s, double b, double v) {
    double g = sb_series_slope(point->number, b), w = SB_CENTS_PER_LN * SB_CENTS_PER_LN / v;
    double det = s->a00 * s->a11 - s->a01 * s->a01;
    return 1.0 - w * (s->a11 - 2.0 * g * s->a01 + g * g * s->a00) / det;
}

/* Slope of the restricted likelihood in the variance of the scatter, up to a factor: falls
 * through zero at its best value. A partial counts by the square of its weight, so those of
 * large error have no say in a scatter that is smaller. */
static double excess(const sb_series_point points[], size_t n, double b, double scatter) {
    struct system s = assemble(points, n, b, scatter);
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (points[i].left_out)
            continue;
        double v = total_variance(&points[i], scatter);
        double expected = left_free(&points[i], &s, b, v);
        sum += (points[i].departure_cents * points[i].departure_cents / v - expected) / v;
    }
    return sum;
}

/* What that is by chance where there is no scatter, one standard deviation. */
static double chance_excess(const sb_series_point points[], size_t n, double b) {
    struct system s = assemble(points, n, b, 0.0);
    double variance = 0;
    for (size_t i = 0; i < n; i++) {
        double v = total_variance(&points[i], 0.0);
        variance += points[i].left_out ? 0.0 : 2.0 * pow(left_free(&points[i], &s, b, v) / v, 2);
    }
    return sqrt(variance);
}

static double extra_scatter(const sb_series_point points[], size_t n, double b) {
    if (excess(points, n, b, 0.0) <= SCATTER_SIGMAS * chance_excess(points, n, b))
        return 0.0;
    double low = 0, high = 0.01;
    while (excess(points, n, b, high) > 0 && high < 100.0)
        high *= 2.0;
    for (int i = 0; i < 20; i++) {
        double middle = 0.5 * (low + high);
        if (excess(points, n, b, middle) > 0)
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* Does the median departure stay within what the errors and this scatter lead to expect? */
static bool accounts_for(const sb_series_point points[], size_t n, double scatter) {
    double ratios[POINTS_MAX];
    size_t kept = 0;
    for (size_t i = 0; i < n && kept < POINTS_MAX; i++)
        if (!points[i].left_out)
            ratios[kept++] = points[i].departure_cents * points[i].departure_cents /
                             total_variance(&points[i], scatter);
    double free = kept > 2 ? (double)(kept - 2) / (double)kept : 1.0;
    return kept <= 3 || sb_median(ratios, kept) <= MEDIAN_CHI_SQUARE * free;
}

/* Robust scatter beyond the standard errors, for the first rejection. */
static double robust_scatter(const sb_series_point points[], size_t n) {
    double scatter = 0.002;
    if (accounts_for(points, n, 0.0))
        return 0.0;
    while (!accounts_for(points, n, scatter) && scatter < 100.0)
        scatter *= 1.25;
    return scatter;
}

static size_t leave_out_pulled(sb_series_point points[], size_t n, double scatter) {
    size_t kept = 0, left = 0;
    for (size_t i = 0; i < n; i++)
        kept += !points[i].left_out;
    for (size_t i = 0; i < n && kept > 2; i++) {
        double limit = PULLED_SIGMAS * sqrt(total_variance(&points[i], scatter));
        if (points[i].left_out ||
            fabs(points[i].departure_cents) <= fmax(limit, PULLED_LEAST_CENTS))
            continue;
        points[i].left_out = true;
        kept--;
        left++;
    }
    return left;
}

static void report(const sb_series_point points[], size_t n, double ln_f0, double b, double scatter,
                   sb_series_fit *fit) {
    struct system s = assemble(points, n, b, scatter);
    double det = s.a00 * s.a11 - s.a01 * s.a01;
    double g1 = sb_series_slope(1, b); /* ln f1 = ln f0 + ln(1 + B)/2 */
    double c0 = (s.a11 - g1 * s.a01) / det, c1 = (g1 * s.a00 - s.a01) / det;
    fit->f0_hz = exp(ln_f0);
    fit->inharmonicity = b;
    fit->sounding_hz = sb_series_hz(fit->f0_hz, b, 1);
    fit->sounding_std_cents = SB_CENTS_PER_LN * sqrt(fmax(c0 + g1 * c1, 0.0));
    fit->inharmonicity_std = sqrt(fmax(s.a00 / det, 0.0));
    fit->scatter_cents = scatter;
    fit->used = 0;
    for (size_t i = 0; i < n; i++)
        fit->used += !points[i].left_out;
}

/* f0 and B from a start to the best fit, leaving out what is pulled; returns the scatter. */
static double settle(sb_series_point points[], size_t n, double *ln_f0, double *b) {
    update_departures(points, n, *ln_f0, *b);
    double scatter = robust_scatter(points, n);
    leave_out_pulled(points, n, scatter);
    for (int round = 0; round < ROUNDS; round++) {
        improve(points, n, scatter, ln_f0, b);
        scatter = extra_scatter(points, n, *b);
        improve(points, n, scatter, ln_f0, b);
        if (leave_out_pulled(points, n, scatter) == 0)
            break;
    }
    return scatter;
}

/* Did many weak partials outvote few strong ones? Those left out then say more of the pitch
 * than those kept, even with an error of their own that no note's partials are free of. */
static bool outvoted(const sb_series_point points[], const bool barred[], size_t n) {
    double kept = 0, left = 0;
    for (size_t i = 0; i < n; i++) {
        double says = 1.0 / (pow(points[i].std_cents, 2) + pow(USUAL_SCATTER_CENTS, 2));
        if (!barred[i])
            *(points[i].left_out ? &left : &kept) += says;
    }
    return left > kept;
}

/* Through the two surest points. */
static void sure_start(const sb_series_point points[], size_t n, double *ln_f0, double *b) {
    size_t chosen[START_POINTS] = {0};
    (void)best_points(points, n, chosen);
    const sb_series_point *p = &points[chosen[0]], *q = &points[chosen[1]];
    double x = (double)p->number * p->number, y = pow(p->hz / p->number, 2);
    double slope = (pow(q->hz / q->number, 2) - y) / ((double)q->number * q->number - x);
    double level = y - slope * x;
    *b = plausible(level, slope) ? slope / level : SB_SERIES_PRIOR_B;
    *ln_f0 = log(p->hz / sb_series_hz(1.0, *b, p->number));
}

bool sb_series_solve(sb_series_point points[], size_t n, sb_series_fit *fit) {
    bool barred[POINTS_MAX] = {false};
    size_t usable = 0;
    n = n < POINTS_MAX ? n : POINTS_MAX;
    for (size_t i = 0; i < n; i++) {
        barred[i] = points[i].left_out;
        usable += !barred[i];
    }
    if (usable == 0)
        return false;
    double ln_f0, b;
    robust_start(points, n, &ln_f0, &b);
    double scatter = settle(points, n, &ln_f0, &b);
    if (usable >= 3 && outvoted(points, barred, n)) {
        for (size_t i = 0; i < n; i++)
            points[i].left_out = barred[i];
        sure_start(points, n, &ln_f0, &b);
        scatter = settle(points, n, &ln_f0, &b);
    }
    for (size_t i = 0; i < n; i++)
        points[i].pulled = points[i].left_out && !barred[i];
    report(points, n, ln_f0, b, scatter, fit);
    return true;
}
