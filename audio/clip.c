#include "audio/clip.h"

/* A plateau is exact but for dither and coding: two steps of 16 bits. */
static const double SAME = 1.0 - 6e-5;
enum { PLATEAUS = 3 };

static void feed_side(sb_clip_side *side, double value, size_t position) {
    if (value < side->extreme * SAME || value <= 1e-4) { /* nearly always */
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

void sb_clip_feed(sb_clip_watch *watch, const float samples[], size_t n) {
    for (size_t i = 0; i < n; i++, watch->position++) {
        feed_side(&watch->up, (double)samples[i], watch->position);
        feed_side(&watch->down, -(double)samples[i], watch->position);
    }
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
