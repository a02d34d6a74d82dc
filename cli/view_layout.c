#include "cli/view_layout.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/answer.h"
#include "cli/bench_front.h"
#include "core/pitch.h"

static const char *way_word(double move_mm) {
    return move_mm > 0 ? "BACK" : "FORWARD";
}

/* "2 3/4": turns in eighths, reduced. */
static void turns_text(double turns, char *text, size_t size) {
    int eighths = (int)lround(turns * 8), over = 8;
    int whole = eighths / 8, part = eighths % 8;
    while (part > 0 && part % 2 == 0) {
        part /= 2;
        over /= 2;
    }
    if (part == 0)
        (void)snprintf(text, size, "%d", whole);
    else if (whole == 0)
        (void)snprintf(text, size, "%d/%d", part, over);
    else
        (void)snprintf(text, size, "%d %d/%d", whole, part, over);
}

static void say_note(const sb_bench *b, size_t string, sb_view_figures *f) {
    const sb_saddle *saddle =
        &b->progress.instrument.saddles[sb_progress_saddle(&b->progress, string)];
    sb_note_format(b->progress.instrument.strings[string - 1].semitone, f->note, sizeof f->note);
    if (sb_saddle_shared(saddle))
        (void)snprintf(f->note_caption, sizeof f->note_caption, "string %zu (saddle %zu-%zu)",
                       string, saddle->first, saddle->last);
    else
        (void)snprintf(f->note_caption, sizeof f->note_caption, "string %zu", string);
}

static void say_error(const sb_string_progress *p, sb_view_figures *f) {
    double cents = p->reading.cents;
    if (p->state == SB_STRING_NOT_YET)
        return;
    if (p->state == SB_STRING_MOVED || p->state == SB_STRING_STALE) {
        (void)snprintf(f->error_caption, sizeof f->error_caption, "before: %+.1f cents", cents);
        return;
    }
    (void)snprintf(f->error, sizeof f->error, "%+.1f", fabs(cents) < 0.05 ? 0 : cents);
    (void)snprintf(f->error_caption, sizeof f->error_caption, "cents %s, ± %.2f",
                   cents > 0 ? "sharp" : "flat", fmax(p->reading.std_error, 0.01));
}

static void say_slant(const sb_saddle *saddle, const sb_saddle_progress *at, sb_view_figures *f) {
    (void)snprintf(f->amount, sizeof f->amount, "%.1f", fabs(at->move_mm));
    (void)snprintf(f->turns, sizeof f->turns, "%.1f", fabs(at->end_mm));
    (void)snprintf(f->amount_caption, sizeof f->amount_caption, "mm %s at %zu",
                   at->move_mm > 0 ? "back" : "forward", saddle->first);
    (void)snprintf(f->turns_caption, sizeof f->turns_caption, "mm %s at %zu",
                   at->end_mm > 0 ? "back" : "forward", saddle->last);
    (void)snprintf(f->word, sizeof f->word, "%s",
                   at->move_mm * at->end_mm > 0 ? way_word(at->move_mm) : "SLANT");
}

static void say_move(const sb_bench *b, size_t string, sb_view_figures *f) {
    size_t s = sb_progress_saddle(&b->progress, string);
    const sb_saddle_progress *at = &b->progress.saddles[s];
    double turns = 0;
    sb_turn turn = SB_TURN_NONE;
    (void)snprintf(f->word_caption, sizeof f->word_caption,
                   at->move_mm > 0 ? "away from the nut; slacken, move, tune, pluck again"
                                   : "towards the nut; slacken, move, tune, pluck again");
    if (at->move_mm != at->end_mm) {
        say_slant(&b->progress.instrument.saddles[s], at, f);
        (void)snprintf(f->word_caption, sizeof f->word_caption,
                       "slacken, move, tune, pluck again; back is away from the nut");
        return;
    }
    (void)snprintf(f->amount, sizeof f->amount, "%.1f", fabs(at->move_mm));
    (void)snprintf(f->amount_caption, sizeof f->amount_caption, "mm");
    (void)snprintf(f->word, sizeof f->word, "%s", way_word(at->move_mm));
    if (!sb_bench_turns(b, s, at->move_mm, &turns, &turn) || turn == SB_TURN_NONE)
        return;
    turns_text(turns, f->turns, sizeof f->turns);
    (void)snprintf(f->turns_caption, sizeof f->turns_caption, "turn%s %s", turns > 1 ? "s" : "",
                   sb_turn_text(turn));
}

static void say_wanted(const sb_bench *b, size_t string, sb_view_figures *f) {
    size_t open = 0, fretted = 0;
    int fret = b->options.progress.fret;
    sb_bench_plucks(b, string, &open, &fretted);
    if (open > 0 && fretted == 0) {
        (void)snprintf(f->word, sizeof f->word, "FRET %d", fret);
        (void)snprintf(f->word_caption, sizeof f->word_caption, "pluck it at fret %d", fret);
    } else {
        (void)snprintf(f->word, sizeof f->word, "%s", fretted > 0 ? "OPEN" : "PLUCK");
        (void)snprintf(f->word_caption, sizeof f->word_caption,
                       fretted > 0 ? "pluck it open" : "open and at fret %d", fret);
    }
}

/* The string of its saddle that is waited for; 0 = none. */
static size_t awaited(const sb_bench *b, size_t string) {
    const sb_saddle *saddle =
        &b->progress.instrument.saddles[sb_progress_saddle(&b->progress, string)];
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        sb_string_state state = b->progress.strings[i - 1].state;
        if (state == SB_STRING_NOT_YET || state == SB_STRING_STALE || state == SB_STRING_MOVED)
            return i;
    }
    return 0;
}

static void say_measured(const sb_bench *b, size_t string, sb_view_figures *f) {
    size_t other = awaited(b, string);
    if (other > 0) {
        (void)snprintf(f->word, sizeof f->word, "STRING %zu", other);
        (void)snprintf(f->word_caption, sizeof f->word_caption,
                       "shares the saddle: pluck string %zu too", other);
        return;
    }
    bool leave = b->progress.strings[string - 1].plan.kind == SB_PLAN_SCATTER;
    (void)snprintf(f->word, sizeof f->word, "%s", leave ? "LEAVE" : "AGAIN");
}

/* States whose word says it all. */
static void say_plainly(sb_string_state state, sb_view_figures *f) {
    static const struct {
        sb_string_state state;
        const char *word, *caption;
    } words[] = {
        {SB_STRING_TRUE, "TRUE", ""},
        {SB_STRING_NEAREST, "LEAVE", "its saddle stands best for all its strings"},
        {SB_STRING_STUCK, "LIMIT", "the saddle can go no further"},
    };
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (words[i].state == state) {
            (void)snprintf(f->word, sizeof f->word, "%s", words[i].word);
            (void)snprintf(f->word_caption, sizeof f->word_caption, "%s", words[i].caption);
        }
}

static void say_again(const sb_bench *b, size_t string, sb_view_figures *f) {
    const sb_string_progress *p = &b->progress.strings[string - 1];
    size_t open = 0, fretted = 0;
    sb_bench_plucks(b, string, &open, &fretted);
    if (open + fretted > 0) {
        say_wanted(b, string, f);
        return;
    }
    bool moved = p->state == SB_STRING_MOVED;
    (void)snprintf(f->word, sizeof f->word, "%s", moved ? "TUNE" : "AGAIN");
    if (moved)
        (void)snprintf(f->word_caption, sizeof f->word_caption,
                       "moved: tune it, then pluck it open and at fret %d",
                       b->options.progress.fret);
    else
        (void)snprintf(f->word_caption, sizeof f->word_caption,
                       "%s changed: pluck it open and at fret %d", sb_change_text(p->spoiled_by),
                       b->options.progress.fret);
}

void sb_view_say(const sb_bench *bench, size_t string, sb_view_figures *out) {
    memset(out, 0, sizeof *out);
    if (string == 0) {
        (void)snprintf(out->word, sizeof out->word, "PLUCK");
        (void)snprintf(out->word_caption, sizeof out->word_caption,
                       "any string, open and at fret %d", bench->options.progress.fret);
        return;
    }
    const sb_string_progress *p = &bench->progress.strings[string - 1];
    say_note(bench, string, out);
    say_error(p, out);
    switch (p->state) {
    case SB_STRING_DUE: say_move(bench, string, out); break;
    case SB_STRING_NOT_YET: say_wanted(bench, string, out); break;
    case SB_STRING_MEASURED: say_measured(bench, string, out); break;
    case SB_STRING_MOVED:
    case SB_STRING_STALE: say_again(bench, string, out); break;
    default: say_plainly(p->state, out); break;
    }
}
