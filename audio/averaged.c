#include "audio/averaged.h"

#include <math.h>
#include <stdlib.h>

#include "core/order.h"
#include "core/pitch.h"

/* In bins from the line. */
enum { BESIDE_FROM = 6, BESIDE_TO = 10 };
static const double WINDOW_LEAST_S = 0.5, WINDOW_MOST_S = 2.0, WINDOW_SHARE = 0.4;

void sb_averaged_end(sb_averaged *a) {
    kiss_fftr_free(a->plan);
    free(a->window);
    free(a->windowed);
    free(a->spectrum);
    free(a->power);
    free(a->average);
}

static void make_window(sb_averaged *a) {
    double squares = 0, step = SB_TWO_PI / (double)a->size;
    for (size_t i = 0; i < a->size; i++) {
        double t = step * (double)i;
        double w = 0.35875 - 0.48829 * cos(t) + 0.14128 * cos(2 * t) - 0.01168 * cos(3 * t);
        a->window[i] = (float)w;
        squares += w * w;
    }
    /* Both sides of the spectrum; Parseval. */
    a->scale = 2 / ((double)a->size * squares);
}

static void examine(sb_averaged *a) {
    for (size_t i = 0; i < a->n; i++)
        a->mean += (double)a->samples[i] / (double)a->n;
    for (size_t i = 0; i < a->n; i++) {
        double x = (double)a->samples[i] - a->mean;
        a->mean_square += x * x / (double)a->n;
    }
}

void sb_averaged_transform(sb_averaged *a, size_t window) {
    const float *x = a->samples + window * (a->size / 2);
    for (size_t i = 0; i < a->size; i++)
        a->windowed[i] = a->window[i] * (float)((double)x[i] - a->mean);
    kiss_fftr(a->plan, a->windowed, a->spectrum);
    for (size_t j = 0; j < a->bins; j++) {
        double re = (double)a->spectrum[j].r, im = (double)a->spectrum[j].i;
        a->power[j] = a->scale * (re * re + im * im);
    }
}

static void average(sb_averaged *a) {
    for (size_t w = 0; w < a->windows; w++) {
        sb_averaged_transform(a, w);
        for (size_t j = 0; j < a->bins; j++)
            a->average[j] += a->power[j] / (double)a->windows;
    }
}

sb_status sb_averaged_begin(sb_averaged *a) {
    double length_s = (double)a->n / a->rate_hz;
    double window_s = fmin(fmax(WINDOW_SHARE * length_s, WINDOW_LEAST_S), WINDOW_MOST_S);
    a->size = (size_t)kiss_fftr_next_fast_size_real((int)(window_s * a->rate_hz));
    if (a->size > a->n || a->size < 8 * BESIDE_TO)
        return SB_E_TOO_SHORT;
    a->bins = a->size / 2 + 1;
    a->bin_hz = a->rate_hz / (double)a->size;
    a->windows = (a->n - a->size) / (a->size / 2) + 1;
    a->plan = kiss_fftr_alloc((int)a->size, 0, NULL, NULL);
    a->window = malloc(a->size * sizeof *a->window);
    a->windowed = malloc(a->size * sizeof *a->windowed);
    a->spectrum = malloc(a->bins * sizeof *a->spectrum);
    a->power = malloc(a->bins * sizeof *a->power);
    a->average = calloc(a->bins, sizeof *a->average);
    if (!a->plan || !a->window || !a->windowed || !a->spectrum || !a->power || !a->average)
        return SB_E_MEMORY;
    examine(a);
    make_window(a);
    average(a);
    return SB_OK;
}

size_t sb_averaged_bin(const sb_averaged *a, double hz) {
    return (size_t)lround(hz / a->bin_hz);
}

bool sb_averaged_room(const sb_averaged *a, size_t bin) {
    return bin > BESIDE_TO && bin + BESIDE_TO < a->bins;
}

/* The noise in a bin, from those on both sides of the lobe: their median, as a mean (median of
 * chi-squared by the cube of Wilson & Hilferty, Proc. Natl. Acad. Sci. 17, 684, 1931, from
 * memory). */
double sb_averaged_noise(const sb_averaged *a, size_t bin) {
    double beside[2 * (BESIDE_TO - BESIDE_FROM + 1)];
    size_t n = 0;
    for (size_t off = BESIDE_FROM; off <= BESIDE_TO; off++) {
        beside[n++] = a->average[bin - off];
        beside[n++] = a->average[bin + off];
    }
    double third = 1 - 1 / (9 * (double)a->windows);
    return sb_median(beside, n) / (third * third * third) + 1e-24;
}

double sb_averaged_lobe(const double power[], size_t bin) {
    double sum = 0;
    for (size_t j = bin - SB_AVERAGED_LOBE; j <= bin + SB_AVERAGED_LOBE; j++)
        sum += power[j];
    return sum;
}
