#include "audio/decimate.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "audio/lanes.h"

enum { HALF_TAPS_A_STEP = 13, FACTOR_MAX = 64 };
/* Outputs that are made at once, and for which there is room beyond the filter's length. */
enum { AT_ONCE = 4 * SB_LANES, ROOM = 16 * AT_ONCE };
static const double KAISER_BETA = 7.86; /* 80 dB */

/* A weight that two samples share, as the filter is symmetrical, and where they lie for the first
 * output. The middle one's sample stands for both halves of itself. */
struct tap {
    size_t at[2];
    float weight;
};

/* The samples wait in `factor` rows, sample i in row i % factor, so that those which one weight
 * meets in successive outputs lie side by side. */
struct sb_decimator {
    size_t factor, span; /* span: samples that an output needs */
    size_t width;        /* of a row */
    size_t held;         /* samples waiting */
    size_t n_taps;
    struct tap *taps;
    float *rows;
};

/* Modified Bessel function I0 by its series. */
static double bessel_i0(double x) {
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 60 && term > 1e-17 * sum; k++) {
        term *= x * x / (4.0 * k * k);
        sum += term;
    }
    return sum;
}

/* Weight of the sample x from the middle, before they are made to sum to 1. */
static double weight_at(const sb_decimator *decimator, double x) {
    double cutoff = 0.5 / (double)decimator->factor; /* cycles per input sample */
    double a = 6.283185307179586 * cutoff * x, r = x / (0.5 * (double)decimator->span + 0.5);
    return (x == 0 ? 1.0 : sin(a) / a) * bessel_i0(KAISER_BETA * sqrt(1.0 - r * r));
}

static size_t place_of(const sb_decimator *decimator, size_t i) {
    return i % decimator->factor * decimator->width + i / decimator->factor;
}

static void design(sb_decimator *decimator) {
    size_t half = decimator->span / 2;
    double sum = 0;
    for (size_t i = 0; i < decimator->span; i++)
        sum += weight_at(decimator, (double)i - (double)half);
    for (size_t i = 0; i <= half; i++) {
        bool zero = i != half && (half - i) % decimator->factor == 0;
        if (zero) /* of the sinc */
            continue;
        double weight = weight_at(decimator, (double)i - (double)half) / sum;
        decimator->taps[decimator->n_taps++] =
            (struct tap){{place_of(decimator, i), place_of(decimator, 2 * half - i)},
                         (float)(i == half ? 0.5 * weight : weight)};
    }
}

sb_status sb_decimator_new(size_t factor, sb_decimator **out) {
    if (factor < 1 || factor > FACTOR_MAX)
        return SB_E_RANGE;
    sb_decimator *decimator = calloc(1, sizeof *decimator);
    if (!decimator)
        return SB_E_MEMORY;
    decimator->factor = factor;
    decimator->span = 2 * HALF_TAPS_A_STEP * factor + 1;
    decimator->width = decimator->span / factor + 1 + ROOM;
    decimator->taps = malloc(decimator->span * sizeof(struct tap));
    decimator->rows = malloc(factor * decimator->width * sizeof(float));
    if (!decimator->taps || !decimator->rows) {
        sb_decimator_free(decimator);
        return SB_E_MEMORY;
    }
    design(decimator);
    sb_decimator_reset(decimator);
    *out = decimator;
    return SB_OK;
}

void sb_decimator_reset(sb_decimator *decimator) {
    memset(decimator->rows, 0, decimator->factor * decimator->width * sizeof(float));
    decimator->held = decimator->span / 2; /* silence before the first sample takes the delay out */
}

void sb_decimator_free(sb_decimator *decimator) {
    if (!decimator)
        return;
    free(decimator->taps);
    free(decimator->rows);
    free(decimator);
}

static sb_lanes both(const float a[], const float b[], size_t group) {
    return sb_lanes_load(a + group * SB_LANES) + sb_lanes_load(b + group * SB_LANES);
}

/* The k-th output and those after it; those beyond what is held are nonsense. */
static void make_outputs(const sb_decimator *decimator, size_t k, float out[AT_ONCE]) {
    const float *rows = decimator->rows + k;
    sb_lanes s0 = {0}, s1 = {0}, s2 = {0}, s3 = {0};
    for (size_t i = 0; i < decimator->n_taps; i++) {
        const struct tap *tap = &decimator->taps[i];
        const float *a = rows + tap->at[0], *b = rows + tap->at[1];
        sb_lanes weight = sb_lanes_all(tap->weight);
        s0 += weight * both(a, b, 0);
        s1 += weight * both(a, b, 1);
        s2 += weight * both(a, b, 2);
        s3 += weight * both(a, b, 3);
    }
    sb_lanes sums[] = {s0, s1, s2, s3};
    memcpy(out, sums, sizeof sums);
}

static void deal(sb_decimator *decimator, const float in[], size_t n) {
    size_t factor = decimator->factor;
    for (size_t first = 0; first < factor && first < n; first++) {
        float *row = decimator->rows + place_of(decimator, decimator->held + first);
        for (size_t i = first; i < n; i += factor)
            *row++ = in[i];
    }
    decimator->held += n;
}

/* Forgets the samples that only the first n outputs needed. */
static void move_down(sb_decimator *decimator, size_t n) {
    for (size_t row = 0; row < decimator->factor; row++) {
        float *samples = decimator->rows + row * decimator->width;
        memmove(samples, samples + n, (decimator->width - n) * sizeof(float));
    }
    decimator->held -= n * decimator->factor;
}

size_t sb_decimator_run(sb_decimator *decimator, const float in[], size_t n, float out[]) {
    if (decimator->factor == 1) {
        memcpy(out, in, n * sizeof(float));
        return n;
    }
    size_t made = 0, capacity = decimator->span + (ROOM - AT_ONCE) * decimator->factor;
    while (n > 0) {
        size_t take = capacity - decimator->held < n ? capacity - decimator->held : n;
        deal(decimator, in, take);
        in += take, n -= take;
        if (decimator->held < decimator->span)
            continue;
        size_t ready = (decimator->held - decimator->span) / decimator->factor + 1;
        for (size_t k = 0; k < ready; k += AT_ONCE) {
            float fresh[AT_ONCE];
            make_outputs(decimator, k, fresh);
            memcpy(out + made + k, fresh,
                   (ready - k < AT_ONCE ? ready - k : AT_ONCE) * sizeof(float));
        }
        made += ready;
        move_down(decimator, ready);
    }
    return made;
}
