/* mains: hum in an averaged spectrum: what stands out of the noise beside it at whole multiples
 * of a mains frequency near 50 or 60 Hz.
 *
 * That frequency is the one whose first ten multiples stand out most together; then it is
 * refined from where the harmonics really stand. A harmonic's power is that in the window's
 * main lobe less the noise there. The ear asks hum.h which partials hum may disturb; here the
 * question is how strong it is, of a mains that may be further out of tune, over seconds in
 * place of a moment.
 *
 * Internal to audio/. Pure computation.
 */
#ifndef SB_MAINS_H
#define SB_MAINS_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/averaged.h"

#define SB_MAINS_SPREAD    0.01 /* EN 50160: +-1 % for 99.5 % of the year (from memory) */
#define SB_MAINS_HARMONICS 100  /* buzz reaches some kHz */

typedef struct {
    double hz, std_error_hz;
    size_t n; /* harmonics within reach */
    bool found[SB_MAINS_HARMONICS];
    double excess[SB_MAINS_HARMONICS]; /* of the lobe over its noise, in standard deviations */
    double noise[SB_MAINS_HARMONICS];  /* in the lobe */
} sb_mains;

/* False where there is no hum. */
bool sb_mains_find(const sb_averaged *averaged, double top_hz, sb_mains *out);

/* The hum's harmonic k, from 1, in a spectrum of the same bins: mean square, its noise taken
 * off (so that it may come out negative where there is next to none); 0 where it was not found. */
double sb_mains_power(const sb_averaged *averaged, const sb_mains *mains, const double power[],
                      size_t k);

#endif
