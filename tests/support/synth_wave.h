/* synth_wave: one damped sinusoid along a warped time axis; the inner loop of synth. */
#ifndef SB_TESTS_SYNTH_WAVE_H
#define SB_TESTS_SYNTH_WAVE_H

#include <stddef.h>

/* The path that all partials of a note share: warped time, so that the phase of partial n
 * is 2 pi f_n time[k], and the palm's damping. */
typedef struct {
    double rate_hz;
    size_t n;
    double *time;
    double damp_from_s, damp_per_s;
} synth_course;

/* A damped sinusoid on a course. */
typedef struct {
    double hz, phase, ln_amplitude, decay_per_s;
} synth_wave;

/* Natural log of what the palm leaves at t after the attack. */
double synth_damping_ln(const synth_course *course, double t);

/* Adds the wave to out[0..course->n-1], until it is inaudible. */
void synth_add_wave(const synth_wave *wave, const synth_course *course, double out[]);

#endif
