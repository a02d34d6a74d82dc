#include "core/frets.h"

#include <math.h>
#include <string.h>

#include "core/interval.h"
#include "core/order.h"
#include "core/pitch.h"

/* Errors at the frets run to 30 cents; what tells against an open string, in the same coin. */
#define USUAL_ERROR_CENTS  30.0
#define USUAL_DETUNE_CENTS 75.0
#define NOT_ASKED_COST     2.0
#define LEFT_OVER_COST     4.0
/* Mean cost of a note beyond which it is no such string. Where the open string was not played,
 * the usual nine frets cost 0.89 a note at the least; 1.7 where its note is told. */
#define MEAN_COST_MAX      0.8
#define MEAN_COST_TOLD_MAX 1.2

/* The fret nearest to a note, and what taking it there costs. */
typedef struct {
    int fret; /* -1 = none */
    double cost;
} place;

static bool allowed(const sb_fret_plan *plan, int fret) {
    return fret == 0 || plan->asked[fret] || !plan->only_asked;
}

/* Under half way to the neighbours, allowed or not. */
static double reach(const double cents[], int fret, int last) {
    double gap = 2.0 * SB_FRET_REACH_CENTS;

    for (int f = fret; f <= fret + 1; f++) {
        if (f >= 1 && f <= last) {
            gap = fmin(gap, cents[f] - cents[f - 1]);
        }
    }
    return fmin(SB_FRET_REACH_CENTS, 0.49 * gap);
}

static place place_of(const sb_fret_plan *plan, double cents) {
    place p = {-1, LEFT_OVER_COST};

    for (int f = 0; f <= plan->last; f++) {
        const double off = cents - plan->cents[f];
        if (allowed(plan, f) && fabs(off) <= reach(plan->cents, f, plan->last)) {
            const bool asked = f == 0 || plan->asked[f];
            p.fret = f;
            p.cost = pow(off / USUAL_ERROR_CENTS, 2.0) + (asked ? 0.0 : NOT_ASKED_COST);
        }
    }
    return p;
}

/* What the open string's own pitch tells against it; infinite where it cannot be. */
static double open_cost(const sb_fret_plan *plan, double hz) {
    double least = plan->n_open > 0 ? (double)INFINITY : 0.0;

    for (size_t i = 0; i < plan->n_open; i++) {
        const double off = sb_cents_between(plan->open_hz[i], hz);
        if (fabs(off) <= SB_MAX_DETUNE_CENTS) {
            least = fmin(least, pow(off / USUAL_DETUNE_CENTS, 2.0));
        }
    }
    return least;
}

static double cost_of(const sb_fret_plan *plan, const double hz[], size_t n, double open_hz) {
    double sum = open_cost(plan, open_hz);

    for (size_t i = 0; i < n; i++) {
        sum += place_of(plan, sb_cents_between(open_hz, hz[i])).cost;
    }
    return sum;
}

static bool valid(const double hz[], size_t n, const sb_fret_plan *plan) {
    if (n > SB_FRET_NOTES_MAX || plan->last < 1 || plan->last > SB_FRETS_LAST ||
        plan->cents[0] != 0.0) {
        return false;
    }
    for (int f = 1; f <= plan->last; f++) {
        if (!(plan->cents[f] > plan->cents[f - 1]) || isinf(plan->cents[f])) {
            return false;
        }
    }
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(sb_cents_between(hz[0], hz[i]))) {
            return false;
        }
    }
    return true;
}

static size_t place_all(const sb_fret_plan *plan, const double hz[], size_t n, double open_hz,
                        int fret[]) {
    size_t fretted = 0;

    for (size_t i = 0; i < n; i++) {
        fret[i] = place_of(plan, sb_cents_between(open_hz, hz[i])).fret;
        fretted += fret[i] > 0 ? 1U : 0U;
    }
    return fretted;
}

static double open_median(const double hz[], size_t n, const int fret[]) {
    double open[SB_FRET_NOTES_MAX];
    size_t count = 0;

    for (size_t i = 0; i < n; i++) {
        if (fret[i] == 0) {
            open[count++] = hz[i];
        }
    }
    return sb_median(open, count);
}

sb_status sb_frets_sort(const double hz[], size_t n, const sb_fret_plan *plan, int fret[],
                        double *open_hz) {
    int placed[SB_FRET_NOTES_MAX];
    size_t best = 0;
    double least = (double)INFINITY;

    if (!valid(hz, n, plan)) {
        return SB_E_RANGE;
    }
    if (n == 0) {
        return SB_E_TOO_SHORT;
    }
    for (size_t i = 0; i < n; i++) {
        const double cost = cost_of(plan, hz, n, hz[i]);
        if (cost < least) {
            least = cost;
            best = i;
        }
    }
    const double most = plan->n_open > 0 ? MEAN_COST_TOLD_MAX : MEAN_COST_MAX;
    if (!(least <= most * (double)n)) {
        return SB_E_UNDETERMINED;
    }
    (void)place_all(plan, hz, n, hz[best], placed);
    const double open = open_median(hz, n, placed);
    if (place_all(plan, hz, n, open, placed) == 0) {
        return SB_E_TOO_SHORT;
    }
    memcpy(fret, placed, n * sizeof placed[0]);
    *open_hz = open;
    return SB_OK;
}
