#include "tests/support/rounds.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/compromise.h"
#include "core/interval.h"
#include "core/learn.h"
#include "core/saddle.h"

#define FRET          12
#define APART_S       2.3 /* between plucks */
#define MOST_EACH     16
#define MOST_SITTINGS 3
#define LN2_1200      5.7762265046662109e-4 /* ln 2 / 1200 */
#define LEAST_MOVE_MM 0.05                  /* mm; less is not worth a hand */

const char *rounds_name(rounds_planner planner) {
    static const char *const names[ROUNDS_PLANNERS] = {"rule of thumb", "calculus alone",
                                                       "learner"};
    return names[planner];
}

static void require(bool holds, const char *what) {
    if (!holds) {
        (void)fprintf(stderr, "rounds: %s failed\n", what);
        exit(1);
    }
}

/* --- planners ------------------------------------------------------------------------------ */

/* What is known of one string. */
typedef struct {
    rounds_planner planner;
    double scale_mm;
    sb_interval reading;
    sb_learner learner;
} mind;

typedef enum { LEAVE, MOVE, PLUCK_MORE } advice;

typedef struct {
    advice advice;
    double needed_mm, cents_per_mm;
} plan;

static mind mind_of(rounds_planner planner, const fretted *f) {
    mind m = {.planner = planner, .scale_mm = f->scale_mm};
    const sb_geometry geometry = {.scale_mm = f->scale_mm, .fret = FRET};
    sb_learner_begin(&m.learner, &geometry);
    return m;
}

static plan plan_by_rule(const mind *m) {
    const double cents = round(m->reading.error_cents), mm_per_cent = m->scale_mm * LN2_1200;
    return (plan){cents != 0.0 ? MOVE : LEAVE, mm_per_cent * cents, 1.0 / mm_per_cent};
}

static plan plan_by_calculus(const mind *m) {
    const sb_geometry geometry = {.scale_mm = m->scale_mm, .fret = FRET};
    const double error = m->reading.error_cents, std_error = m->reading.std_error_cents;
    const sb_verdict verdict = sb_verdict_for(error, std_error, ROUNDS_TRUE_CENTS);
    sb_move move;
    require(sb_saddle_move(&geometry, error, std_error, &move) == SB_OK, "move");
    return (plan){verdict == SB_VERDICT_MOVE ? MOVE : LEAVE, move.move_mm, move.cents_per_mm};
}

static plan plan_by_learner(mind *m) {
    const sb_plan p = sb_learner_plan(&m->learner, ROUNDS_TRUE_CENTS);
    const bool unsure = p.kind == SB_PLAN_AGAIN || p.kind == SB_PLAN_SCATTER;
    return (plan){p.kind == SB_PLAN_MOVE ? MOVE : (unsure ? PLUCK_MORE : LEAVE), p.move_mm,
                  p.cents_per_mm};
}

static plan plan_string(mind *m) {
    switch (m->planner) {
    case ROUNDS_RULE: return plan_by_rule(m);
    case ROUNDS_CALCULUS: return plan_by_calculus(m);
    default: return plan_by_learner(m);
    }
}

static void tell_moved(mind *m, double move_mm) {
    sb_learner_move(&m->learner, move_mm, SB_HAND_MM);
}

/* --- readings ------------------------------------------------------------------------------ */

/* One round's plucks of a string. */
typedef struct {
    sb_pluck plucks[2 * MOST_EACH];
    size_t n;
} sitting;

/* Plucks once more and reads the string anew from all plucks of the sitting. */
static void read_string(const rounds_setting *setting, hands *h, const fretted *f, size_t string,
                        sitting *s, mind *m) {
    hands_note notes[2 * MOST_EACH];
    const sb_interval_options options = {.interval_cents = 100.0 * FRET};
    const bool fresh = s->n == 0;
    hands_pluck(h, f, string, setting->plucks, notes);
    for (size_t i = 0; i < 2 * setting->plucks; i++, s->n++)
        s->plucks[s->n] = (sb_pluck){.time_s = APART_S * (double)s->n,
                                     .hz = notes[i].read_hz,
                                     .std_error_cents = fmax(h->ear_cents, 1e-3),
                                     .fretted = notes[i].fretted};
    require(sb_interval_combine(s->plucks, s->n, &options, &m->reading) == SB_OK, "reading");
    sb_learner_read(&m->learner,
                    (sb_error_reading){m->reading.error_cents, m->reading.std_error_cents}, fresh);
}

/* Reads a string till its planner knows what to do; returns how many notes that took. */
static size_t sit_down(const rounds_setting *setting, hands *h, const fretted *f, size_t string,
                       mind *m, plan *out) {
    sitting s = {.n = 0};
    do {
        read_string(setting, h, f, string, &s, m);
        *out = plan_string(m);
    } while (out->advice == PLUCK_MORE && s.n < 2 * MOST_SITTINGS * setting->plucks);
    return s.n;
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
    mind m = mind_of(setting->planner, f);
    for (int moves = 0; moves < ROUNDS_MOST; moves++) {
        plan p;
        out->notes += sit_down(setting, h, f, string, &m, &p);
        if (p.advice != MOVE)
            break;
        uncount_single(f, string, moves + 1, out);
        tell_moved(&m, hands_move(h, f, fretted_saddle_of(f, string), 0, p.needed_mm));
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
static void plan_saddle(const rounds_setting *setting, hands *h, const fretted *f,
                        const fretted_saddle *s, mind minds[], double move_mm[2]) {
    sb_shared_string strings[FRETTED_STRINGS];
    const sb_compromise_options options = {.shape = s->slant ? SB_SHAPE_SLANT : SB_SHAPE_FLAT,
                                           .fit = SB_FIT_LARGEST};
    sb_compromise place;
    for (size_t i = 0; i < s->count; i++) {
        plan p;
        (void)sit_down(setting, h, f, s->first + i, &minds[i], &p);
        strings[i] = (sb_shared_string){p.needed_mm, f->spacing_mm * (double)(s->first + i),
                                        p.cents_per_mm, 1.0};
    }
    require(sb_compromise_place(strings, s->count, &options, &place) == SB_OK, "compromise");
    for (size_t end = 0; end < 2; end++)
        move_mm[end] = place.position_mm + place.slope * s->ends[end].across_mm;
}

/* Moves both ends, tells each string's planner what was done to it, and tunes. */
static void move_saddle(hands *h, fretted *f, size_t saddle, const double move_mm[2],
                        mind minds[]) {
    const fretted_saddle *s = &f->saddles[saddle];
    double done_mm[2] = {hands_move(h, f, saddle, 0, move_mm[0]), 0.0};
    if (s->slant)
        done_mm[1] = hands_move(h, f, saddle, 1, move_mm[1]);
    for (size_t i = 0; i < s->count; i++) {
        tell_moved(&minds[i], fretted_place(f, s->first + i, done_mm));
        hands_tune(h, f, s->first + i);
    }
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
    mind minds[FRETTED_STRINGS];
    for (size_t i = 0; i < s.count; i++)
        minds[i] = mind_of(setting->planner, f);
    out->saddles++;
    count_shared(beyond_best(f, saddle, best), 0, out);
    for (int moves = 1; moves <= ROUNDS_MOST; moves++) {
        double move_mm[2];
        if (!leave)
            plan_saddle(setting, h, f, &s, minds, move_mm);
        leave = leave || !worth_moving(h, &s, move_mm);
        if (!leave)
            move_saddle(h, f, saddle, move_mm, minds);
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
