/* wav: sound made by a test, into a file.
 */
#ifndef SB_TESTS_WAV_H
#define SB_TESTS_WAV_H

#include <stdbool.h>
#include <stddef.h>

/* Writes x[0..n-1], full scale 1, as one channel of whole numbers of 16 or 24 bits; false where
 * it cannot be written whole. */
bool wav_write(const char *path, int rate_hz, int bits, const double x[], size_t n);

#endif
