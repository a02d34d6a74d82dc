#include "core/whose_cost.h"

#include <math.h>

/* Spreads in cents and costs in nats. Detunings and octave errors are of the size that
 * instruments come in with (common practice, no source); the rest is chosen so that chance
 * alone rarely outweighs an octave that fits. */
#define DETUNE_SPREAD  45.0 /* of a string not heard yet, about what the others are out */
#define RETUNED_SPREAD 60.0
#define OCTAVE_SPREAD  15.0
#define OCTAVE_MEAN    4.0
#define KEPT_COST      0.2
#define RETUNED_COST   2.0
#define FRETTED_COST   0.5
#define FIRST_FRETTED  1.0 /* a string is plucked open first, as a rule */
#define SAME_STRING    0.3
#define OTHER_STRING   2.5
#define NONE_COST      13.0
#define MOST_ERROR     110.0 /* of a fretted note from the octave of its own open string */
#define LONELY_COST    (double)INFINITY

static double normal_cost(double departure, double spread) {
    return 0.5 * departure * departure / (spread * spread) + log(spread);
}

static double retuned_cost(double detune) {
    return normal_cost(detune, RETUNED_SPREAD) + RETUNED_COST;
}

static double kept_cost(double departure) {
    return normal_cost(departure, SB_WHOSE_KEPT_CENTS) + KEPT_COST;
}

/* What the strings heard so far are out on the whole, drawn towards nothing. */
static double common_detune(const sb_whose_path *path) {
    return path->detune_sum / (path->n_detuned + 1);
}

static double open_cost(const sb_whose *w, const sb_whose_path *path, size_t i, double cents) {
    const double detune = cents - w->target[i];

    if (!(fabs(detune) <= SB_WHOSE_DETUNE_CENTS)) {
        return LONELY_COST;
    }
    if (isnan(path->open[i])) {
        const double cost = normal_cost(detune - common_detune(path), DETUNE_SPREAD);
        const double error = path->fretted[i] - w->interval_cents - cents; /* NaN if not heard */
        return fmin(cost, fabs(error) <= MOST_ERROR
                              ? normal_cost(error - OCTAVE_MEAN, OCTAVE_SPREAD)
                              : LONELY_COST);
    }
    return fmin(kept_cost(cents - path->open[i]), retuned_cost(detune));
}

static double fretted_cost(const sb_whose *w, const sb_whose_path *path, size_t i, double cents) {
    const double detune = cents - w->interval_cents - w->target[i];
    const double error = cents - w->interval_cents - path->open[i]; /* NaN if not heard */

    if (!(fabs(detune) <= SB_WHOSE_DETUNE_CENTS + MOST_ERROR)) {
        return LONELY_COST;
    }
    if (isnan(path->open[i])) {
        return fabs(detune) <= SB_WHOSE_DETUNE_CENTS
                   ? normal_cost(detune - OCTAVE_MEAN - common_detune(path), DETUNE_SPREAD) +
                         FIRST_FRETTED
                   : LONELY_COST;
    }
    double cost = retuned_cost(detune) + FRETTED_COST;
    if (fabs(error) <= MOST_ERROR) {
        cost = fmin(cost, normal_cost(error - OCTAVE_MEAN, OCTAVE_SPREAD) + FRETTED_COST);
    }
    return isnan(path->fretted[i]) ? cost : fmin(cost, kept_cost(cents - path->fretted[i]));
}

double sb_whose_cost(const sb_whose *w, const sb_whose_path *path, int answer, double cents) {
    if (answer == 0) {
        return NONE_COST;
    }
    const size_t string = (size_t)(answer > 0 ? answer : -answer);
    if (w->only != 0 && string != w->only) {
        return LONELY_COST;
    }
    const double change = path->last == 0                ? 0.0
                          : (size_t)path->last == string ? SAME_STRING
                                                         : OTHER_STRING;
    return change + (answer > 0 ? open_cost(w, path, string - 1, cents)
                                : fretted_cost(w, path, string - 1, cents));
}
