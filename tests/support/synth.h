/* synth: plucked strings with known truth, for the tests.
 *
 * A note is a sum of damped stiff-string partials
 *     f_n(t) = n f0 sqrt(1 + B n^2) (1 + g(t)) r(t)
 * (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964). Level of partial n at the attack:
 *     |sin(n pi p)| / n          pluck at p of the length (velocity or bridge force of the
 *                                ideal string: Fletcher & Rossing, The Physics of Musical
 *                                Instruments, 2nd ed., ch. 2)
 *     exp(-(n pi w)^2 / 2)       plectrum or fingertip of width w of the length
 *     |sin(n pi q)|              pickup at q of the length, where given
 *     second-order high-pass     small microphone or missing lows, where given
 * Decay rate of partial n, 1/s in amplitude (Woodhouse, Acta Acust. united Ac. 90, 928,
 * 2004: air and internal viscosity, friction, bending loss):
 *     sigma_n = (eta_a + eta_f w_n + eta_b w_n B n^2) / (2 (1 + B n^2)),  w_n = 2 pi f_n
 * Tension modulation (Legge & Fletcher, J. Acoust. Soc. Am. 76, 5, 1984): g(t) is the
 * glide at the attack times the string's slope energy relative to the attack, a sum of
 * exp(-2 sigma_n t). Truth is the settled sounding fundamental f0 sqrt(1 + B) of the
 * main polarisation.
 *
 * Arithmetic is double; phases and noise follow from the seed alone (prng.h). The phase is
 * the integral of f_n(t) by Simpson's rule at the sample rate. Nothing here uses core/ or
 * audio/, so that it can judge them.
 */
#ifndef SB_TESTS_SYNTH_H
#define SB_TESTS_SYNTH_H

#include <stddef.h>
#include <stdint.h>

#define SYNTH_MAX_PARTIALS    128
#define SYNTH_SHAPED_PARTIALS 16
#define SYNTH_MAX_SYMPATHETIC 6
#define SYNTH_OFF_DB          (-300.0) /* a level at or below this means "none" */

/* Another string set ringing by the pluck, at its own free pitch, with the note's losses. */
typedef struct {
    double f0_hz;
    double inharmonicity;
    double level_db; /* its RMS over the first second re the note's */
} synth_sympathetic;

typedef struct {
    double at_s;          /* attack, from the start of the buffer */
    double f0_hz;         /* f0 of the formula, > 0 */
    double inharmonicity; /* B >= 0 */
    double rms;           /* of the string's sound over its first second, full scale 1 */
    uint64_t seed;

    double pluck;                             /* p, 0..1 */
    double pluck_width;                       /* w, 0 = a point */
    double pickup;                            /* q, 0 = none */
    double highpass_hz;                       /* 0 = none; 12 dB per octave below */
    double gain_db[SYNTH_SHAPED_PARTIALS];    /* on partial n at [n-1] */
    double pull_cents[SYNTH_SHAPED_PARTIALS]; /* partial n off the series at [n-1] */

    double eta_a, eta_f, eta_b; /* loss law above: 1/s, none, none */
    double damp_at_s;           /* palm, after the attack; 0 = never */
    double damp_s;              /* amplitude time constant of the palm */

    double glide_cents;      /* above the settled pitch at the attack */
    double glide_rate_per_s; /* > 0: it dies as exp(-rate t), not with the energy */
    double second_cents;     /* second polarisation above the main one */
    double second_share;     /* its part of the amplitude, 0..1; the main has the rest */
    double second_decay;     /* its decay rate re the main one's */

    double attack_s;               /* raised-cosine rise */
    double pick_db, pick_s;        /* noise of the pick re the note's RMS, and its decay */
    double buzz_db, buzz_s;        /* fret buzz: noise at each swing, and its decay */
    double bend_cents;             /* r(t): straight in cents between the two times after */
    double bend_from_s, bend_to_s; /* the attack, constant before and after */
    double wow_cents, wow_hz;      /* and a sine of that height, rising through zero wow_turns */
    double wow_turns;              /* of a period before the attack */

    synth_sympathetic sympathetic[SYNTH_MAX_SYMPATHETIC];
    size_t n_sympathetic;
} synth_note;

/* One partial of the main polarisation at the attack. */
typedef struct {
    int number;
    double hz;          /* settled */
    double amplitude;   /* peak, before damping by the palm */
    double decay_per_s; /* amplitude falls as exp(-decay t) */
} synth_partial;

/* A note of plain steel: everything optional off, the rest usual. */
synth_note synth_plain(double f0_hz, double inharmonicity, uint64_t seed);

/* The truth: settled sounding fundamental f0 sqrt(1 + B), before any bend. */
double synth_truth_hz(const synth_note *note);

/* The f0 of the formula that makes the sounding fundamental `sounding_hz`. */
double synth_f0_for(double sounding_hz, double inharmonicity);

/* Partials below 0.46 of the rate, amplitudes for scale 1; returns how many, at most max. */
size_t synth_spectrum(const synth_note *note, double rate_hz, synth_partial out[], size_t max);

/* Adds the note to samples[0..n-1]. Returns the scale that made note->rms: the amplitudes of
 * synth_spectrum times it are those in the sound. Exits the test on allocation failure. */
double synth_add(const synth_note *note, double rate_hz, double samples[], size_t n);

/* Rounds to float, as the project takes it. */
void synth_to_float(const double samples[], size_t n, float out[]);

#endif
