#include "tests/support/rounds.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/compromise.h"
#include "core/interval.h"
#include "core/progress.h"
#include "core/saddle.h"

#define FRET           12
#define APART_S        2.3 /* between plucks */
#define MOST_EACH      16
#define TRUSTED_PLUCKS 3 /* of each note; fewer do not show their scatter, as in the session */
#define MOST_SITTINGS  3
#define LN2_1200       5.7762265046662109e-4 /* ln 2 / 1200 */
#define LEAST_MOVE_MM  0.05                  /* what a hand would not try */

const char *rounds_name(rounds_planner planner) {
    static const char *const names[ROUNDS_PLANNERS] = {"rule of thumb", "calculus alone",
                                                       "the program"};
    return names[planner];
}

static void require(bool holds, const char *what) {
    if (!holds) {
        (void)fprintf(stderr, "rounds: %s failed\n", what);
        exit(1);
    }
}

/* An instrument on the bench, and what its repairer knows of it. */
typedef struct {
    const rounds_setting *setting;
    hands hands;
    specimen f;
    sb_progress progress;
    struct {
        sb_pluck plucks[2 * MOST_EACH]; /* of this round */
        size_t n;
        sb_interval reading;
    } strings[SPECIMEN_STRINGS];
    size_t notes;
} bench;

/* --- beginning ------------------------------------------------------------------------------- */

static sb_instrument described(const specimen *f) {
    sb_instrument out = {.n_strings = f->n_strings,
                         .n_saddles = f->n_saddles,
                         .frets = 22,
                         .spacing_mm = f->spacing_mm};
    for (size_t i = 0; i < f->n_strings; i++)
        out.strings[i] = (sb_string){.semitone = (int)lround(12.0 * log2(f->open_hz[i] / 440.0)),
                                     .course = (int)i + 1,
                                     .scale_mm = f->scale_mm};
    for (size_t k = 0; k < f->n_saddles; k++)
        out.saddles[k] = (sb_saddle){.first = f->saddles[k].first + 1,
                                     .last = f->saddles[k].first + f->saddles[k].count,
                                     .way = SB_WAY_HAND,
                                     .shape = f->saddles[k].slant ? SB_SHAPE_SLANT : SB_SHAPE_FLAT};
    return out;
}

/* An instrument in tune; exact hands find no play in its screws. */
static void begin(bench *b, const rounds_setting *setting, specimen_kind kind, size_t k) {
    prng rng = prng_seeded(setting->seed + 7919 * k + 101 * (uint64_t)kind);
    const sb_progress_options options = sb_progress_default();
    memset(b, 0, sizeof *b);
    b->setting = setting;
    b->f = specimen_random(kind, &rng);
    b->hands = setting->hands;
    b->hands.rng = rng;
    for (size_t i = 0; i < b->f.n_strings; i++)
        hands_tune(&b->hands, &b->f, i);
    for (size_t i = 0; setting->hands.move_mm == 0.0 && i < b->f.n_saddles; i++)
        b->f.saddles[i].ends[0].play_mm = b->f.saddles[i].ends[1].play_mm = 0.0;
    const sb_instrument instrument = described(&b->f);
    sb_progress_begin(&b->progress, &instrument, &options);
}

/* --- reading --------------------------------------------------------------------------------- */

/* Plucks a string and reads it from all its plucks of the round. */
static void read_string(bench *b, size_t string) {
    hands_note notes[2 * MOST_EACH];
    const size_t more = 2 * b->setting->plucks;
    const size_t before = b->strings[string].n;
    const bool few = before + more < 2 * TRUSTED_PLUCKS;
    const sb_interval_options options = {.interval_cents = 100.0 * FRET,
                                         .hand_scatter_cents = few ? SB_UNSEEN_SCATTER_CENTS : 0.0};
    sb_interval *reading = &b->strings[string].reading;
    hands_pluck(&b->hands, &b->f, string, b->setting->plucks, notes);
    for (size_t i = 0; i < more; i++)
        b->strings[string].plucks[before + i] =
            (sb_pluck){.time_s = APART_S * (double)(before + i),
                       .hz = notes[i].read_hz,
                       .std_error_cents = fmax(b->hands.ear_cents, 1e-3),
                       .fretted = notes[i].fretted};
    b->strings[string].n += more;
    b->notes += more;
    require(sb_interval_combine(b->strings[string].plucks, before + more, &options, reading) ==
                SB_OK,
            "reading");
    sb_progress_read(&b->progress, string + 1,
                     (sb_error_reading){reading->error_cents, reading->std_error_cents},
                     before == 0);
    sb_progress_judge(&b->progress);
}

/* As the session asks for the next string: more of this one. */
static bool program_asks(const bench *b, size_t string) {
    return b->setting->planner == ROUNDS_PROGRAM &&
           sb_progress_next(&b->progress, string) == string + 1;
}

static void read_saddle(bench *b, const specimen_saddle *s) {
    const size_t most = 2 * MOST_SITTINGS * b->setting->plucks;
    for (size_t i = s->first; i < s->first + s->count; i++) {
        b->strings[i].n = 0;
        do
            read_string(b, i);
        while (program_asks(b, i) && b->strings[i].n < most);
    }
}

/* --- planning: moves at a saddle's first and last string, or none --------------------------------
 */

static bool plan_by_program(const bench *b, size_t saddle, double move_mm[2]) {
    const sb_saddle_progress *s = &b->progress.saddles[saddle];
    move_mm[0] = s->move_mm;
    move_mm[1] = s->end_mm;
    return s->due;
}

static sb_shared_string by_rule(const bench *b, size_t string) {
    const double mm_per_cent = b->f.scale_mm * LN2_1200;
    return (sb_shared_string){.needed_mm =
                                  mm_per_cent * round(b->strings[string].reading.error_cents),
                              .cents_per_mm = 1.0 / mm_per_cent};
}

static sb_shared_string by_calculus(const bench *b, size_t string) {
    const sb_geometry geometry = {.scale_mm = b->f.scale_mm, .fret = FRET};
    const sb_interval *r = &b->strings[string].reading;
    sb_move move;
    require(sb_saddle_move(&geometry, r->error_cents, r->std_error_cents, &move) == SB_OK, "move");
    return (sb_shared_string){.needed_mm = move.move_mm, .cents_per_mm = move.cents_per_mm};
}

/* A string by itself is left where it reads true; a shared saddle where a hand can do no
 * better. */
static bool worth_moving(const bench *b, const specimen_saddle *s, const double move_mm[2]) {
    const double error = fabs(b->strings[s->first].reading.error_cents);
    if (s->count == 1)
        return error > (b->setting->planner == ROUNDS_RULE ? 0.5 : ROUNDS_TRUE_CENTS);
    return fmax(fabs(move_mm[0]), fabs(move_mm[1])) >
           (b->hands.move_mm > 0.0 ? LEAST_MOVE_MM : 0.0);
}

static bool plan_by_hand(const bench *b, const specimen_saddle *s, double move_mm[2]) {
    sb_shared_string strings[SPECIMEN_STRINGS];
    const sb_compromise_options options = {.shape = s->slant ? SB_SHAPE_SLANT : SB_SHAPE_FLAT,
                                           .fit = SB_FIT_LARGEST};
    sb_compromise place;
    for (size_t i = 0; i < s->count; i++) {
        strings[i] = b->setting->planner == ROUNDS_RULE ? by_rule(b, s->first + i)
                                                        : by_calculus(b, s->first + i);
        strings[i].across_mm = b->f.spacing_mm * (double)i;
        strings[i].weight = 1.0;
    }
    require(sb_compromise_place(strings, s->count, &options, &place) == SB_OK, "compromise");
    move_mm[0] = place.position_mm;
    move_mm[1] = place.position_mm + place.slope * strings[s->count - 1].across_mm;
    return worth_moving(b, s, move_mm);
}

/* --- moving ------------------------------------------------------------------------------------
 */

static void move_saddle(bench *b, size_t saddle, const double move_mm[2]) {
    const specimen_saddle s = b->f.saddles[saddle];
    double done_mm[2] = {0.0, 0.0};
    for (size_t end = 0; end < (s.slant ? 2U : 1U); end++)
        done_mm[end] = hands_move(&b->hands, &b->f, saddle, end,
                                  specimen_end_move(&b->f, saddle, end, move_mm));
    for (size_t i = s.first; i < s.first + s.count; i++)
        hands_tune(&b->hands, &b->f, i);
    sb_progress_move(&b->progress, s.first + 1, specimen_place(&b->f, s.first, done_mm),
                     specimen_place(&b->f, s.first + s.count - 1, done_mm), SB_HAND_MM);
    sb_progress_judge(&b->progress);
}

/* --- counting -----------------------------------------------------------------------------------
 */

void rounds_count(rounds_result *out, const specimen *f, size_t saddle, double best_cents,
                  int moves) {
    const specimen_saddle *s = &f->saddles[saddle];
    const double now[2] = {s->ends[0].place_mm, s->ends[1].place_mm};
    const double beyond = specimen_worst_at(f, saddle, now) - best_cents;
    out->beyond[moves] += beyond;
    out->most_beyond[moves] = fmax(out->most_beyond[moves], beyond);
    out->near[moves] += beyond <= ROUNDS_NEAR_CENTS ? 1U : 0U;
    for (size_t i = s->first; i < s->first + s->count; i++)
        out->true_after[moves] += fabs(specimen_error_cents(f, i)) <= ROUNDS_TRUE_CENTS ? 1U : 0U;
}

void rounds_count_end(rounds_result *out, const specimen *f, size_t saddle) {
    const specimen_saddle *s = &f->saddles[saddle];
    for (size_t i = s->first; i < s->first + s->count; i++) {
        const double error = specimen_error_cents(f, i);
        out->squares += error * error;
        out->worst_cents = fmax(out->worst_cents, fabs(error));
    }
    out->strings += s->count;
    out->saddles++;
}

void rounds_add(rounds_result *to, const rounds_result *more) {
    to->strings += more->strings;
    to->saddles += more->saddles;
    to->moves += more->moves;
    to->notes += more->notes;
    to->squares += more->squares;
    to->worst_cents = fmax(to->worst_cents, more->worst_cents);
    for (int k = 0; k <= ROUNDS_MOST; k++) {
        to->true_after[k] += more->true_after[k];
        to->beyond[k] += more->beyond[k];
        to->most_beyond[k] = fmax(to->most_beyond[k], more->most_beyond[k]);
        to->near[k] += more->near[k];
    }
}

/* --- rounds -------------------------------------------------------------------------------------
 */

static void set_saddle(bench *b, size_t saddle, rounds_result *out) {
    const specimen_saddle s = b->f.saddles[saddle];
    double best_mm[2];
    const double best = specimen_best_places(&b->f, saddle, best_mm);
    bool left = false;
    rounds_count(out, &b->f, saddle, best, 0);
    for (int moves = 1; moves <= ROUNDS_MOST; moves++) {
        double move_mm[2];
        if (!left) {
            read_saddle(b, &s);
            left = b->setting->planner == ROUNDS_PROGRAM ? !plan_by_program(b, saddle, move_mm)
                                                         : !plan_by_hand(b, &s, move_mm);
        }
        if (!left) {
            move_saddle(b, saddle, move_mm);
            out->moves++;
        }
        rounds_count(out, &b->f, saddle, best, moves);
    }
    rounds_count_end(out, &b->f, saddle);
}

void rounds_run(const rounds_setting *setting, specimen_kind kind, rounds_result *out) {
    static bench b; /* large */
    for (size_t k = 0; k < setting->instruments; k++) {
        begin(&b, setting, kind, k);
        for (size_t saddle = 0; saddle < b.f.n_saddles; saddle++)
            set_saddle(&b, saddle, out);
        out->notes += b.notes;
    }
}
