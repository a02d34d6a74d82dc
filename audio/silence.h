/* silence: how strong noise and mains hum are while nothing is played.
 *
 * Method: the steadiest stretch of the kept sound is transformed in windows (averaged.h), hum
 * told from the rest (mains.h). Noise is that rest from SB_NOISE_FROM_HZ to SB_NOISE_TO_HZ (20 Hz
 * to 20 kHz, the band of AES17, from memory) or, at low rates, 0.47 of the rate; not weighted.
 * Errors come from how the windows differ. Levels as in core/levels.h.
 */
#ifndef SB_SILENCE_H
#define SB_SILENCE_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/mains.h"
#include "audio/sound.h"
#include "core/status.h"

#define SB_NOISE_FROM_HZ   20.0
#define SB_NOISE_TO_HZ     20000.0
#define SB_SILENCE_LEAST_S 1.5
#define SB_SILENCE_KEEP_S  60.0 /* of a take: silence is sought in its first minute */

typedef struct {
    double from_s, length_s; /* the stretch that was measured */
    double noise_dbfs, noise_std_error_db;
    double hum_dbfs, hum_std_error_db; /* SB_LEVEL_NONE, 0 where there is no hum */
    double total_dbfs, total_std_error_db;
    double mains_hz; /* as measured; 0 = no hum */
    double mains_std_error_hz;
    int nominal_hz;                           /* 50 or 60; 0 = no hum */
    double harmonic_dbfs[SB_MAINS_HARMONICS]; /* RMS of harmonic k + 1; SB_LEVEL_NONE = none */
    double band_to_hz;                        /* upper end of the noise's band */
    double fall_db; /* by how much its second half is quieter than its first: something dies away */
} sb_silence;

/* The longest stretch of the kept samples in which nothing happens: no tenth of a second is 4 dB
 * over the quietest ones. False where it is shorter than SB_SILENCE_LEAST_S. */
bool sb_silence_find(const sb_sound *sound, double *from_s, double *to_s);

/* Measures n samples without a note, at least SB_SILENCE_LEAST_S of them. from_s is left 0. Errors:
 * SB_E_TOO_SHORT, SB_E_RANGE (rate), SB_E_MEMORY, SB_E_UNDETERMINED (nothing but zeros or one
 * constant level: no signal at all). */
SB_MUST_CHECK sb_status sb_silence_measure(const float samples[], size_t n, double rate_hz,
                                           sb_silence *out);

#endif
