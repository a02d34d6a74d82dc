/* The course of a glide that is known, and taking it out of a band. */
#include <math.h>
#include <string.h>

#include "audio/track.h"
#include "core/pitch.h"

enum { DROOP_STEPS = 24 };

/* Of a band: a glide that runs so little off its middle is let through whole. And what is let
 * through is made good as far as that, or the noise would be made loud. */
static const double SLIGHT_SHARE = 0.03, LEAST_GAIN = 0.3;

sb_glide sb_glide_exponential(double gamma, double tau_s) {
    return (sb_glide){.gamma = gamma,
                      .shape = {.terms = 1, .weight = {1.0}, .rate_per_s = {1.0 / tau_s}}};
}

double sb_glide_times(const sb_glide_shape *shape, size_t term, int number) {
    bool is_own = number > 0 && shape->number[term] == number;
    return is_own ? 1.0 + shape->own : 1.0;
}

double sb_glide_weight(const sb_glide_shape *shape, size_t term, int number) {
    return sb_glide_times(shape, term, number) * shape->weight[term];
}

void sb_glide_ahead(const sb_glide *glide, int number, double t0_s, double step_s, size_t n,
                    double out[]) {
    const sb_glide_shape *shape = &glide->shape;
    memset(out, 0, n * sizeof out[0]);
    for (size_t m = 0; glide->gamma != 0 && m < shape->terms; m++) {
        double rate = shape->rate_per_s[m];
        double left = exp(-rate * t0_s), factor = exp(-rate * step_s);
        double size = glide->gamma * sb_glide_weight(shape, m, number) / rate;
        for (size_t k = 0; k < n; k++) {
            out[k] += size * (1.0 - left);
            left *= factor;
        }
    }
}

double sb_glide_shift(const sb_glide *glide, int number, double t_s) {
    const sb_glide_shape *shape = &glide->shape;
    double left = 0;
    for (size_t m = 0; m < shape->terms; m++)
        left += sb_glide_weight(shape, m, number) * exp(-shape->rate_per_s[m] * t_s);
    return glide->gamma * left;
}

/* What a band's filter lets through of a partial that has run so far off, at equal steps, over what
 * it lets through where that comes to rest: as if it stood still on its way. */
struct droop {
    double steps_per_hz, at[DROOP_STEPS + 2];
};

static void see_droop(const sb_band *band, double rest_hz, double most_hz, struct droop *droop) {
    double step_hz = most_hz / DROOP_STEPS;
    double rest = fmax(sb_band_gain(band, rest_hz - band->centre_hz), LEAST_GAIN);
    droop->steps_per_hz = 1.0 / step_hz;
    for (size_t j = 0; j < DROOP_STEPS + 2; j++) {
        double off_hz = rest_hz - band->centre_hz + (double)j * step_hz;
        droop->at[j] = fmax(sb_band_gain(band, off_hz) / rest, LEAST_GAIN);
    }
}

static double gain_at(const struct droop *droop, double off_hz) {
    double at = fmin(fmax(off_hz * droop->steps_per_hz, 0.0), DROOP_STEPS);
    size_t j = (size_t)at;
    return droop->at[j] + (at - (double)j) * (droop->at[j + 1] - droop->at[j]);
}

/* A glide's way through a band. */
struct way {
    bool drooping;
    double ahead_s[SB_BAND_MAX];
    struct droop droop;
};

static void go(const sb_band *band, int number, double hz, const sb_glide *glide, struct way *way) {
    double most_hz = hz * sb_glide_shift(glide, number, band->t0_s);
    sb_glide_ahead(glide, number, band->t0_s, band->step_s, band->n, way->ahead_s);
    way->drooping = band->n > 1 && most_hz > SLIGHT_SHARE * band->pass_hz;
    if (way->drooping)
        see_droop(band, hz, most_hz, &way->droop);
}

static double gain_on(const struct way *way, const sb_band *band, double hz, size_t k) {
    if (!way->drooping)
        return 1.0;
    size_t from = k > 0 ? k - 1 : 0, to = k + 1 < band->n ? k + 1 : k;
    double rise_s = (way->ahead_s[to] - way->ahead_s[from]) / (double)(to - from);
    return gain_at(&way->droop, hz * rise_s / band->step_s);
}

void sb_glide_turn(sb_band *band, int number, double hz, const sb_glide *from, const sb_glide *to) {
    if (from->gamma == 0 && to->gamma == 0)
        return;
    struct way before, after;
    go(band, number, hz, from, &before);
    go(band, number, hz, to, &after);
    for (size_t k = 0; k < band->n; k++) {
        double gain = gain_on(&before, band, hz, k) / gain_on(&after, band, hz, k);
        double angle = SB_TWO_PI * hz * (before.ahead_s[k] - after.ahead_s[k]);
        double c = gain * cos(angle), s = gain * sin(angle), re = band->re[k], im = band->im[k];
        band->re[k] = re * c - im * s;
        band->im[k] = re * s + im * c;
    }
}
