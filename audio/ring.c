#include "audio/ring.h"

#include <string.h>

/* The callback must never meet a lock hidden in an atomic. */
_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "atomic int takes a lock");
_Static_assert(ATOMIC_LONG_LOCK_FREE == 2 && ATOMIC_LLONG_LOCK_FREE == 2,
               "atomic size_t takes a lock");

sb_status sb_ring_init(sb_ring *ring, float slots[], size_t size) {
    if (size == 0 || (size & (size - 1)) != 0)
        return SB_E_RANGE;
    ring->slots = slots;
    ring->size = size;
    ring->pending = 0;
    ring->hole_at = 0;
    ring->hole_size = 0;
    atomic_init(&ring->written, 0);
    atomic_init(&ring->taken, 0);
    atomic_init(&ring->hole_set, 0);
    return SB_OK;
}

static size_t smaller(size_t a, size_t b) {
    return a < b ? a : b;
}

static void copy_in(sb_ring *ring, size_t index, const float samples[], size_t n) {
    size_t place = index & (ring->size - 1);
    size_t before_end = smaller(n, ring->size - place);
    memcpy(ring->slots + place, samples, before_end * sizeof *samples);
    memcpy(ring->slots, samples + before_end, (n - before_end) * sizeof *samples);
}

static void copy_out(const sb_ring *ring, size_t index, float samples[], size_t n) {
    size_t place = index & (ring->size - 1);
    size_t before_end = smaller(n, ring->size - place);
    memcpy(samples, ring->slots + place, before_end * sizeof *samples);
    memcpy(samples + before_end, ring->slots, (n - before_end) * sizeof *samples);
}

/* Puts the pending loss at this place in the stream; false while an older hole waits. */
static int leave_hole(sb_ring *ring, size_t written) {
    /* acquire: partner is the release that clears it in sb_ring_read, so that the reader
     * has done with hole_at and hole_size before they change. */
    if (atomic_load_explicit(&ring->hole_set, memory_order_acquire))
        return 0;
    ring->hole_at = written;
    ring->hole_size = ring->pending;
    ring->pending = 0;
    /* release: partner is the acquire of hole_set in sb_ring_read. */
    atomic_store_explicit(&ring->hole_set, 1, memory_order_release);
    return 1;
}

void sb_ring_write(sb_ring *ring, const float samples[], size_t n) {
    /* relaxed: the writer's own index. */
    size_t written = atomic_load_explicit(&ring->written, memory_order_relaxed);
    /* acquire: partner is the release of taken in sb_ring_read, so that the reader has
     * copied a slot out before it is written again. */
    size_t taken = atomic_load_explicit(&ring->taken, memory_order_acquire);
    size_t fits = smaller(n, ring->size - (written - taken));
    if (fits > 0 && ring->pending > 0 && !leave_hole(ring, written))
        fits = 0;
    copy_in(ring, written, samples, fits);
    ring->pending += n - fits;
    /* release: partner is the acquire of written in sb_ring_read, so that the reader sees
     * the samples, and the hole before them. */
    atomic_store_explicit(&ring->written, written + fits, memory_order_release);
}

void sb_ring_lose(sb_ring *ring, size_t n) {
    ring->pending += n > 0 ? n : 1;
}

size_t sb_ring_read(sb_ring *ring, float samples[], size_t max, size_t *lost) {
    /* relaxed: the reader's own index. */
    size_t taken = atomic_load_explicit(&ring->taken, memory_order_relaxed);
    /* acquire: partner is the release of written in sb_ring_write. It comes before the load
     * of hole_set: whoever sees a sample behind a hole must see the hole. */
    size_t n = atomic_load_explicit(&ring->written, memory_order_acquire) - taken;
    *lost = 0;
    if (n == 0 || max == 0)
        return 0;
    /* acquire: partner is the release that sets it in leave_hole. */
    if (atomic_load_explicit(&ring->hole_set, memory_order_acquire)) {
        if (ring->hole_at != taken) {
            n = smaller(n, ring->hole_at - taken);
        } else {
            *lost = ring->hole_size;
            /* release: partner is the acquire of hole_set in leave_hole. A hole left from
             * here on lies behind the n samples already seen. */
            atomic_store_explicit(&ring->hole_set, 0, memory_order_release);
        }
    }
    n = smaller(n, max);
    copy_out(ring, taken, samples, n);
    /* release: partner is the acquire of taken in sb_ring_write. */
    atomic_store_explicit(&ring->taken, taken + n, memory_order_release);
    return n;
}
