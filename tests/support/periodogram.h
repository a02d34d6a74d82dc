/* periodogram: the plainest way to a sinusoid's frequency, as a reference for one partial.
 *
 * The highest point of the Hann-windowed discrete-time Fourier transform's modulus within a
 * range, found by direct sums in double on a grid and then by golden section. For one damped
 * sinusoid alone it is unbiased; it knows nothing of other partials, glide or stiffness.
 */
#ifndef SB_TESTS_PERIODOGRAM_H
#define SB_TESTS_PERIODOGRAM_H

#include <stddef.h>

/* Frequency in Hz of the highest point within near_hz -+ range_cents. */
double periodogram_peak_hz(const float samples[], size_t n, double rate_hz, double near_hz,
                           double range_cents);

#endif
