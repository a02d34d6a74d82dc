#include "cli/bench_source.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "audio/errand.h"
#include "cli/term.h"

#define BLOCK  1024
#define WAIT_S 0.05

static void wait_s(double seconds) {
    if (!(seconds > 0))
        return;
    struct timespec time = {.tv_sec = (time_t)seconds,
                            .tv_nsec = (long)(1e9 * (seconds - floor(seconds)))};
    (void)nanosleep(&time, NULL); /* a signal ends it early, which is what is wanted */
}

void sb_source_open_takes(sb_source *source, double pace, int channel, bool early) {
    memset(source, 0, sizeof *source);
    source->pace = pace;
    source->channel = channel;
    source->early = early;
}

int sb_source_open_live(sb_source *source, const sb_input_options *options) {
    memset(source, 0, sizeof *source);
    int code = sb_live_open(options, true, &source->live);
    source->is_live = code == EX_OK;
    return code;
}

bool sb_source_add(sb_source *source, const char *path) {
    if (source->n_takes == SB_SOURCE_TAKES)
        return false;
    char *copy = strdup(path);
    if (copy)
        source->takes[source->n_takes++] = copy;
    return copy != NULL;
}

/* --- recordings -------------------------------------------------------------------------- */

static void end_take(sb_source *s) {
    sb_recording_discard(s->recording);
    s->recording = NULL;
}

static sb_source_state begin_take(sb_source *s) {
    if (s->next == s->n_takes) {
        wait_s(WAIT_S);
        return SB_SOURCE_IDLE;
    }
    s->take = s->takes[s->next++];
    sb_take_reset(&s->facts);
    s->rate_hz = 0;
    s->status = sb_recording_open(s->take, s->channel, &s->rate_hz, &s->recording);
    if (s->status != SB_OK)
        return s->status == SB_E_MEMORY ? SB_SOURCE_MEMORY : SB_SOURCE_BAD_TAKE;
    sb_listener_free(s->listener);
    s->listener = NULL;
    sb_listener_options options = {.rate_hz = s->rate_hz, .early_readings = s->early};
    s->status = sb_listener_new(&options, &s->listener);
    s->facts.rate_hz = s->rate_hz;
    s->began_s = sb_clock_s();
    s->played_s = 0;
    if (s->status == SB_OK)
        return SB_SOURCE_ON;
    end_take(s);
    return s->status == SB_E_MEMORY ? SB_SOURCE_MEMORY : SB_SOURCE_BAD_TAKE;
}

/* As it was played: not ahead of the clock, and never more than a step's wait. */
static bool too_early(const sb_source *s) {
    if (!(s->pace > 0))
        return false;
    double ahead_s = s->played_s / s->pace - (sb_clock_s() - s->began_s);
    wait_s(fmin(ahead_s, WAIT_S));
    return ahead_s > WAIT_S;
}

static sb_source_state hear_take(sb_source *s) {
    float block[BLOCK];
    size_t n = 0;
    if (too_early(s))
        return SB_SOURCE_ON;
    s->status = sb_recording_read(s->recording, block, BLOCK, &n);
    if (s->status == SB_OK && n > 0) {
        sb_take_examine(&s->facts, block, n);
        s->played_s += (double)n / s->rate_hz;
        return sb_listener_push(s->listener, block, n) == SB_OK ? SB_SOURCE_ON : SB_SOURCE_MEMORY;
    }
    if (s->status == SB_E_MEMORY)
        return SB_SOURCE_MEMORY;
    if (s->status != SB_OK)
        sb_listener_gap(s->listener); /* the note that it cut off is no whole one */
    end_take(s);
    return sb_listener_finish(s->listener) == SB_OK ? SB_SOURCE_TAKE_ENDED : SB_SOURCE_MEMORY;
}

/* --- either ------------------------------------------------------------------------------ */

sb_source_state sb_source_step(sb_source *source) {
    if (source->is_live) {
        sb_live_state state = sb_live_step(&source->live);
        return state == SB_LIVE_ON       ? SB_SOURCE_ON
               : state == SB_LIVE_SIGNAL ? SB_SOURCE_SIGNAL
               : state == SB_LIVE_LOST   ? SB_SOURCE_LOST
                                         : SB_SOURCE_MEMORY;
    }
    if (sb_term_signal() != 0)
        return SB_SOURCE_SIGNAL;
    return source->recording ? hear_take(source) : begin_take(source);
}

sb_listener *sb_source_listener(const sb_source *source) {
    return source->is_live ? source->live.listener : source->listener;
}

sb_meter sb_source_meter(const sb_source *source) {
    sb_listener *listener = sb_source_listener(source);
    if (listener && (source->is_live || source->recording))
        return sb_listener_meter(listener);
    return (sb_meter){.level_dbfs = -120, .peak_dbfs = -120, .floor_dbfs = -120};
}

void sb_source_finish(sb_source *source) {
    sb_listener *listener = sb_source_listener(source);
    if (listener && sb_listener_finish(listener) != SB_OK)
        source->status = SB_E_MEMORY; /* that note is lost */
}

void sb_source_close(sb_source *source) {
    if (source->is_live)
        sb_live_close(&source->live);
    else
        sb_listener_free(source->listener);
    end_take(source);
    for (size_t i = 0; i < source->n_takes; i++)
        free(source->takes[i]);
    source->n_takes = 0;
    source->listener = NULL;
    source->is_live = false;
}
