#include "core/paired.h"

#include <math.h>
#include <stdbool.h>

#include "core/chance.h"
#include "core/order.h"
#include "core/pitch.h"

enum { ROUNDS = 8 };

static const double FAR_SIGMAS = 4.0, FAR_LEAST_CENTS = 0.05;
static const double OUTSIDE_TWO = 0.04550026389635842; /* of a normal distribution */

typedef struct {
    double cents, variance;         /* e_k; of both partials' frequencies */
    double by_open_b, by_fretted_b; /* what one standard error of B does to e_k */
    bool left_out;
} pair;

/* --- the pairs ----------------------------------------------------------------------- */

static bool sound(const sb_paired_note *note) {
    if (!(note->inharmonicity >= 0) || !isfinite(note->inharmonicity) ||
        !(note->inharmonicity_std_error >= 0) || !isfinite(note->inharmonicity_std_error))
        return false;
    for (size_t i = 0; i < note->n; i++)
        if (note->partials[i].number < 1 || !(note->partials[i].hz > 0) ||
            !isfinite(note->partials[i].hz))
            return false;
    return true;
}

static const sb_paired_partial *find(const sb_paired_note *note, int number) {
    for (size_t i = 0; i < note->n; i++)
        if (note->partials[i].number == number)
            return &note->partials[i];
    return NULL;
}

static bool known(const sb_paired_partial *p) {
    return p && p->std_error_cents > 0 && isfinite(p->std_error_cents);
}

/* How far partial n stands above n times the sounding fundamental, in cents, and its slope in B. */
static double stretch(double b, double n2) {
    return 0.5 * SB_CENTS_PER_LN * log((1 + b * n2) / (1 + b));
}

static double stretch_slope(double b, double n2) {
    return 0.5 * SB_CENTS_PER_LN * (n2 / (1 + b * n2) - 1 / (1 + b));
}

static pair pair_of(const sb_paired_note *open, const sb_paired_note *fretted,
                    const sb_paired_partial *below, const sb_paired_partial *above) {
    const double bo = open->inharmonicity, bf = fretted->inharmonicity;
    const double k2 = (double)above->number * above->number;
    return (pair){
        .cents = sb_cents_between(below->hz, above->hz) - stretch(bf, k2) + stretch(bo, 4 * k2),
        .variance = below->std_error_cents * below->std_error_cents +
                    above->std_error_cents * above->std_error_cents,
        .by_open_b = stretch_slope(bo, 4 * k2) * open->inharmonicity_std_error,
        .by_fretted_b = -stretch_slope(bf, k2) * fretted->inharmonicity_std_error,
    };
}

static size_t gather(const sb_paired_note *open, const sb_paired_note *fretted, pair pairs[]) {
    size_t n = 0;
    for (size_t i = 0; i < fretted->n && n < SB_PAIRS_MAX; i++) {
        const sb_paired_partial *above = &fretted->partials[i];
        const sb_paired_partial *below =
            above->number < 1000000 ? find(open, 2 * above->number) : NULL;
        if (known(above) && known(below))
            pairs[n++] = pair_of(open, fretted, below, above);
    }
    return n;
}

/* --- their mean ---------------------------------------------------------------------- */

static double own_variance(const pair *p) {
    return p->variance + p->by_open_b * p->by_open_b + p->by_fretted_b * p->by_fretted_b;
}

static size_t kept(const pair pairs[], size_t n) {
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += !pairs[i].left_out;
    return count;
}

static double mean(const pair pairs[], size_t n, double scatter) {
    double weights = 0, sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (pairs[i].left_out)
            continue;
        const double weight = 1 / (own_variance(&pairs[i]) + scatter * scatter);
        weights += weight;
        sum += weight * pairs[i].cents;
    }
    return sum / weights;
}

/* Chi-squared of the pairs over its expectation, less 1. */
static double excess(const pair pairs[], size_t n, double scatter) {
    const double centre = mean(pairs, n, scatter);
    double chi2 = 0;
    for (size_t i = 0; i < n; i++)
        if (!pairs[i].left_out)
            chi2 += (pairs[i].cents - centre) * (pairs[i].cents - centre) /
                    (own_variance(&pairs[i]) + scatter * scatter);
    return chi2 / (double)(kept(pairs, n) - 1) - 1;
}

static double scatter_of(const pair pairs[], size_t n) {
    double low = 0, high = 0.01;
    if (excess(pairs, n, 0) <= 0)
        return 0;
    while (excess(pairs, n, high) > 0 && high < 1e6)
        high *= 2;
    for (int i = 0; i < 40; i++) {
        const double middle = 0.5 * (low + high);
        if (excess(pairs, n, middle) > 0)
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* So much wider than the normal distribution is Student's, where n tell the scatter. */
static double few(size_t n) {
    return sb_student_limit(OUTSIDE_TWO, (int)n - 1) / 2;
}

static size_t leave_out_far(pair pairs[], size_t n, double centre, double scatter) {
    const double sigmas = FAR_SIGMAS * few(kept(pairs, n));
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        const double limit = sigmas * sqrt(own_variance(&pairs[i]) + scatter * scatter);
        if (pairs[i].left_out || fabs(pairs[i].cents - centre) <= fmax(limit, FAR_LEAST_CENTS))
            continue;
        pairs[i].left_out = true;
        count++;
    }
    return count;
}

static void leave_out_robustly(pair pairs[], size_t n) {
    double values[SB_PAIRS_MAX];
    for (size_t i = 0; i < n; i++)
        values[i] = pairs[i].cents;
    const double centre = sb_median(values, n);
    for (size_t i = 0; i < n; i++)
        values[i] = fabs(pairs[i].cents - centre);
    (void)leave_out_far(pairs, n, centre, SB_MAD_TO_STD * sb_median(values, n));
}

static double mean_std(const pair pairs[], size_t n, double scatter) {
    double weights = 0, squares = 0, open_b = 0, fretted_b = 0;
    for (size_t i = 0; i < n; i++) {
        if (pairs[i].left_out)
            continue;
        const double weight = 1 / (own_variance(&pairs[i]) + scatter * scatter);
        weights += weight;
        squares += weight * weight * (pairs[i].variance + scatter * scatter);
        open_b += weight * pairs[i].by_open_b;
        fretted_b += weight * pairs[i].by_fretted_b;
    }
    const double student = scatter > 0 ? few(kept(pairs, n)) : 1;
    return sqrt(student * student * squares + open_b * open_b + fretted_b * fretted_b) / weights;
}

sb_status sb_paired_error(const sb_paired_note *open, const sb_paired_note *fretted,
                          sb_paired *out) {
    pair pairs[SB_PAIRS_MAX];
    if (!sound(open) || !sound(fretted))
        return SB_E_RANGE;
    const size_t n = gather(open, fretted, pairs);
    if (n < SB_PAIRS_LEAST)
        return SB_E_TOO_SHORT;
    leave_out_robustly(pairs, n);
    double scatter = 0;
    for (int round = 0; round < ROUNDS && kept(pairs, n) >= SB_PAIRS_LEAST; round++) {
        scatter = scatter_of(pairs, n);
        if (leave_out_far(pairs, n, mean(pairs, n, scatter), scatter) == 0)
            break;
    }
    const size_t used = kept(pairs, n);
    if (used < SB_PAIRS_LEAST)
        return SB_E_TOO_SHORT;
    *out = (sb_paired){.error_cents = mean(pairs, n, scatter),
                       .std_error_cents = mean_std(pairs, n, scatter),
                       .scatter_cents = scatter,
                       .pairs = used,
                       .left_out = n - used};
    return SB_OK;
}
