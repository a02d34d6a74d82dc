/* The course of a glide that is known, and taking it out of a band. */
#include <math.h>
#include <string.h>

#include "audio/track.h"
#include "core/pitch.h"

void sb_glide_ahead(const sb_glide *glide, double t0_s, double step_s, size_t n, double out[]) {
    memset(out, 0, n * sizeof out[0]);
    for (size_t m = 0; glide->gamma != 0 && m < glide->terms; m++) {
        double left = exp(-glide->rate_per_s[m] * t0_s),
               factor = exp(-glide->rate_per_s[m] * step_s);
        double size = glide->gamma * glide->weight[m] / glide->rate_per_s[m];
        for (size_t k = 0; k < n; k++) {
            out[k] += size * (1.0 - left);
            left *= factor;
        }
    }
}

double sb_glide_shift(const sb_glide *glide, double t_s) {
    double left = 0;
    for (size_t m = 0; m < glide->terms; m++)
        left += glide->weight[m] * exp(-glide->rate_per_s[m] * t_s);
    return glide->gamma * left;
}

void sb_glide_turn(sb_band *band, double hz, const sb_glide *from, const sb_glide *to) {
    if (from->gamma == 0 && to->gamma == 0)
        return;
    double before_s[SB_BAND_MAX], after_s[SB_BAND_MAX];
    sb_glide_ahead(from, band->t0_s, band->step_s, band->n, before_s);
    sb_glide_ahead(to, band->t0_s, band->step_s, band->n, after_s);
    for (size_t k = 0; k < band->n; k++) {
        double angle = SB_TWO_PI * hz * (before_s[k] - after_s[k]);
        double c = cos(angle), s = sin(angle), re = band->re[k], im = band->im[k];
        band->re[k] = re * c - im * s;
        band->im[k] = re * s + im * c;
    }
}
