/* clip: where a recording was overloaded, at whatever level the overload happened.
 *
 * An overload shows as plateaus: several separate runs of two or more samples at the
 * sound's own extreme value. A note that merely decays reaches its extreme once.
 *
 * Internal to audio/. Pure computation.
 */
#ifndef SB_CLIP_H
#define SB_CLIP_H

#include <stdbool.h>
#include <stddef.h>

/* One side of the signal, fed sample by sample. Zero it to begin. */
typedef struct {
    double extreme;             /* largest value so far */
    size_t run, plateaus, last; /* last: position of the latest plateau */
} sb_clip_side;

typedef struct {
    sb_clip_side up, down;
    size_t position;
} sb_clip_watch;

/* Feeds samples in order. */
void sb_clip_feed(sb_clip_watch *watch, const float samples[], size_t n);

/* True when what was fed is overloaded; *after receives how many samples in all lie
 * before the end of the last overload. */
bool sb_clip_found(const sb_clip_watch *watch, size_t *after);

/* For a whole window: how many samples to skip so that the rest is free of overload. */
size_t sb_clip_end(const float samples[], size_t n);

/* What a window's overloads begin at, above and below; infinite on a side that has none. */
typedef struct {
    double high, low;
} sb_clip_limits;
sb_clip_limits sb_clip_limits_of(const float samples[], size_t n);

#endif
