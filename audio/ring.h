/* ring: a lock-free queue of samples between one writing and one reading thread.
 *
 * The indices run freely and wrap; the place of an index is the index modulo the size.
 * Samples that do not fit are not written but counted, and the hole they leave is kept
 * at its place in the stream: the reader learns of it just before the first sample
 * behind it. Storage is the caller's; nothing here allocates, locks or calls out.
 */
#ifndef SB_RING_H
#define SB_RING_H

#include <stdatomic.h>
#include <stddef.h>

#include "core/status.h"

/* At least the longest cache line in common use (128 bytes on Apple's processors). */
#define SB_CACHE_LINE 128

typedef struct {
    float *slots;
    size_t size; /* a power of two */
    char apart_from_writer[SB_CACHE_LINE];

    /* The writer's line: only the writer stores here. */
    atomic_size_t written; /* samples written since the start, wrapping */
    size_t pending;        /* lost since the last sample that was written */
    char apart_from_reader[SB_CACHE_LINE];

    /* The reader's line: only the reader stores here. */
    atomic_size_t taken; /* samples taken since the start, wrapping */
    char apart_from_hole[SB_CACHE_LINE];

    /* One hole at a time: the writer fills it in and sets the flag, the reader clears it. */
    atomic_int hole_set;
    size_t hole_at;   /* value of `written` at the hole */
    size_t hole_size; /* samples lost there */
} sb_ring;

/* Makes an empty ring over `size` floats of the caller's, which must outlive it.
 * Call before the threads start. Errors: SB_E_RANGE (size is not a power of two). */
SB_MUST_CHECK sb_status sb_ring_init(sb_ring *ring, float slots[], size_t size);

/* Writer, real-time safe: puts n samples in. What does not fit counts as lost. While a hole
 * waits for the reader, samples behind a second one are lost with it. */
void sb_ring_write(sb_ring *ring, const float samples[], size_t n);

/* Writer, real-time safe: says that n samples (0 = an unknown number, counted as 1) were
 * lost before the next one. */
void sb_ring_lose(sb_ring *ring, size_t n);

/* Reader: takes at most max samples, oldest first, and returns how many. It stops at a hole;
 * *lost receives the size of the hole just before the samples returned, 0 normally. */
size_t sb_ring_read(sb_ring *ring, float samples[], size_t max, size_t *lost);

#endif
