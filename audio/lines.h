/* lines: damped spectral lines fitted to the samples of a band.
 *
 * Model z(t) = sum_j c_j exp((-d_j + i w_j) t), complex amplitudes c, decays d, angular
 * frequencies w from the band's centre. The model is analytic in c_j and
 * lambda_j = -d_j + i w_j, so Gauss-Newton is a complex linear least-squares problem in
 * 2J unknowns a step. At convergence the estimates are maximum-likelihood in white noise
 * and reach the Cramer-Rao bound of damped exponentials (Rife & Boorstyn, IEEE Trans.
 * Inf. Theory 20, 591, 1974; Yao & Pandit, IEEE Trans. Signal Process. 43, 878, 1995).
 *
 * Internal to audio/. Pure computation: no allocation.
 */
#ifndef SB_LINES_H
#define SB_LINES_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/cpx.h"
#include "audio/spectrum.h"

#define SB_LINES_MAX 4

typedef struct {
    double hz;          /* from the band's centre */
    double decay_per_s; /* amplitude falls as exp(-decay t); may come out slightly negative */
    double re, im;      /* amplitude at the time of the band's first sample */
    double hz_std_unit; /* standard error of hz for noise of variance 1 a complex sample */
} sb_line;

/* Of a string's two planes that one counts which has the more energy so early: the pluck went
 * there. Amplitude re, im at the time from which that is. */
#define SB_LINE_EARLY_S 0.15
double sb_line_early_energy(double re, double im, double decay_per_s);

/* exp(lambda step_s) of a line. */
sb_cpx sb_line_factor(const sb_line *line, double step_s);

/* Refines lines[0..n-1], n <= SB_LINES_MAX, from their starting hz and decay_per_s (the
 * amplitudes need no start). False if the fit went astray (a line left its neighbourhood, the
 * normal equations are singular, or no convergence): the lines are then unusable. */
bool sb_lines_fit(const sb_band *band, sb_line lines[], size_t n);

/* Whether a band holds so many lines: one is two complex numbers, and as many samples again must be
 * left to tell the noise. */
bool sb_lines_have_room(const sb_band *band, size_t n);

/* Whether lines that were fitted to a band can be told apart there: those that lie too near cancel
 * each other with absurd sizes. */
bool sb_lines_apart(const sb_band *band, const sb_line lines[], size_t n);

/* Periodogram |sum_k r_k e^(-2 pi i jk/size)|^2 / band->n of what the lines leave of the band, for
 * j = -reach..reach, to power[0..2 reach]. bins: of the band as it is; what the lines add to them
 * is worked out, not transformed. */
void sb_lines_periodogram(const sb_band *band, const sb_line lines[], size_t n, sb_bins bins,
                          size_t reach, double power[]);

/* What lines[0..n-1] leave of the band, to re[] and im[], band->n each. */
void sb_lines_subtract(const sb_band *band, const sb_line lines[], size_t n, double re[],
                       double im[]);

#endif
