#include "audio/decimate.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "audio/lanes.h"

enum { HALF_TAPS_A_STEP = 13, FACTOR_MAX = 64 };
/* Outputs that are made at once, and for which there is room beyond the filter's length. */
enum { AT_ONCE = 2 * SB_LANES, ROOM = 32 * AT_ONCE };
static const double KAISER_BETA = 7.86; /* 80 dB */

/* One weight of the filter, and where its sample lies for the first output. */
struct tap {
    size_t at;
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

static void design(sb_decimator *decimator) {
    size_t half = decimator->span / 2;
    double sum = 0;
    for (size_t i = 0; i < decimator->span; i++)
        sum += weight_at(decimator, (double)i - (double)half);
    for (size_t i = 0; i < decimator->span; i++) {
        bool zero = i != half && (i > half ? i - half : half - i) % decimator->factor == 0;
        if (zero) /* of the sinc */
            continue;
        float weight = (float)(weight_at(decimator, (double)i - (double)half) / sum);
        size_t row = i % decimator->factor, column = i / decimator->factor;
        decimator->taps[decimator->n_taps++] =
            (struct tap){row * decimator->width + column, weight};
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
    decimator->rows = calloc(factor * decimator->width, sizeof(float));
    if (!decimator->taps || !decimator->rows) {
        sb_decimator_free(decimator);
        return SB_E_MEMORY;
    }
    design(decimator);
    decimator->held = decimator->span / 2; /* silence before the first sample takes the delay out */
    *out = decimator;
    return SB_OK;
}

void sb_decimator_free(sb_decimator *decimator) {
    if (!decimator)
        return;
    free(decimator->taps);
    free(decimator->rows);
    free(decimator);
}

/* The k-th output and those after it; those beyond what is held are nonsense. */
static void make_outputs(const sb_decimator *decimator, size_t k, float out[AT_ONCE]) {
    const float *rows = decimator->rows + k;
    sb_lanes first = {0}, second = {0};
    for (const struct tap *tap = decimator->taps; tap < decimator->taps + decimator->n_taps;
         tap++) {
        sb_lanes weight = sb_lanes_all(tap->weight);
        first += weight * sb_lanes_load(rows + tap->at);
        second += weight * sb_lanes_load(rows + tap->at + SB_LANES);
    }
    memcpy(out, &first, sizeof first);
    memcpy(out + SB_LANES, &second, sizeof second);
}

static void deal(sb_decimator *decimator, const float in[], size_t n) {
    size_t row = decimator->held % decimator->factor, column = decimator->held / decimator->factor;
    for (size_t i = 0; i < n; i++) {
        decimator->rows[row * decimator->width + column] = in[i];
        if (++row == decimator->factor)
            row = 0, column++;
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
