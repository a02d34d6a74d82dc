/* The session's loop: sound, what is typed, and what others write, until it ends. */
#include <stdio.h>
#include <string.h>

#include "audio/errand.h"
#include "cli/bench_front.h"
#include "cli/term.h"

#define REFRESH_S 1.0 /* how often the log is looked at for what others wrote */
#define QUIET_S   1.2 /* no further note for so long: the player has finished */

typedef struct {
    const sb_bench_run *run;
    sb_bench_end end;
    double began_s, refreshed_s, heard_s; /* heard_s: when something last sounded */
    bool quit, settled;
} loop;

static void trouble(const loop *l, const char *what, const char *subject) {
    l->run->front->trouble(l->run->front->context, what, subject);
}

static void hear(loop *l) {
    sb_listener *listener = sb_source_listener(l->run->source);
    sb_reading reading;
    while (listener && l->end.status == SB_BOOK_OK && sb_listener_next(listener, &reading)) {
        if (!reading.still_sounding && !l->run->source->is_live)
            sb_take_add(&l->run->source->facts, &reading);
        l->end.status = sb_bench_hear(l->run->bench, &reading, reading.start_s);
    }
}

static void settle(loop *l) {
    if (!l->settled && l->end.status == SB_BOOK_OK)
        l->end.status = sb_bench_settle(l->run->bench);
    l->settled = true;
}

/* A new recording, as soon as one plays. */
static void follow_take(loop *l) {
    const sb_source *source = l->run->source;
    if (source->recording && l->run->bench->take != source->take) {
        sb_bench_take(l->run->bench, source->take);
        l->settled = false;
    }
}

static void take_ended(loop *l) {
    const sb_take *facts = &l->run->source->facts;
    bool good = false;
    for (size_t i = 0; i < facts->n; i++)
        good = good || facts->readings[i].fault == SB_PLUCK_GOOD;
    if (l->run->source->status != SB_OK)
        trouble(l, "the recording is damaged part way; what came before was heard",
                l->run->source->take);
    else if (!good)
        trouble(l, "no usable pluck in the recording", l->run->source->take);
    l->end.empty_takes += !good;
}

static void listen(loop *l) {
    l->end.state = sb_source_step(l->run->source);
    follow_take(l);
    hear(l);
    if (l->end.state == SB_SOURCE_TAKE_ENDED)
        take_ended(l);
    if (l->end.state == SB_SOURCE_BAD_TAKE) {
        trouble(l, "the recording cannot be read", l->run->source->take);
        l->end.bad_takes++;
    }
    if (l->end.state == SB_SOURCE_IDLE)
        settle(l);
}

static void carry_out(loop *l, const char *line) {
    const sb_bench_run *run = l->run;
    sb_order order;
    const char *fault = sb_order_parse(line, &order);
    if (fault) {
        trouble(l, fault, line);
        return;
    }
    if (order.kind == SB_ORDER_QUIT)
        l->quit = true;
    else if (order.kind == SB_ORDER_SHOW || order.kind == SB_ORDER_HELP)
        run->front->show(run->front->context, run->bench, order.kind == SB_ORDER_HELP);
    else if (order.kind == SB_ORDER_TAKE && run->source->is_live)
        trouble(l, "it listens to a device; end it to hear a recording", order.text);
    else if (order.kind == SB_ORDER_TAKE) {
        if (!sb_source_add(run->source, order.text))
            trouble(l, "too many recordings", order.text);
        l->end.state = SB_SOURCE_ON;
    } else {
        sb_book_status status = sb_bench_do(run->bench, &order, &fault);
        if (fault)
            trouble(l, fault, line);
        else
            l->end.status = status;
    }
}

/* What was typed is taken once the recordings before it have been heard. */
static void obey(loop *l) {
    const sb_front *front = l->run->front;
    char line[SB_ORDER_TEXT_MAX];
    if (l->end.state == SB_SOURCE_IDLE)
        settle(l);
    while (!l->quit && l->end.status == SB_BOOK_OK && l->end.state != SB_SOURCE_TAKE_ENDED &&
           front->typed(front->context, l->run->bench, line, sizeof line)) {
        carry_out(l, line);
        if (l->run->source->next < l->run->source->n_takes)
            break; /* a recording comes first */
    }
}

static void look_about(loop *l) {
    double now = sb_clock_s();
    if (now - l->refreshed_s < REFRESH_S || l->end.status != SB_BOOK_OK)
        return;
    l->refreshed_s = now;
    l->end.status = sb_bench_refresh(l->run->bench);
}

/* Live: all is in, and nothing more comes. */
static bool finished(loop *l) {
    const sb_bench_run *run = l->run;
    double now = sb_clock_s();
    if (!run->enough || !run->source->is_live)
        return false;
    if (sb_source_meter(run->source).sounding)
        l->heard_s = now;
    return now - l->heard_s >= QUIET_S && run->enough(run->bench);
}

static bool typist_gone(const sb_lines *l) {
    return l && (!l->listens || (l->ended && l->n == 0));
}

static bool over(loop *l) {
    const sb_bench_run *run = l->run;
    if (l->quit || l->end.status != SB_BOOK_OK || finished(l))
        return true;
    switch (l->end.state) {
    case SB_SOURCE_SIGNAL:
    case SB_SOURCE_LOST:
    case SB_SOURCE_MEMORY: return true;
    case SB_SOURCE_IDLE:
        if (!run->stays || typist_gone(run->typist))
            return true;
        break;
    default: break;
    }
    return run->timeout_s > 0 && sb_clock_s() - l->began_s >= run->timeout_s;
}

/* A recording that plays at once is heard before anything is typed. */
static bool busy(const loop *l) {
    const sb_source *s = l->run->source;
    return !s->is_live && s->pace == 0 && (s->recording || s->next < s->n_takes);
}

sb_bench_end sb_bench_loop(const sb_bench_run *run) {
    const double now = sb_clock_s();
    loop l = {.run = run, .began_s = now, .refreshed_s = now, .heard_s = now};
    while (!over(&l)) {
        listen(&l);
        if (!busy(&l))
            obey(&l);
        look_about(&l);
        if (run->front->step)
            run->front->step(run->front->context, run->bench, run->source);
    }
    if (l.end.state != SB_SOURCE_LOST && l.end.state != SB_SOURCE_MEMORY) {
        if (run->source->is_live)
            sb_source_finish(run->source);
        hear(&l);
        settle(&l);
    }
    l.end.signal = sb_term_signal();
    return l.end;
}
