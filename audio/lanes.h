/* lanes: a few numbers that are worked on at once.
 *
 * GNU C's vector types, which gcc and clang know: processors that work on several numbers at once
 * do, others one by one, and every sum is made in the same order everywhere.
 *
 * Internal to audio/.
 */
#ifndef SB_LANES_H
#define SB_LANES_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

enum { SB_LANES = 4 };

typedef float sb_lanes __attribute__((vector_size(4 * SB_LANES)));
typedef int32_t sb_mask __attribute__((vector_size(4 * SB_LANES))); /* -1 or 0 each */

typedef double sb_pair __attribute__((vector_size(16)));

/* x[0..3], aligned or not. */
static inline sb_lanes sb_lanes_load(const float x[]) {
    sb_lanes lanes;
    memcpy(&lanes, x, sizeof lanes);
    return lanes;
}

/* x[0..1], aligned or not. */
static inline sb_pair sb_pair_load(const double x[]) {
    sb_pair pair;
    memcpy(&pair, x, sizeof pair);
    return pair;
}

static inline void sb_pair_store(sb_pair pair, double x[]) {
    memcpy(x, &pair, sizeof pair);
}

static inline sb_lanes sb_lanes_all(float x) {
    return (sb_lanes){x, x, x, x};
}

/* Where the mask is set a, else b. */
static inline sb_lanes sb_lanes_either(sb_mask mask, sb_lanes a, sb_lanes b) {
    return (sb_lanes)(((sb_mask)a & mask) | ((sb_mask)b & ~mask));
}

static inline sb_lanes sb_lanes_abs(sb_lanes a) {
    return (sb_lanes)((sb_mask)a & 0x7fffffff);
}

/* The larger; b where a is not a number. */
static inline sb_lanes sb_lanes_max(sb_lanes a, sb_lanes b) {
    return sb_lanes_either(a > b, a, b);
}

static inline float sb_lanes_sum(sb_lanes a) {
    return (a[0] + a[1]) + (a[2] + a[3]);
}

static inline float sb_lanes_highest(sb_lanes a) {
    float x = a[0] > a[1] ? a[0] : a[1], y = a[2] > a[3] ? a[2] : a[3];
    return x > y ? x : y;
}

/* samples[0..n-1] less their mean, to out[]. */
static inline void sb_lanes_centre(const float samples[], size_t n, float out[]) {
    sb_pair low = {0}, high = {0};
    size_t i = 0;
    for (; i + SB_LANES <= n; i += SB_LANES) {
        low += (sb_pair){(double)samples[i], (double)samples[i + 1]};
        high += (sb_pair){(double)samples[i + 2], (double)samples[i + 3]};
    }
    double sum = (low[0] + low[1]) + (high[0] + high[1]);
    for (; i < n; i++)
        sum += (double)samples[i];
    float mean = (float)(sum / (n ? (double)n : 1.0));
    for (i = 0; i < n; i++)
        out[i] = samples[i] - mean;
}

#endif
