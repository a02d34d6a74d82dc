#include "cli/take.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/listener.h"
#include "audio/recording.h"

#define BLOCK 4096

sb_take *sb_take_new(void) {
    sb_take *take = malloc(sizeof *take);
    if (take)
        sb_take_reset(take);
    return take;
}

void sb_take_reset(sb_take *take) {
    memset(take, 0, sizeof *take);
    take->lowest = HUGE_VAL;
    take->highest = -HUGE_VAL;
}

void sb_take_examine(sb_take *take, const float samples[], size_t n) {
    for (size_t i = 0; i < n; i++) {
        double x = (double)samples[i];
        if (!isfinite(x)) {
            take->not_finite++;
            continue;
        }
        take->lowest = x < take->lowest ? x : take->lowest;
        take->highest = x > take->highest ? x : take->highest;
    }
    take->samples += n;
}

/* Position of the oldest reading with a fault; n if there is none. */
static size_t oldest_fault(const sb_take *take) {
    size_t i = 0;
    while (i < take->n && take->readings[i].fault == SB_PLUCK_GOOD)
        i++;
    return i;
}

void sb_take_add(sb_take *take, const sb_reading *reading) {
    if (take->n == SB_TAKE_PLUCKS) {
        size_t i = oldest_fault(take);
        take->beyond++;
        if (i == take->n || reading->fault != SB_PLUCK_GOOD)
            return;
        take->n--;
        memmove(&take->readings[i], &take->readings[i + 1], (take->n - i) * sizeof *take->readings);
    }
    take->readings[take->n++] = *reading;
}

static void drain(sb_take *take, sb_listener *listener) {
    sb_reading reading;
    while (sb_listener_next(listener, &reading))
        sb_take_add(take, &reading);
}

static sb_status hear(sb_take *take, sb_recording *recording, sb_listener *listener,
                      const sb_also *also) {
    float block[BLOCK];
    size_t n = 0;
    sb_status status;
    while ((take->end = sb_recording_read(recording, block, BLOCK, &n)) == SB_OK && n > 0) {
        sb_take_examine(take, block, n);
        if ((status = sb_listener_push(listener, block, n)) != SB_OK)
            return status;
        drain(take, listener);
        if (also && (status = also->push(also->context, take->rate_hz, block, n)) != SB_OK)
            return status;
    }
    if (take->end != SB_OK)
        sb_listener_gap(listener); /* the note that it cut off is no whole one */
    status = sb_listener_finish(listener);
    drain(take, listener);
    return status;
}

sb_status sb_take_load(sb_take *take, const char *path, int channel, const sb_also *also) {
    sb_recording *recording = NULL;
    sb_listener *listener = NULL;
    sb_status status = sb_recording_open(path, channel, &take->rate_hz, &recording);
    if (status != SB_OK)
        return status;
    sb_listener_options options = {.rate_hz = take->rate_hz};
    status = sb_listener_new(&options, &listener);
    if (status == SB_OK)
        status = hear(take, recording, listener, also);
    sb_listener_free(listener);
    sb_recording_discard(recording);
    return status;
}

double sb_take_seconds(const sb_take *take) {
    return take->rate_hz > 0 ? (double)take->samples / take->rate_hz : 0;
}

/* The whole error and its part are sums of their own, and may differ by a rounding where the part
 * is nearly all. */
sb_pluck sb_take_pluck(const sb_reading *reading, bool fretted) {
    return (sb_pluck){.time_s = reading->start_s,
                      .hz = reading->hz,
                      .std_error_cents = reading->std_error_cents,
                      .common_std_error_cents =
                          fmin(reading->common_std_error_cents, reading->std_error_cents),
                      .fretted = fretted};
}
