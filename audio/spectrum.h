/* spectrum: one long transform of a note, and narrow bands cut out of it.
 *
 * A band is the sound around one frequency, shifted down to zero and resampled at a low
 * rate: a few hundred complex numbers that hold all that one partial has to say. It is
 * cut in the frequency domain (one forward transform of the note, one short inverse
 * transform a band), which costs n log n for the note whatever the number of partials.
 * The band filter is a rectangle smoothed by a Gaussian, so its response dies within
 * SB_BAND margin samples, which are cut off both ends: neighbours that the ends of the
 * note smear over the band are thereby left out.
 *
 * Internal to audio/. Transforms by KissFFT, single precision.
 */
#ifndef SB_SPECTRUM_H
#define SB_SPECTRUM_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_BAND_MAX 1536 /* complex samples in the longest band */

typedef struct sb_spectrum sb_spectrum;

typedef struct {
    size_t n;           /* samples in re[], im[]; 0 when the note is too short for the band */
    double t0_s;        /* time of re[0] from the start of the note */
    double step_s;      /* time between samples */
    double centre_hz;   /* frequency that became zero */
    double pass_hz;     /* the band is flat within +-pass_hz, about */
    double slope_hz;    /* width of the Gaussian that smooths its edges */
    double decay_per_s; /* of the partial that glides in it, as known when that was taken out */
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
} sb_band;

/* Plans for notes of at most max_samples at rate_hz. Release with sb_spectrum_free.
 * Errors: SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_spectrum_new(double rate_hz, size_t max_samples, sb_spectrum **out);
void sb_spectrum_free(sb_spectrum *spectrum);

/* Transforms a note (mean taken out); n <= max_samples. */
void sb_spectrum_load(sb_spectrum *spectrum, const float samples[], size_t n);

/* Transforms it again with before[0..n_before-1] leading to it and after[0..n_after-1] following:
 * the note as it would go on beyond its ends, so that a band has no ends to cut off. n_before
 * must be a multiple of what sb_spectrum_stride gives. False, and all as it was, where that is
 * longer than the longest transform. */
bool sb_spectrum_continue(sb_spectrum *spectrum, const float before[], size_t n_before,
                          const float after[], size_t n_after);

/* Takes other samples of the same number for the note's, to be transformed by the next call of
 * sb_spectrum_continue. */
void sb_spectrum_exchange(sb_spectrum *spectrum, const float samples[]);

/* Samples of the note between two of a band. */
size_t sb_spectrum_stride(const sb_spectrum *spectrum);

/* How far the band filter reaches, in s, for neighbours spacing_hz away. */
double sb_spectrum_reach_s(const sb_spectrum *spectrum, double spacing_hz);

/* Cuts the band around centre_hz out of the loaded note. spacing_hz: distance of the
 * nearest neighbour partial, which the filter must keep out. */
void sb_spectrum_band(sb_spectrum *spectrum, double centre_hz, double spacing_hz, sb_band *band);

/* What the band's filter lets through, offset_hz from its centre: 1 there; and the first and second
 * derivatives of that by angular frequency. */
typedef struct {
    double gain, slope_s, bend_s2;
} sb_band_response;

sb_band_response sb_band_respond(const sb_band *band, double offset_hz);

/* Independent complex samples that the band's filter leaves. */
double sb_band_independent(const sb_band *band);

/* Sum of the squares of n samples of a band, or of what is left of it. */
double sb_band_energy(const double re[], const double im[], size_t n);

/* Mean square of the loaded note's sound between two frequencies. */
double sb_spectrum_power(const sb_spectrum *spectrum, double from_hz, double to_hz);

/* A band's own transform: sum_k z_k e^(-2 pi i jk/size) of its samples z_k, zero-padded to at least
 * a third more than there are, bin j at frequency j/(size step_s), the upper half negative. */
typedef struct {
    size_t size;
    const float *at;   /* real and imaginary parts by turns */
    size_t n_flat;     /* bins from the centre to the end of the band's flat part */
    const float *gain; /* of its filter, of those: 1 at the centre */
} sb_bins;

/* They belong to the spectrum and hold until the next call. */
sb_bins sb_spectrum_of_band(sb_spectrum *spectrum, const sb_band *band);

#endif
