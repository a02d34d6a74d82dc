/* hum: mains hum, told from strings by what it does: it sits at whole multiples of 50 or
 * 60 Hz, in tune to a fraction of a per cent, and neither decays nor cares for the pluck.
 *
 * Internal to audio/. Pure computation.
 */
#ifndef SB_HUM_H
#define SB_HUM_H

#include <stdbool.h>
#include <stddef.h>

#define SB_HUM_HARMONICS 40

typedef struct {
    double mains_hz;                    /* 0 = no hum recognised */
    double amplitude[SB_HUM_HARMONICS]; /* peak, of harmonic k + 1; 0 where none stands out */
} sb_hum;

/* Looks for hum in a windowed spectrum of sound without a note: power[j] is the squared
 * amplitude of a sine at j bin_hz. */
sb_hum sb_hum_find(const double power[], size_t bins, double bin_hz);

/* The number of the hum harmonic within reach_hz of hz, or 0. */
int sb_hum_at(const sb_hum *hum, double hz, double reach_hz);

#endif
