/* The session as lines for people, logs and screen readers. */
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench_front.h"
#include "cli/err.h"
#include "cli/print.h"
#include "cli/text.h"
#include "core/pitch.h"

/* --- what is typed ----------------------------------------------------------------------- */

static bool take_line(sb_lines *l, char *line, size_t size) {
    char *newline = memchr(l->input, '\n', l->n);
    size_t n = newline ? (size_t)(newline - l->input) : l->n;
    if (!newline && !l->ended && l->n < sizeof l->input)
        return false;
    if (n == 0 && !newline)
        return false;
    size_t kept = n < size - 1 ? n : size - 1;
    memcpy(line, l->input, kept);
    line[kept] = '\0';
    line[strcspn(line, "\r")] = '\0';
    l->n -= n + (newline != NULL);
    memmove(l->input, l->input + n + (newline != NULL), l->n);
    return true;
}

static void fill(sb_lines *l) {
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    if (l->ended || l->n == sizeof l->input || poll(&in, 1, 0) <= 0)
        return;
    ssize_t n = read(STDIN_FILENO, l->input + l->n, sizeof l->input - l->n);
    if (n > 0)
        l->n += (size_t)n;
    else
        l->ended = true;
}

bool sb_lines_typed(void *lines, const sb_bench *bench, char *line, size_t size) {
    sb_lines *l = lines;
    (void)bench;
    if (!l->listens)
        return false;
    for (;;) {
        if (!take_line(l, line, size)) {
            fill(l);
            if (!take_line(l, line, size))
                return false;
        }
        if (line[strspn(line, " \t")] != '\0') /* an empty line is none */
            return true;
    }
}

/* --- lines ------------------------------------------------------------------------------- */

static void end_line(void) {
    (void)fputc('\n', stdout);
    (void)fflush(stdout);
}

static void put_clean(const char *text) {
    char clean[SB_ORDER_TEXT_MAX];
    sb_text_clean(text, clean, sizeof clean);
    (void)fputs(clean, stdout);
}

static void put_string(const sb_bench *b, size_t string) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(b->progress.instrument.strings[string - 1].semitone, note, sizeof note);
    (void)printf("string %zu %s", string, note);
}

static void put_state(const sb_bench *b, size_t string) {
    const sb_string_progress *p = &b->progress.strings[string - 1];
    char error[64], advice[300];
    const char *remark = sb_bench_remark(b, string);
    put_string(b, string);
    if (p->has_reading) {
        sb_format_error(p->reading.cents, p->reading.std_error, error, sizeof error);
        (void)printf(": %s", error);
    }
    sb_bench_advice(b, string, advice, sizeof advice);
    (void)printf("%s %s", p->has_reading ? ";" : ":", advice);
    if (remark)
        (void)printf("; %s", remark);
    end_line();
}

static void put_saddle(const sb_bench *b, size_t s) {
    const sb_saddle *saddle = &b->progress.instrument.saddles[s];
    const sb_saddle_progress *at = &b->progress.saddles[s];
    char move[160];
    if (!sb_saddle_shared(saddle) || !at->ready)
        return;
    sb_bench_move_text(b, s, at->move_mm, at->end_mm, move, sizeof move);
    (void)printf("saddle of strings %zu-%zu: %s%s; then", saddle->first, saddle->last,
                 at->due ? "move " : "stands best within ", at->due ? move : "what a hand can set");
    for (size_t i = 0; i <= saddle->last - saddle->first; i++)
        (void)printf(" %+.1f", at->remaining_cents[i]);
    (void)printf(" cents%s", at->at_limit ? "; at the limit of its travel" : "");
    end_line();
}

static void show_all(const sb_bench *b) {
    for (size_t i = 1; i <= b->progress.instrument.n_strings; i++)
        put_state(b, i);
    for (size_t s = 0; s < b->progress.instrument.n_saddles; s++)
        put_saddle(b, s);
}

static void begin(void *context, const sb_bench *b) {
    const bool *seen = b->progress.seen;
    const sb_lines *l = context;
    (void)printf("%s ", l->what ? l->what : "bench");
    put_clean(b->name);
    (void)printf(": pluck each string open and at fret %d, in any order", b->options.progress.fret);
    end_line();
    if (!seen[SB_CHANGE_RELIEF] || !seen[SB_CHANGE_NUT] || !seen[SB_CHANGE_ACTION]) {
        (void)fputs("relief, nut slots and action come first: later changes spoil the readings",
                    stdout);
        end_line();
    }
}

static void tell_note(const sb_bench *b, const sb_news *news) {
    double cents = 0;
    put_string(b, news->string);
    if (news->fretted)
        (void)printf(" fret %d: %.3f Hz", b->options.progress.fret, news->reading->hz);
    else
        (void)printf(" open: %.3f Hz", news->reading->hz);
    if (!news->fretted && sb_bench_detune(b, news->string, &cents)) {
        char text[32];
        sb_format_signed(cents, 1, text, sizeof text);
        (void)printf(", %s cents from its note", text);
    }
    end_line();
}

static void tell_reading(sb_lines *l, const sb_bench *b, const sb_news *news) {
    put_state(b, news->string);
    put_saddle(b, sb_progress_saddle(&b->progress, news->string));
    if (l->cautioned || b->progress.strings[news->string - 1].state != SB_STRING_DUE)
        return;
    l->cautioned = true;
    (void)fputs("caution: " SB_BENCH_CAUTION, stdout);
    end_line();
}

static void tell_move(const sb_bench *b, const sb_news *news) {
    char move[160];
    size_t s = sb_progress_saddle(&b->progress, news->string);
    const sb_saddle *saddle = &b->progress.instrument.saddles[s];
    sb_bench_move_text(b, s, news->move_mm, news->end_mm, move, sizeof move);
    if (sb_saddle_shared(saddle))
        (void)printf("saddle of strings %zu-%zu ", saddle->first, saddle->last);
    else
        (void)printf("string %zu ", news->string);
    (void)printf("%s %s", news->inferred ? "was moved, by its readings:" : "moved", move);
    end_line();
}

static void tell_change(const sb_news *news) {
    if (news->change == SB_CHANGE_VISIT)
        (void)fputs("another visit begins: earlier readings are stale", stdout);
    else if (news->string > 0)
        (void)printf("%s of string %zu changed: its reading is stale", sb_change_text(news->change),
                     news->string);
    else
        (void)printf("%s changed: earlier readings are stale", sb_change_text(news->change));
    end_line();
}

static void tell_settling(const sb_bench *b, const sb_news *news) {
    char drift[32];
    put_string(b, news->string);
    sb_format_signed(news->settling.drift_cents_per_min, 1, drift, sizeof drift);
    (void)printf(": %s (%s ± %.1f cents a minute)",
                 news->settling.kind == SB_SETTLE_STRETCH
                     ? "still falling: stretch it again and tune"
                     : "settled",
                 drift, news->settling.std_error);
    end_line();
}

static void tell(void *context, const sb_bench *b, const sb_news *news) {
    switch (news->kind) {
    case SB_NEWS_SOUNDING: return;
    case SB_NEWS_NOTE: tell_note(b, news); return;
    case SB_NEWS_READING: tell_reading(context, b, news); return;
    case SB_NEWS_MOVED: tell_move(b, news); return;
    case SB_NEWS_CHANGED: tell_change(news); return;
    case SB_NEWS_SETTLING: tell_settling(b, news); return;
    case SB_NEWS_LEFT_OUT: (void)printf("left out at %.1f s: %s", news->at_s, news->text); break;
    case SB_NEWS_UNDECIDED:
        (void)printf("%.3f Hz may be of several strings: pluck its other note too",
                     news->reading->hz);
        break;
    case SB_NEWS_NOTED: (void)fputs("noted", stdout); break;
    case SB_NEWS_ELSEWHERE: (void)fputs("another session wrote to the book", stdout); break;
    }
    end_line();
}

static void trouble(void *context, const char *what, const char *subject) {
    (void)context;
    sb_warn(subject, "%s", what);
}

static void show(void *context, const sb_bench *b, bool help) {
    (void)context;
    if (help)
        (void)fputs(sb_order_help(), stdout);
    else
        show_all(b);
    (void)fflush(stdout);
}

static bool end(void *context, const sb_bench *b) {
    sb_lines *l = context;
    end_line();
    show_all(b);
    return !l->failed;
}

sb_front sb_plain_front(sb_lines *lines) {
    return (sb_front){lines, begin, tell, trouble, sb_lines_typed, NULL, show, end};
}
