/* decimate: lowers the sample rate by a whole factor, block by block.
 *
 * A linear-phase low-pass (windowed sinc, Kaiser's window: Kaiser & Schafer, IEEE Trans.
 * Acoust. Speech Signal Process. 28, 105, 1980) flat to 0.40 of the new rate and 80 dB
 * down from 0.60 of it, so what folds over lies above 0.40. Its delay is taken out: output
 * k stands for input k * factor.
 *
 * Internal to audio/.
 */
#ifndef SB_DECIMATE_H
#define SB_DECIMATE_H

#include <stddef.h>

#include "core/status.h"

typedef struct sb_decimator sb_decimator;

/* factor 1..64; 1 passes sound through. Release with sb_decimator_free.
 * Errors: SB_E_RANGE, SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_decimator_new(size_t factor, sb_decimator **out);
void sb_decimator_free(sb_decimator *decimator);

/* Forgets what it took: silence is before the next sample. */
void sb_decimator_reset(sb_decimator *decimator);

/* Takes n samples and writes at most n / factor + 1 to out[] (which must not alias in);
 * returns how many. The last few outputs come only with later input or a flush. */
size_t sb_decimator_run(sb_decimator *decimator, const float in[], size_t n, float out[]);

#endif
