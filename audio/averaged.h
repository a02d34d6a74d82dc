/* averaged: the spectrum of steady sound, averaged over windows that overlap by half.
 *
 * Windows are four-term Blackman-Harris, whose side lobes lie at -92 dB; a line fills
 * SB_AVERAGED_LOBE bins on both sides of its own (averaged periodograms: Welch, IEEE Trans.
 * Audio Electroacoust. 15, 70, 1967; Harris, Proc. IEEE 66, 51, 1978; both from memory).
 * Scaled so that the bins add up to the mean square.
 *
 * Internal to audio/. Transforms by KissFFT, single precision.
 */
#ifndef SB_AVERAGED_H
#define SB_AVERAGED_H

#include <kiss_fftr.h>
#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_AVERAGED_LOBE 4

/* Set samples, n and rate_hz, the rest zero. The samples are borrowed. */
typedef struct {
    const float *samples;
    size_t n;
    double rate_hz;

    size_t size, windows, bins;
    double bin_hz;
    double *average;          /* mean square in each bin, mean of all windows */
    double *power;            /* the same of the window last transformed */
    double mean, mean_square; /* of the samples; the second without the first */

    /* Its own. */
    double scale;
    kiss_fftr_cfg plan;
    float *window, *windowed;
    kiss_fft_cpx *spectrum;
} sb_averaged;

/* Makes the average: of windows of 0.4 of the sound's length, 0.5 to 2 s, so four or more where
 * there is 1.25 s. Release with sb_averaged_end in any case. Errors: SB_E_TOO_SHORT (no window
 * fits), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_averaged_begin(sb_averaged *averaged);
void sb_averaged_end(sb_averaged *averaged);

/* Fills power[] with that of one window. */
void sb_averaged_transform(sb_averaged *averaged, size_t window);

/* The bin nearest to a frequency. */
size_t sb_averaged_bin(const sb_averaged *averaged, double hz);

/* Whether a line in this bin, and the noise on both sides of it, lie within the spectrum. */
bool sb_averaged_room(const sb_averaged *averaged, size_t bin);

/* The noise in a bin that has room, as it is on both sides of a line there; > 0. */
double sb_averaged_noise(const sb_averaged *averaged, size_t bin);

/* What lies in a bin that has room and SB_AVERAGED_LOBE on both sides. */
double sb_averaged_lobe(const double power[], size_t bin);

#endif
