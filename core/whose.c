#include "core/whose.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"
#include "core/whose_cost.h"

#define REFERENCE_HZ 16.0
#define LIKELY_SHARE 0.8 /* at the end this much will do */
#define STATES       (2 * SB_STRINGS_MAX + 1)

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
            const double cost = w->paths[p].cost + sb_whose_cost(w, &w->paths[p], answer, cents);
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
    } else if (fabs(cents - path->open[i]) > 4.0 * SB_WHOSE_KEPT_CENTS) {
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
        const double cost = sb_whose_cost(whose, &whose->paths[0], answer, cents);
        if (cost < least) {
            least = cost;
            best = answer;
        }
    }
    return answer_of(whose->heard, (int8_t)best);
}
