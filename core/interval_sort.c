#include "core/interval.h"

#include <math.h>

#include "core/pitch.h"

#define SAME_NOTE_CENTS    40.0 /* a drifting string moves less between plucks, a fret more */
#define MIN_INTERVAL_CENTS 50.0 /* below, the two notes would be one group */

/* Octave errors of unset instruments run to tens of cents (14 to 64 on a bare monochord:
 * Varieschi and Gower, Am. J. Phys. 78, 47, 2010, as quoted by others); an error of this
 * size tells against a pair of groups as much as half a note left over does. */
#define USUAL_ERROR_CENTS  30.0
#define LEFT_OVER_COST     2.0
#define USUAL_DETUNE_CENTS 75.0

typedef struct {
    double cents; /* the median note */
    size_t first; /* in ascending order of pitch */
    size_t count;
} group;

typedef struct {
    double cents[SB_MAX_PLUCKS]; /* above the take's first note, ascending */
    size_t origin[SB_MAX_PLUCKS];
    group groups[SB_MAX_PLUCKS];
    size_t n, n_groups;
} sorted_take;

static bool valid(const double hz[], size_t n, double interval_cents, double expected_open_hz) {
    if (n > SB_MAX_PLUCKS || !isfinite(expected_open_hz) || !isfinite(interval_cents) ||
        interval_cents < MIN_INTERVAL_CENTS) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(sb_cents_between(hz[0], hz[i]))) { /* NaN outside their domain */
            return false;
        }
    }
    return true;
}

static void sort_by_pitch(const double hz[], size_t n, sorted_take *t) {
    t->n = n;
    for (size_t i = 0; i < n; i++) {
        const double cents = sb_cents_between(hz[0], hz[i]);
        size_t at = i;
        for (; at > 0 && t->cents[at - 1] > cents; at--) {
            t->cents[at] = t->cents[at - 1];
            t->origin[at] = t->origin[at - 1];
        }
        t->cents[at] = cents;
        t->origin[at] = i;
    }
}

static void form_groups(sorted_take *t) {
    t->n_groups = 0;
    for (size_t i = 0; i < t->n; i++) {
        if (i == 0 || t->cents[i] - t->cents[i - 1] > SAME_NOTE_CENTS) {
            t->groups[t->n_groups++] = (group){.first = i};
        }
        t->groups[t->n_groups - 1].count++;
    }
    for (size_t g = 0; g < t->n_groups; g++) {
        const double *cents = &t->cents[t->groups[g].first];
        const size_t n = t->groups[g].count;
        t->groups[g].cents = 0.5 * (cents[(n - 1) / 2] + cents[n / 2]);
    }
}

/* What tells against taking two groups for the open and the fretted note; infinite where
 * they cannot be. `expected` is NaN where the open note is not known. */
static double pair_cost(const sorted_take *t, const group *open, const group *fretted,
                        double interval_cents, double expected) {
    const double error = fretted->cents - open->cents - interval_cents;
    const double detune = isnan(expected) ? 0.0 : open->cents - expected;

    if (open == fretted || fabs(error) > SB_MAX_DETUNE_CENTS ||
        fabs(detune) > SB_MAX_DETUNE_CENTS) {
        return (double)INFINITY;
    }
    const double left_over = (double)(t->n - open->count - fretted->count);
    return pow(error / USUAL_ERROR_CENTS, 2.0) + pow(detune / USUAL_DETUNE_CENTS, 2.0) +
           LEFT_OVER_COST * left_over;
}

static bool find_pair(const sorted_take *t, double interval_cents, double expected,
                      const group **open, const group **fretted) {
    double least = (double)INFINITY;

    for (size_t o = 0; o < t->n_groups; o++) {
        for (size_t f = 0; f < t->n_groups; f++) {
            const double cost =
                pair_cost(t, &t->groups[o], &t->groups[f], interval_cents, expected);
            if (cost < least) {
                least = cost;
                *open = &t->groups[o];
                *fretted = &t->groups[f];
            }
        }
    }
    return isfinite(least);
}

/* Which of the two notes a take of one pitch holds. */
static int sole_kind(double cents, double interval_cents, double expected) {
    const double from_open = fabs(cents - expected);
    const double from_fretted = fabs(cents - expected - interval_cents);

    if (!(fmin(from_open, from_fretted) <= SB_MAX_DETUNE_CENTS)) { /* NaN too */
        return -1;
    }
    return from_open <= from_fretted ? 0 : 1;
}

static void write_kinds(const sorted_take *t, const group *open, const group *fretted, int kind[]) {
    for (size_t i = 0; i < t->n; i++) {
        kind[i] = -1;
    }
    for (size_t i = 0; i < open->count; i++) {
        kind[t->origin[open->first + i]] = 0;
    }
    for (size_t i = 0; i < fretted->count; i++) {
        kind[t->origin[fretted->first + i]] = 1;
    }
}

sb_status sb_interval_sort(const double hz[], size_t n, double interval_cents,
                           double expected_open_hz, int kind[], int *only_kind) {
    sorted_take t;
    const group *open = NULL;
    const group *fretted = NULL;

    if (!valid(hz, n, interval_cents, expected_open_hz)) {
        return SB_E_RANGE;
    }
    if (n == 0) {
        *only_kind = -1;
        return SB_E_TOO_SHORT;
    }
    const double expected = sb_cents_between(hz[0], expected_open_hz); /* NaN if unknown */
    sort_by_pitch(hz, n, &t);
    form_groups(&t);
    if (t.n_groups == 1) {
        *only_kind = sole_kind(t.groups[0].cents, interval_cents, expected);
        return SB_E_TOO_SHORT;
    }
    if (!find_pair(&t, interval_cents, expected, &open, &fretted)) {
        return SB_E_UNDETERMINED;
    }
    write_kinds(&t, open, fretted, kind);
    return SB_OK;
}
