#include "tests/support/rounds.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/compromise.h"
#include "core/interval.h"
#include "core/saddle.h"

#define FRET          12
#define APART_S       2.3 /* between plucks */
#define MOST_EACH     8
#define LN2_1200      5.7762265046662109e-4 /* ln 2 / 1200 */
#define LEAST_MOVE_MM 0.05                  /* mm; less is not worth a hand */

const char *rounds_name(rounds_planner planner) {
    static const char *const names[ROUNDS_PLANNERS] = {"rule of thumb", "calculus alone"};
    return names[planner];
}

static void require(bool holds, const char *what) {
    if (!holds) {
        (void)fprintf(stderr, "rounds: %s failed\n", what);
        exit(1);
    }
}

/* A string's error as the program reads it from plucks. */
static sb_interval read_string(const rounds_setting *setting, hands *h, const fretted *f,
                               size_t string) {
    hands_note notes[2 * MOST_EACH];
    sb_pluck plucks[2 * MOST_EACH];
    const sb_interval_options options = {.interval_cents = 100.0 * FRET};
    sb_interval out;
    hands_pluck(h, f, string, setting->plucks, notes);
    for (size_t i = 0; i < 2 * setting->plucks; i++)
        plucks[i] = (sb_pluck){.time_s = APART_S * (double)i,
                               .hz = notes[i].read_hz,
                               .std_error_cents = fmax(h->ear_cents, 1e-3),
                               .fretted = notes[i].fretted};
    require(sb_interval_combine(plucks, 2 * setting->plucks, &options, &out) == SB_OK, "reading");
    return out;
}

/* What a planner says of one string. */
typedef struct {
    bool move; /* it should move; otherwise it is left */
    double needed_mm, cents_per_mm;
} advice;

static advice advise(rounds_planner planner, double scale_mm, const sb_interval *reading) {
    if (planner == ROUNDS_RULE) {
        const double cents = round(reading->error_cents);
        return (advice){cents != 0.0, scale_mm * LN2_1200 * cents, 1.0 / (scale_mm * LN2_1200)};
    }
    const sb_geometry geometry = {.scale_mm = scale_mm, .fret = FRET};
    sb_move move;
    require(sb_saddle_move(&geometry, reading->error_cents, reading->std_error_cents, &move) ==
                SB_OK,
            "move");
    return (advice){sb_verdict_for(reading->error_cents, reading->std_error_cents,
                                   ROUNDS_TRUE_CENTS) == SB_VERDICT_MOVE,
                    move.move_mm, move.cents_per_mm};
}

/* --- a saddle a string --------------------------------------------------------------------- */

static void count_single(const fretted *f, size_t string, int moves, rounds_single *out) {
    const bool is_true = fabs(fretted_error_cents(f, string)) <= ROUNDS_TRUE_CENTS;
    for (int k = moves; k <= ROUNDS_MOST; k++)
        out->true_after[k] += is_true ? 1U : 0U;
}

static void uncount_single(const fretted *f, size_t string, int moves, rounds_single *out) {
    const bool is_true = fabs(fretted_error_cents(f, string)) <= ROUNDS_TRUE_CENTS;
    for (int k = moves; k <= ROUNDS_MOST; k++)
        out->true_after[k] -= is_true ? 1U : 0U;
}

static void set_string(const rounds_setting *setting, hands *h, fretted *f, size_t string,
                       rounds_single *out) {
    count_single(f, string, 0, out);
    for (int moves = 0; moves < ROUNDS_MOST; moves++) {
        const sb_interval reading = read_string(setting, h, f, string);
        const advice a = advise(setting->planner, f->scale_mm, &reading);
        if (!a.move)
            break;
        uncount_single(f, string, moves + 1, out);
        (void)hands_move(h, f, fretted_saddle_of(f, string), 0, a.needed_mm);
        hands_tune(h, f, string);
        count_single(f, string, moves + 1, out);
        out->moves++;
    }
    const double left = fretted_error_cents(f, string);
    out->strings++;
    out->squares += left * left;
    out->worst_cents = fmax(out->worst_cents, fabs(left));
}

/* An instrument in tune in the setting's hands; exact hands find no play in its screws. */
static fretted begin(const rounds_setting *setting, fretted_kind kind, size_t k, hands *h) {
    prng rng = prng_seeded(setting->seed + 7919 * k + 101 * (uint64_t)kind);
    fretted f = fretted_random(kind, &rng);
    *h = setting->hands;
    h->rng = rng;
    for (size_t i = 0; i < f.n_strings; i++)
        hands_tune(h, &f, i);
    for (size_t i = 0; h->move_mm == 0.0 && i < f.n_saddles; i++)
        f.saddles[i].ends[0].play_mm = f.saddles[i].ends[1].play_mm = 0.0;
    return f;
}

void rounds_run_single(const rounds_setting *setting, fretted_kind kind, rounds_single *out) {
    for (size_t k = 0; k < setting->instruments; k++) {
        hands h;
        fretted f = begin(setting, kind, k, &h);
        for (size_t i = 0; i < f.n_strings; i++)
            set_string(setting, &h, &f, i, out);
    }
}

/* --- shared saddles --------------------------------------------------------------------------- */

/* The places that a planner wants for a saddle's ends, as moves. */
static void plan_saddle(const rounds_setting *setting, hands *h, const fretted *f, size_t saddle,
                        double move_mm[2]) {
    const fretted_saddle *s = &f->saddles[saddle];
    sb_shared_string strings[FRETTED_STRINGS];
    const sb_compromise_options options = {.shape = s->slant ? SB_SHAPE_SLANT : SB_SHAPE_FLAT,
                                           .fit = SB_FIT_LARGEST};
    sb_compromise place;
    for (size_t i = 0; i < s->count; i++) {
        const sb_interval reading = read_string(setting, h, f, s->first + i);
        const advice a = advise(setting->planner, f->scale_mm, &reading);
        strings[i] = (sb_shared_string){a.needed_mm, f->spacing_mm * (double)(s->first + i),
                                        a.cents_per_mm, 1.0};
    }
    require(sb_compromise_place(strings, s->count, &options, &place) == SB_OK, "compromise");
    for (size_t end = 0; end < 2; end++)
        move_mm[end] = place.position_mm + place.slope * s->ends[end].across_mm;
}

static bool worth_moving(const hands *h, const fretted_saddle *s, const double move_mm[2]) {
    const double least = h->move_mm > 0.0 ? LEAST_MOVE_MM : 0.0;
    return fabs(move_mm[0]) > least || (s->slant && fabs(move_mm[1]) > least);
}

static void count_shared(double beyond, int moves, rounds_shared *out) {
    out->sum[moves] += beyond;
    out->worst[moves] = fmax(out->worst[moves], beyond);
    out->within[moves] += beyond <= ROUNDS_SHARED_CENTS ? 1U : 0U;
}

static double beyond_best(const fretted *f, size_t saddle, double best) {
    const saddle_end *ends = f->saddles[saddle].ends;
    const double now[2] = {ends[0].place_mm, ends[1].place_mm};
    return fretted_worst_at(f, saddle, now) - best;
}

static void set_saddle(const rounds_setting *setting, hands *h, fretted *f, size_t saddle,
                       rounds_shared *out) {
    const fretted_saddle s = f->saddles[saddle];
    double best_mm[2];
    const double best = fretted_best_places(f, saddle, best_mm);
    bool leave = false;
    out->saddles++;
    count_shared(beyond_best(f, saddle, best), 0, out);
    for (int moves = 1; moves <= ROUNDS_MOST; moves++) {
        double move_mm[2];
        if (!leave)
            plan_saddle(setting, h, f, saddle, move_mm);
        leave = leave || !worth_moving(h, &s, move_mm);
        for (size_t end = 0; end < (s.slant ? 2U : 1U) && !leave; end++)
            (void)hands_move(h, f, saddle, end, move_mm[end]);
        for (size_t i = s.first; i < s.first + s.count && !leave; i++)
            hands_tune(h, f, i);
        out->moves += leave ? 0U : 1U;
        count_shared(beyond_best(f, saddle, best), moves, out);
    }
}

void rounds_run_shared(const rounds_setting *setting, fretted_kind kind, rounds_shared *out) {
    for (size_t k = 0; k < setting->instruments; k++) {
        hands h;
        fretted f = begin(setting, kind, k, &h);
        for (size_t saddle = 0; saddle < f.n_saddles; saddle++)
            set_saddle(setting, &h, &f, saddle, out);
    }
}
