#include "audio/decimate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { HALF_TAPS_A_STEP = 13, FACTOR_MAX = 64 };
static const double KAISER_BETA = 7.86; /* 80 dB */

struct sb_decimator {
    size_t factor, half, taps;
    size_t held; /* samples waiting in line[] */
    float *filter;
    float *line; /* 2 * taps long: filled, used, moved down */
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

static void design(sb_decimator *decimator) {
    double cutoff = 0.5 / (double)decimator->factor, sum = 0; /* cycles per input sample */
    double half = (double)decimator->half;
    for (size_t i = 0; i < decimator->taps; i++) {
        double x = (double)i - half, a = 6.283185307179586 * cutoff * x;
        double sinc = x == 0 ? 1.0 : sin(a) / a;
        double r = x / (half + 1.0);
        double tap = sinc * bessel_i0(KAISER_BETA * sqrt(1.0 - r * r));
        decimator->filter[i] = (float)tap;
        sum += tap;
    }
    for (size_t i = 0; i < decimator->taps; i++)
        decimator->filter[i] = (float)((double)decimator->filter[i] / sum);
}

sb_status sb_decimator_new(size_t factor, sb_decimator **out) {
    if (factor < 1 || factor > FACTOR_MAX)
        return SB_E_RANGE;
    sb_decimator *decimator = calloc(1, sizeof *decimator);
    if (!decimator)
        return SB_E_MEMORY;
    decimator->factor = factor;
    decimator->half = HALF_TAPS_A_STEP * factor;
    decimator->taps = 2 * decimator->half + 1;
    decimator->filter = malloc(decimator->taps * sizeof(float));
    decimator->line = calloc(2 * decimator->taps, sizeof(float));
    if (!decimator->filter || !decimator->line) {
        sb_decimator_free(decimator);
        return SB_E_MEMORY;
    }
    design(decimator);
    decimator->held = decimator->half; /* silence before the first sample takes the delay out */
    *out = decimator;
    return SB_OK;
}

void sb_decimator_free(sb_decimator *decimator) {
    if (!decimator)
        return;
    free(decimator->filter);
    free(decimator->line);
    free(decimator);
}

/* Four partial sums: the compiler may not reorder a float sum by itself. */
static float convolve(const float filter[], const float line[], size_t taps) {
    float sum[4] = {0, 0, 0, 0};
    size_t i = 0;
    for (; i + 4 <= taps; i += 4)
        for (size_t j = 0; j < 4; j++)
            sum[j] += filter[i + j] * line[i + j];
    for (; i < taps; i++)
        sum[0] += filter[i] * line[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

size_t sb_decimator_run(sb_decimator *decimator, const float in[], size_t n, float out[]) {
    if (decimator->factor == 1) {
        memcpy(out, in, n * sizeof(float));
        return n;
    }
    size_t made = 0, capacity = 2 * decimator->taps;
    while (n > 0) {
        size_t take = capacity - decimator->held < n ? capacity - decimator->held : n;
        memcpy(decimator->line + decimator->held, in, take * sizeof(float));
        decimator->held += take, in += take, n -= take;
        size_t at = 0;
        for (; at + decimator->taps <= decimator->held; at += decimator->factor)
            out[made++] = convolve(decimator->filter, decimator->line + at, decimator->taps);
        decimator->held -= at;
        memmove(decimator->line, decimator->line + at, decimator->held * sizeof(float));
    }
    return made;
}
