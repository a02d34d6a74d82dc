/* coarse: which string partials does a spectrum hold? Fundamental and inharmonicity,
 * roughly, and proof against octave errors.
 *
 * Peaks of a windowed spectrum that stand clear of the local noise floor are explained by
 * stiff-string series f_n = n f0 sqrt(1 + B n^2). A candidate series is followed upward
 * partial by partial, with f0 and B fitted again at each one (linear in (f_n/n)^2 against
 * n^2), so that neither needs a grid. It gains by what it explains, loses by peaks that it
 * leaves unexplained and by partials that ought to be there and are not: the first loss
 * rejects the octave above, the second the octave below. The idea of explaining peaks
 * both ways: Maher & Beauchamp, J. Acoust. Soc. Am. 95(4), 2254 (1994); the scoring here
 * is this module's own.
 *
 * Internal to audio/.
 */
#ifndef SB_COARSE_H
#define SB_COARSE_H

#include <stddef.h>

#include "audio/hum.h"
#include "core/status.h"

#define SB_PEAKS_MAX 96

typedef struct sb_coarse sb_coarse;

typedef struct {
    double hz, db; /* interpolated frequency and level, dB re the power of a sine of amplitude 1 */
    double above_floor_db;
} sb_peak;

typedef struct {
    double f0_hz, inharmonicity;
    int matched;  /* partials found */
    int highest;  /* number of the highest one */
    double score; /* what it was chosen by; larger is better */
} sb_series_guess;

/* Plans for sound at rate_hz, fundamentals from lowest_hz to highest_hz. Release with
 * sb_coarse_free. Errors: SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_coarse_new(double rate_hz, double lowest_hz, double highest_hz,
                                      sb_coarse **out);
void sb_coarse_free(sb_coarse *coarse);

/* Looks for hum in the first second or so of n samples without a note; none in less than 0.1 s. */
sb_hum sb_coarse_hum(sb_coarse *coarse, const float samples[], size_t n);

/* The best `max` guesses for f0 within the range, best first, no two within
 * 3 % of each other; returns how many (0: no peaks, or no series). Uses at most the first
 * second of the n samples. Peaks that are the known hum and no more are passed over. */
size_t sb_coarse_find(sb_coarse *coarse, const float samples[], size_t n, const sb_hum *hum,
                      sb_series_guess guesses[], size_t max);

/* The peaks of the last call, ascending in frequency, for those who look at what a series
 * leaves over. */
const sb_peak *sb_coarse_peaks(const sb_coarse *coarse, size_t *n);

#endif
