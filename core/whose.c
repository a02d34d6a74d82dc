#include "core/whose.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

/* Spreads in cents and costs in nats. Detunings and octave errors are of the size that
 * instruments come in with (common practice, no source); the rest is chosen so that chance
 * alone rarely outweighs an octave that fits. */
#define REFERENCE_HZ   16.0
#define DETUNE_SPREAD  45.0 /* of a string not heard yet, about what the others are out */
#define KEPT_SPREAD    5.0  /* of a string that was not retuned */
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
#define LIKELY_SHARE   0.8   /* at the end this much will do */
#define STATES         (2 * SB_STRINGS_MAX + 1)
#define LONELY_COST    (double)INFINITY

typedef struct {
    double cost;
    size_t parent;
    int8_t answer;
} branch;

static double cents_of(double hz) {
    return sb_cents_between(REFERENCE_HZ, hz);
}

void sb_whose_begin(sb_whose *whose, const sb_instrument *instrument, int fret, double a4_hz) {
    memset(whose, 0, sizeof *whose);
    whose->n_strings = instrument->n_strings;
    whose->interval_cents = 100.0 * fret;
    for (size_t i = 0; i < SB_STRINGS_MAX; i++) {
        whose->paths[0].open[i] = whose->paths[0].fretted[i] = (double)NAN;
    }
    for (size_t i = 0; i < whose->n_strings; i++) {
        whose->target[i] = cents_of(sb_note_hz(instrument->strings[i].semitone, a4_hz));
    }
    whose->n_paths = 1;
}

void sb_whose_only(sb_whose *whose, size_t string) {
    whose->only = string <= whose->n_strings ? string : 0;
}

void sb_whose_known(sb_whose *whose, size_t string, double open_hz) {
    const double cents = cents_of(open_hz);

    if (string < 1 || string > whose->n_strings ||
        !(fabs(cents - whose->target[string - 1]) <= SB_WHOSE_DETUNE_CENTS)) {
        return;
    }
    for (size_t p = 0; p < whose->n_paths; p++) {
        whose->paths[p].open[string - 1] = cents;
    }
}

/* --- what a note costs --------------------------------------------------------------- */

static double normal_cost(double departure, double spread) {
    return 0.5 * departure * departure / (spread * spread) + log(spread);
}

static double retuned_cost(double detune) {
    return normal_cost(detune, RETUNED_SPREAD) + RETUNED_COST;
}

static double kept_cost(double departure) {
    return normal_cost(departure, KEPT_SPREAD) + KEPT_COST;
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

static double answer_cost(const sb_whose *w, const sb_whose_path *path, int answer, double cents) {
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

/* --- paths --------------------------------------------------------------------------- */

/* Puts a branch among the cheapest, which are in ascending order; of equal ones the earlier
 * stays first. */
static void offer(branch best[], size_t *n, branch b) {
    size_t at = *n;

    if (*n == SB_WHOSE_PATHS) {
        if (!(b.cost < best[*n - 1].cost)) {
            return;
        }
        at--;
    } else {
        (*n)++;
    }
    for (; at > 0 && best[at - 1].cost > b.cost; at--) {
        best[at] = best[at - 1];
    }
    best[at] = b;
}

static size_t grow(const sb_whose *w, double cents, branch best[SB_WHOSE_PATHS]) {
    size_t n = 0;

    for (size_t p = 0; p < w->n_paths; p++) {
        for (int answer = -(int)w->n_strings; answer <= (int)w->n_strings; answer++) {
            const double cost = w->paths[p].cost + answer_cost(w, &w->paths[p], answer, cents);
            if (isfinite(cost)) {
                offer(best, &n, (branch){cost, p, (int8_t)answer});
            }
        }
    }
    return n;
}

static void note_open(const sb_whose *w, sb_whose_path *path, size_t i, double cents) {
    if (isnan(path->open[i])) {
        path->detune_sum += cents - w->target[i];
        path->n_detuned++;
    } else if (fabs(cents - path->open[i]) > 4.0 * KEPT_SPREAD) {
        path->fretted[i] = (double)NAN; /* retuned */
    }
    path->open[i] = cents;
}

static void follow(const sb_whose *w, sb_whose_path *path, const branch *b, double cents) {
    const size_t string = (size_t)(b->answer > 0 ? b->answer : -b->answer);

    path->cost = b->cost;
    path->answer[w->n_waiting] = b->answer;
    if (string == 0) {
        return;
    }
    path->last = (int8_t)string;
    if (b->answer > 0) {
        note_open(w, path, string - 1, cents);
    } else {
        path->fretted[string - 1] = cents;
    }
}

static void take_cheapest_cost_out(sb_whose *w) {
    const double least = w->paths[0].cost;

    for (size_t p = 0; p < w->n_paths; p++) {
        w->paths[p].cost -= least;
    }
}

/* Takes waiting note k off the list, and out of the paths, those only that have `answer`. */
static void give_out(sb_whose *w, size_t k, bool agree, int8_t answer) {
    size_t kept = 0;

    for (size_t p = 0; p < w->n_paths; p++) {
        sb_whose_path *path = &w->paths[p];
        if (agree && path->answer[k] != answer) {
            continue;
        }
        memmove(&path->answer[k], &path->answer[k + 1], w->n_waiting - k - 1);
        if (kept != p) {
            w->paths[kept] = *path;
        }
        kept++;
    }
    w->n_paths = kept;
    memmove(&w->waiting[k], &w->waiting[k + 1], (w->n_waiting - k - 1) * sizeof *w->waiting);
    w->n_waiting--;
    take_cheapest_cost_out(w);
}

size_t sb_whose_hear(sb_whose *whose, double hz) {
    branch best[SB_WHOSE_PATHS];
    sb_whose_path old[SB_WHOSE_PATHS];
    const double cents = cents_of(hz);

    if (whose->n_waiting == SB_WHOSE_WAITING) {
        give_out(whose, 0, false, 0); /* never asked for: forgotten */
    }
    const size_t n = grow(whose, cents, best);
    memcpy(old, whose->paths, whose->n_paths * sizeof *old);
    for (size_t p = 0; p < n; p++) {
        whose->paths[p] = old[best[p].parent];
        follow(whose, &whose->paths[p], &best[p], cents);
    }
    whose->n_paths = n;
    take_cheapest_cost_out(whose);
    whose->waiting[whose->n_waiting++] = whose->heard;
    return whose->heard++;
}

/* --- answers ------------------------------------------------------------------------- */

/* The likeliest answer to waiting note k, and its share of the likelihood. */
static int8_t likeliest(const sb_whose *w, size_t k, double *share) {
    double weight[STATES] = {0}, all = 0.0;
    size_t best = SB_STRINGS_MAX;

    for (size_t p = 0; p < w->n_paths; p++) {
        const double likelihood = exp(-w->paths[p].cost);
        weight[w->paths[p].answer[k] + SB_STRINGS_MAX] += likelihood;
        all += likelihood;
    }
    for (size_t s = 0; s < STATES; s++) {
        if (weight[s] > weight[best]) {
            best = s;
        }
    }
    *share = weight[best] / all;
    return (int8_t)((int)best - SB_STRINGS_MAX);
}

static sb_whose_answer answer_of(size_t note, int8_t answer) {
    return (sb_whose_answer){
        .note = note, .string = (size_t)(answer > 0 ? answer : -answer), .fretted = answer < 0};
}

/* Whether strings of the same note are all that is in doubt: no further note will tell. */
static bool unison(const sb_whose *w, size_t k) {
    const int8_t first = w->paths[0].answer[k];

    for (size_t p = 1; p < w->n_paths; p++) {
        const int8_t other = w->paths[p].answer[k];
        if (w->paths[p].cost > 4.0 || other == first) {
            continue;
        }
        if (first == 0 || other == 0 || (first < 0) != (other < 0) ||
            w->target[(first < 0 ? -first : first) - 1] !=
                w->target[(other < 0 ? -other : other) - 1]) {
            return false;
        }
    }
    return true;
}

bool sb_whose_next(sb_whose *whose, sb_whose_answer *answer) {
    for (size_t k = 0; k < whose->n_waiting; k++) {
        double share = 0.0;
        int8_t best = likeliest(whose, k, &share);
        const bool full = k == 0 && whose->n_waiting == SB_WHOSE_WAITING;
        const bool even = share < SB_WHOSE_SURE && unison(whose, k);
        if (even) {
            best = whose->paths[0].answer[k];
        }
        if (share < SB_WHOSE_SURE && !even && !whose->finished && !full) {
            continue;
        }
        const bool decided = share >= LIKELY_SHARE || even;
        *answer = answer_of(whose->waiting[k], decided ? best : 0);
        answer->unsure = !decided;
        give_out(whose, k, decided, best);
        return true;
    }
    return false;
}

void sb_whose_finish(sb_whose *whose) {
    whose->finished = true;
}

sb_whose_answer sb_whose_guess(const sb_whose *whose, double hz) {
    const double cents = cents_of(hz);
    int best = 0;
    double least = (double)INFINITY;

    for (int answer = -(int)whose->n_strings; answer <= (int)whose->n_strings; answer++) {
        const double cost = answer_cost(whose, &whose->paths[0], answer, cents);
        if (cost < least) {
            least = cost;
            best = answer;
        }
    }
    return answer_of(whose->heard, (int8_t)best);
}
