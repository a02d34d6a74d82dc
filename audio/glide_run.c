/* The course of a glide that is known, and taking it out of a band. */
#include <math.h>
#include <string.h>

#include "audio/track.h"
#include "core/pitch.h"

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

void sb_glide_turn(sb_band *band, int number, double hz, const sb_glide *from, const sb_glide *to) {
    if (from->gamma == 0 && to->gamma == 0)
        return;
    double before_s[SB_BAND_MAX], after_s[SB_BAND_MAX];
    sb_glide_ahead(from, number, band->t0_s, band->step_s, band->n, before_s);
    sb_glide_ahead(to, number, band->t0_s, band->step_s, band->n, after_s);
    for (size_t k = 0; k < band->n; k++) {
        double angle = SB_TWO_PI * hz * (before_s[k] - after_s[k]);
        double c = cos(angle), s = sin(angle), re = band->re[k], im = band->im[k];
        band->re[k] = re * c - im * s;
        band->im[k] = re * s + im * c;
    }
}
