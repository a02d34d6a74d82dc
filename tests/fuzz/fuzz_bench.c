/* Any orders and any notes in a session at the bench: each is done or refused with a reason, what
 * is said is finite, no move goes beyond the instrument, and the log says what the session says.
 *
 * Lines: of "~" and four bytes a note is made, all else is an order. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/bench.h"
#include "tests/support/fuzzed.h"
#include "tests/support/invariants.h"

#define LINES 24

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    sb_book *book;
    sb_bench *bench;
    int64_t id;
    double now_s;
} session;

static void tell(void *context, const sb_bench *bench, const sb_news *news) {
    (void)context;
    INVARIANT(news->string <= bench->description.instrument.n_strings);
    INVARIANT(isfinite(news->move_mm) && isfinite(news->end_mm) && isfinite(news->at_s));
    INVARIANT(!news->interval ||
              (isfinite(news->interval->error_cents) && news->interval->std_error_cents >= 0.0));
}

static sb_bench *begin(const session *s) {
    sb_bench_options options = {.progress = sb_progress_default(), .a4_hz = 440.0, .tell = tell};
    sb_bench *bench = NULL;
    INVARIANT(sb_bench_new(&options, s->book, s->id, "one", &bench) == SB_BOOK_OK);
    return bench;
}

static void judge_string(const sb_bench *bench, size_t string) {
    const sb_string_progress *p = &bench->progress.strings[string - 1];
    const double scale_mm = bench->description.instrument.strings[string - 1].scale_mm;
    char text[200];
    double cents = 0.0;
    sb_bench_advice(bench, string, text, sizeof text);
    invariant_of_words(text);
    if (sb_bench_detune(bench, string, &cents))
        INVARIANT(isfinite(cents));
    if (p->has_reading) {
        INVARIANT(isfinite(p->reading.cents) && p->reading.std_error >= 0.0);
        INVARIANT(isfinite(p->plan.move_mm) && fabs(p->plan.move_mm) < scale_mm);
    }
}

static void judge(const sb_bench *bench) {
    const sb_instrument *instrument = &bench->description.instrument;
    for (size_t s = 1; s <= instrument->n_strings; s++)
        judge_string(bench, s);
    for (size_t i = 0; i < instrument->n_saddles; i++) {
        const sb_saddle_progress *p = &bench->progress.saddles[i];
        if (p->ready)
            INVARIANT(fabs(p->move_mm) < 650.0 && fabs(p->end_mm) < 650.0 &&
                      p->worst_after_cents >= 0.0);
    }
}

static void hear(session *s, const char *bytes) {
    static const double open[] = {329.63, 246.94, 196.0, 146.83, 110.0, 82.41};
    unsigned char b[4] = {0};
    memcpy(b, bytes, strnlen(bytes, sizeof b));
    sb_reading r = {.hz = open[b[0] % 6] * (b[1] % 2 ? 2.0 : 1.0) * exp2((b[2] - 128) / 1200.0),
                    .std_error_cents = 0.01 + b[3] / 100.0,
                    .level_dbfs = -20,
                    .start_s = s->now_s};
    INVARIANT(sb_bench_hear(s->bench, &r, s->now_s) == SB_BOOK_OK);
    s->now_s += 0.1 * b[3];
}

static void say(session *s, const char *line) {
    sb_order order;
    const char *fault = sb_order_parse(line, &order);
    if (fault || order.kind >= SB_ORDER_TAKE)
        return;
    sb_book_status could = sb_bench_try(s->bench, &order, &fault);
    INVARIANT((could == SB_BOOK_BAD_DATA) == (fault != NULL));
    sb_book_status status = sb_bench_do(s->bench, &order, &fault);
    INVARIANT(status == could);
    INVARIANT(status == SB_BOOK_OK || (status == SB_BOOK_BAD_DATA && fault));
}

/* Another session reads from the log what this one knows. */
static void judge_log(const session *s) {
    sb_bench *other = begin(s);
    for (size_t i = 0; i < s->bench->description.instrument.n_strings; i++)
        INVARIANT(other->progress.strings[i].state == s->bench->progress.strings[i].state);
    sb_bench_free(other);
}

static session open_session(void) {
    static sb_book *book;
    session s = {.now_s = 1.0};
    sb_description d = {.owner = ""};
    if (!book)
        INVARIANT(sb_book_open(fuzzed_name("book"), SB_BOOK_WRITE, &book) == SB_BOOK_OK);
    sb_kind_instrument(sb_kind_named("electric"), &d.instrument);
    s.book = book;
    INVARIANT(sb_book_add(book, "one", &d, sb_book_now_ms(), &s.id) == SB_BOOK_OK);
    s.bench = begin(&s);
    return s;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char *text = calloc(1, size + 1), *rest = text;
    if (!text)
        return 0;
    memcpy(text, data, size);
    session s = open_session();
    for (int i = 0; i < LINES && rest; i++) {
        char *line = rest;
        rest = strchr(line, '\n');
        if (rest)
            *rest++ = '\0';
        if (line[0] == '~')
            hear(&s, line + 1);
        else
            say(&s, line);
        judge(s.bench);
    }
    INVARIANT(sb_bench_settle(s.bench) == SB_BOOK_OK);
    judge(s.bench);
    judge_log(&s);
    sb_bench_free(s.bench);
    INVARIANT(sb_book_remove(s.book, s.id) == SB_BOOK_OK);
    free(text);
    return 0;
}
