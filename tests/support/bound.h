/* bound: how well a pitch can be known at all (Cramer-Rao), for white Gaussian noise.
 *
 * Signal: real samples x[k], k = 0..n-1, a sum of damped sinusoids
 *     A_l exp(-d_l k/fs) cos(2 pi f_l k/fs + phi_l),   noise of standard deviation sigma,
 * every amplitude, phase and decay unknown too (an unknown decay costs nothing: it is
 * orthogonal to the frequency).
 * Single tone: Rife & Boorstyn, IEEE Trans. Inf. Theory 20(5), 591, 1974.
 * Harmonics in common: Christensen & Jakobsson, Multi-Pitch Estimation, 2009; Nielsen et
 * al., Signal Process. 135, 188, 2017 (attribution from memory).
 * Damped: the time weights exp(-2 d t) enter the spread of time about its weighted mean,
 * as Yao & Pandit, IEEE Trans. Signal Process. 43(4), 878, 1995, do (from memory).
 * Stiff, f_l = l f0 sqrt(1 + B l^2) with B unknown: the 2 x 2 Fisher matrix of (f0, B).
 * Cross terms between partials are left out: valid for n f0 / fs >> 1.
 */
#ifndef SB_TESTS_BOUND_H
#define SB_TESTS_BOUND_H

#include <stdbool.h>
#include <stddef.h>

typedef struct {
    int number;         /* l >= 1 */
    double amplitude;   /* A_l, peak, at the window's first sample */
    double decay_per_s; /* d_l >= 0 */
} bound_partial;

/* The samples that are looked at. */
typedef struct {
    double rate_hz;
    size_t n;
    double sigma; /* standard deviation of the noise */
} bound_window;

/* Fisher information of a partial about its own frequency, 1/Hz^2. */
double bound_information(const bound_partial *p, const bound_window *w);

/* Least standard deviation of f0 in Hz, harmonics exact or B known (then with the slopes of
 * f_l by f0). */
double bound_f0_hz(const bound_partial partials[], size_t count, double f0_hz, double b,
                   const bound_window *w);

typedef struct {
    double f0_hz;          /* least standard deviation of f0 */
    double b;              /* of B */
    double sounding_cents; /* of f0 sqrt(1 + B) */
} bound_stiff;

/* The same with B unknown; false where the partials cannot tell f0 from B (fewer than two). */
bool bound_of_stiff(const bound_partial partials[], size_t count, double f0_hz, double b,
                    const bound_window *w, bound_stiff *out);

#endif
