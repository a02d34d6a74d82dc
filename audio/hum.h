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

/* The hum's lines as they run on from the room into the note: multiples of one frequency, each of
 * constant amplitude. */
struct sb_hum_line {
    int k;
    double re, im;   /* complex amplitude (peak) at the room's end */
    double variance; /* of that, relative, phase and size together */
};

typedef struct {
    double mains_hz, mains_variance;
    double middle_s; /* from the middle of what was heard of the room to its end */
    size_t n;
    struct sb_hum_line line[SB_HUM_HARMONICS];
} sb_hum_lines;

/* Finds the lines of a known hum in room[0..n-1]: frequency and amplitudes by maximum likelihood in
 * white noise (Rife & Boorstyn, Bell Syst. Tech. J. 55, 1389, 1976, for several tones; one
 * frequency here). False where there is too little of it. */
bool sb_hum_follow(const sb_hum *hum, const float room[], size_t n, double rate_hz,
                   sb_hum_lines *out);

/* Error of line i after_s after the room's end, relative to its amplitude. */
double sb_hum_error(const sb_hum_lines *lines, size_t i, double after_s);

/* Do they go on in samples[0..n-1], which begin after_s after the room's end, as they were? A hand
 * on the strings may change them, and the mains drift: how far those that go on have come off is
 * then in their errors. */
bool sb_hum_goes_on(sb_hum_lines *lines, const float samples[], size_t n, double after_s,
                    double rate_hz);

/* Takes those out of samples[0..n-1] that are known well enough there. */
void sb_hum_take_out(const sb_hum_lines *lines, double after_s, double rate_hz, float samples[],
                     size_t n);

#endif
