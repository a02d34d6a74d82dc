/* summits: the periodogram of what lines leave of a band, round its centre.
 *
 * Internal to audio/. Pure computation: no allocation.
 */
#ifndef SB_SUMMITS_H
#define SB_SUMMITS_H

#include <stddef.h>

#include "audio/lines.h"
#include "audio/spectrum.h"

/* power[reach + j] is that at j bin_hz from the centre. */
struct sb_summits {
    sb_bins bins;         /* of the whole band */
    size_t reach, n_flat; /* bins either side of the centre; of those, the flat part's and that */
    double searched_hz;   /* so far off the centre another line is looked for */
    double bin_hz, power[2 * SB_BAND_MAX];
};

/* Transforms the band, to be looked at as far as reach_hz, or searched_hz if that is more. Holds
 * until the next call of sb_spectrum_of_band. */
void sb_summits_open(struct sb_summits *view, sb_spectrum *spectrum, const sb_band *band,
                     double reach_hz);

/* Fills in power[]: what lines[0..n-1] leave of that band. */
void sb_summits_look(struct sb_summits *view, const sb_band *band, const sb_line lines[], size_t n);

/* Where the strongest bin within reach_hz of hz (from the centre) has its summit, by a parabola;
 * the summit's power in *top, 0 where nothing is in sight. */
double sb_summits_strongest(const struct sb_summits *view, double hz, double reach_hz, double *top);

/* Where the summit at a bin is, by a parabola, and its power; the bin itself where it is none. */
double sb_summits_at(const struct sb_summits *view, long bin, double *power);

/* Noise variance of a sample, as if the band's filter let all through, from the median of the flat
 * part: the median of an exponential variate is ln 2 times its mean, and lines left over hardly
 * move it. */
double sb_summits_noise(const struct sb_summits *view);

#endif
