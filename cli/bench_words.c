/* A session looked at from outside: figures and words for what prints it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/answer.h"
#include "cli/bench_parts.h"
#include "core/pitch.h"

#define ODD_GAIN 0.1 /* off 1, to be spoken of */

bool sb_bench_turns(const sb_bench *bench, size_t saddle, double move_mm, double *turns,
                    sb_turn *turn) {
    const sb_saddle *s = &bench->progress.instrument.saddles[saddle];
    if (s->way != SB_WAY_SCREW || !(s->thread_mm > 0))
        return false;
    *turns = sb_screw_turns(move_mm, s->thread_mm, s->screw, turn);
    return true;
}

static const char *stray_text(sb_stray stray) {
    switch (stray) {
    case SB_STRAY_NONE: return NULL;
    case SB_STRAY_UNMOVED:
        return "hardly changed: did the saddle slip back, or is the string not seated over it?";
    case SB_STRAY_REVERSED: return "changed the other way: was the saddle moved the other way?";
    case SB_STRAY_LESS:
        return "changed much less than the move should: see that the string sits on the saddle";
    case SB_STRAY_MORE:
        return "changed much more than the move should: see that the string sits on the saddle";
    case SB_STRAY_FALSE: return "does not repeat: a false string? try another";
    case SB_STRAY_UNSURE: return "does not repeat the reading before: pluck both notes again";
    }
    return NULL;
}

/* Where the moves have taught another gain for certain. */
static const char *gain_text(const sb_learner *l) {
    double off = l->now.gain - 1;
    if (fabs(off) < ODD_GAIN || fabs(off) < 2 * sqrt(l->now.gain_var))
        return NULL;
    return off < 0 ? "answers its moves less than geometry says; the next move allows for that"
                   : "answers its moves more than geometry says; the next move allows for that";
}

static const char *plan_text(const sb_bench *b, const sb_string_progress *s) {
    double std = sqrt(s->learner.now.error_var);
    if (s->plan.kind == SB_PLAN_AGAIN)
        return "too uncertain to act on: pluck both notes again";
    if (s->plan.kind == SB_PLAN_SCATTER)
        return std > 0.5 * b->options.progress.tolerance_cents
                   ? "within the scatter of its plucks: pluck more"
                   : "within what a hand can set: leave it";
    if (fabs(s->learner.now.error_cents) > 20)
        return "seldom the saddle's fault alone: look at nut, fret, action and string first";
    return gain_text(&s->learner);
}

const char *sb_bench_beyond_travel(const sb_bench *bench, size_t string) {
    return bench->progress.strings[string - 1].learner.now.error_cents > 0
               ? "lower the action; a lighter or more supple string; another saddle, or one "
                 "turned round"
               : "a heavier or stiffer string; raise the action; another saddle, or one turned "
                 "round";
}

/* What a new string waits for before its saddle is looked at; NULL where it has settled, or is not
 * new. */
static const char *unsettled(const sb_bench *bench, size_t string) {
    const sb_new_string *s = &bench->new_strings[string - 1];
    if (!s->fitted || s->verdict == SB_SETTLE_SETTLED)
        return NULL;
    return s->verdict == SB_SETTLE_STRETCH ? "still falling: stretch it again and tune"
                                           : "settling: pluck it open now and then";
}

const char *sb_bench_remark(const sb_bench *bench, size_t string) {
    const sb_string_progress *s = &bench->progress.strings[string - 1];
    if (s->state == SB_STRING_NOT_YET || s->state == SB_STRING_MOVED ||
        s->state == SB_STRING_STALE || unsettled(bench, string))
        return NULL;
    const char *stray = stray_text(s->learner.stray);
    if (stray)
        return stray;
    if (s->state == SB_STRING_STUCK)
        return sb_bench_beyond_travel(bench, string);
    return plan_text(bench, s);
}

void sb_bench_plucks(const sb_bench *bench, size_t string, size_t *open, size_t *fretted) {
    const sb_round *r = &bench->rounds[string - 1];
    *open = r->ended ? 0 : sb_round_count(r, false);
    *fretted = r->ended ? 0 : sb_round_count(r, true);
}

bool sb_bench_detune(const sb_bench *bench, size_t string, double *cents) {
    const sb_pluck *p = sb_round_last(&bench->rounds[string - 1], false);
    if (!p)
        return false;
    int semitone = bench->progress.instrument.strings[string - 1].semitone;
    *cents = sb_cents_between(sb_note_hz(semitone, bench->options.a4_hz), p->hz);
    return true;
}

bool sb_bench_strings_in(const sb_bench *bench) {
    for (size_t i = 0; i < bench->progress.instrument.n_strings; i++) {
        const sb_string_progress *s = &bench->progress.strings[i];
        const sb_new_string *it = &bench->new_strings[i];
        bool in = it->verdict == SB_SETTLE_SETTLED && it->measured && s->state != SB_STRING_STALE &&
                  s->state != SB_STRING_MOVED &&
                  s->reading.std_error <= bench->options.progress.tolerance_cents / 2;
        if (it->fitted && !in)
            return false;
    }
    return true;
}

static const char *way(double move_mm) {
    return move_mm > 0 ? "back" : move_mm < 0 ? "forward" : "either way";
}

void sb_bench_move_text(const sb_bench *bench, size_t saddle, double move_mm, double end_mm,
                        char *text, size_t size) {
    const sb_saddle *s = &bench->progress.instrument.saddles[saddle];
    double turns = 0;
    sb_turn turn = SB_TURN_NONE;
    char number[SB_TURNS_TEXT_MAX];
    if (move_mm != end_mm) {
        (void)snprintf(text, size, "%.2f mm %s at string %zu and %.2f mm %s at string %zu",
                       fabs(move_mm), way(move_mm), s->first, fabs(end_mm), way(end_mm), s->last);
        return;
    }
    (void)snprintf(text, size, "%.2f mm %s", fabs(move_mm), way(move_mm));
    if (!sb_bench_turns(bench, saddle, move_mm, &turns, &turn) || turn == SB_TURN_NONE)
        return;
    sb_turns_format(turns, number, sizeof number);
    size_t used = strlen(text);
    (void)snprintf(text + used, size - used, " (%s %s)", number, sb_turn_text(turn));
}

/* The first other string of its saddle that the move waits for; 0 = none. */
static size_t awaited(const sb_bench *b, const sb_saddle *saddle, size_t string) {
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        sb_string_state state = b->progress.strings[i - 1].state;
        if (i != string &&
            (state == SB_STRING_NOT_YET || state == SB_STRING_STALE || state == SB_STRING_MOVED))
            return i;
    }
    return 0;
}

static void advise_measured(const sb_bench *b, size_t string, char *text, size_t size) {
    size_t s = sb_progress_saddle(&b->progress, string);
    size_t other = awaited(b, &b->progress.instrument.saddles[s], string);
    if (other > 0)
        (void)snprintf(text, size, "measured; its saddle waits for string %zu", other);
    else
        (void)snprintf(text, size, "measured");
}

static void advise_unmeasured(const sb_bench *b, size_t string, char *text, size_t size) {
    size_t open = 0, fretted = 0;
    sb_bench_plucks(b, string, &open, &fretted);
    if (open > 0)
        (void)snprintf(text, size, "open heard; pluck it at fret %d", b->options.progress.fret);
    else if (fretted > 0)
        (void)snprintf(text, size, "fret %d heard; pluck it open", b->options.progress.fret);
    else
        (void)snprintf(text, size, "not yet");
}

void sb_bench_advice(const sb_bench *bench, size_t string, char *text, size_t size) {
    const sb_string_progress *p = &bench->progress.strings[string - 1];
    size_t s = sb_progress_saddle(&bench->progress, string);
    const sb_saddle_progress *at = &bench->progress.saddles[s];
    const char *waits_for = unsettled(bench, string);
    char move[160];
    if (waits_for) {
        (void)snprintf(text, size, "%s", waits_for);
        return;
    }
    switch (p->state) {
    case SB_STRING_NOT_YET: advise_unmeasured(bench, string, text, size); break;
    case SB_STRING_MEASURED: advise_measured(bench, string, text, size); break;
    case SB_STRING_DUE:
        sb_bench_move_text(bench, s, at->move_mm, at->end_mm, move, sizeof move);
        (void)snprintf(text, size, "move %s", move);
        break;
    case SB_STRING_MOVED: (void)snprintf(text, size, "moved: tune it and measure again"); break;
    case SB_STRING_TRUE: (void)snprintf(text, size, "true"); break;
    case SB_STRING_NEAREST:
        (void)snprintf(text, size, "compromise: its saddle stands best for all its strings");
        break;
    case SB_STRING_STUCK:
        (void)snprintf(text, size, "out of travel, %.2f mm short", fabs(p->plan.move_mm));
        break;
    case SB_STRING_STALE:
        (void)snprintf(text, size, "stale (%s): measure again", sb_change_text(p->spoiled_by));
        break;
    }
}
