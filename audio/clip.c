#include "audio/clip.h"

#include <math.h>

#include "audio/lanes.h"

/* A plateau is exact but for dither and coding: two steps of 16 bits. */
static const double SAME = 1.0 - 6e-5;
enum { PLATEAUS = 3, BLOCK = 16 };
static const double SILENCE = 1e-4;

static bool far_below(const sb_clip_side *side, double value) {
    return value < side->extreme * SAME || value <= SILENCE;
}

static void feed_side(sb_clip_side *side, double value, size_t position) {
    if (far_below(side, value)) { /* nearly always */
        side->run = 0;
    } else if (value * SAME > side->extreme) {
        side->extreme = value;
        side->plateaus = 0;
        side->run = 1;
    } else {
        if (++side->run == 2)
            side->plateaus++;
        if (side->run >= 2)
            side->last = position;
    }
}

/* Highest and lowest of a block, the lowest negative. */
static void extremes(const float samples[BLOCK], double *high, double *low) {
    sb_lanes up = sb_lanes_load(samples), down = -up;
    for (size_t i = SB_LANES; i < BLOCK; i += SB_LANES) {
        sb_lanes x = sb_lanes_load(samples + i);
        up = sb_lanes_max(x, up);
        down = sb_lanes_max(-x, down);
    }
    *high = (double)sb_lanes_highest(up);
    *low = (double)sb_lanes_highest(down);
}

static void feed_each(sb_clip_watch *watch, const float samples[], size_t n) {
    for (size_t i = 0; i < n; i++, watch->position++) {
        feed_side(&watch->up, (double)samples[i], watch->position);
        feed_side(&watch->down, -(double)samples[i], watch->position);
    }
}

void sb_clip_feed(sb_clip_watch *watch, const float samples[], size_t n) {
    for (; n >= BLOCK; samples += BLOCK, n -= BLOCK) {
        double high, low;
        extremes(samples, &high, &low);
        if (!far_below(&watch->up, high) || !far_below(&watch->down, low)) {
            feed_each(watch, samples, BLOCK);
            continue;
        }
        watch->up.run = watch->down.run = 0;
        watch->position += BLOCK;
    }
    feed_each(watch, samples, n);
}

bool sb_clip_found(const sb_clip_watch *watch, size_t *after) {
    size_t end = 0;
    if (watch->up.plateaus >= PLATEAUS)
        end = watch->up.last + 1;
    if (watch->down.plateaus >= PLATEAUS && watch->down.last + 1 > end)
        end = watch->down.last + 1;
    *after = end;
    return end > 0;
}

size_t sb_clip_end(const float samples[], size_t n) {
    sb_clip_watch watch = {0};
    size_t after;
    sb_clip_feed(&watch, samples, n);
    return sb_clip_found(&watch, &after) ? after : 0;
}

static double limit_of(const sb_clip_side *side) {
    return side->plateaus >= PLATEAUS ? side->extreme * SAME : (double)INFINITY;
}

sb_clip_limits sb_clip_limits_of(const float samples[], size_t n) {
    sb_clip_watch watch = {0};
    sb_clip_feed(&watch, samples, n);
    return (sb_clip_limits){limit_of(&watch.up), -limit_of(&watch.down)};
}
