/* sound: what is kept of a take besides its plucks: how strong it was from moment to moment,
 * and its beginning as it was.
 *
 * Frames of SB_SOUND_FRAME_S: the mean square without a constant level (first-order
 * high-pass at 5 Hz), the same above 300 Hz (second order, so that hum counts little) and the
 * highest sample. Levels are of the plain RMS, full scale = 1 (core/levels.h), not weighted.
 * 12 bytes a frame; an hour is 9 MB, and what comes after SB_SOUND_MAX_S is not kept.
 *
 * One thread only; no I/O.
 */
#ifndef SB_SOUND_H
#define SB_SOUND_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_SOUND_FRAME_S 0.005
#define SB_SOUND_MAX_S   3600.0

typedef struct sb_sound sb_sound;

/* Keeps the first keep_s seconds of samples, 0..120. Release with sb_sound_free. Errors: SB_E_RANGE
 * (rate under 1000 Hz or over 1 MHz), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_sound_new(double rate_hz, double keep_s, sb_sound **out);
void sb_sound_free(sb_sound *sound);

/* Takes n samples; what is no finite number, or beyond 1e6, counts as 0. Errors: SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_sound_push(sb_sound *sound, const float samples[], size_t n);

double sb_sound_rate_hz(const sb_sound *sound);

/* Whole frames so far; frame i begins at i SB_SOUND_FRAME_S. */
size_t sb_sound_frames(const sb_sound *sound);

/* Of frame i: mean square, mean square above 300 Hz, and highest sample. */
double sb_sound_power(const sb_sound *sound, size_t i);
double sb_sound_treble(const sb_sound *sound, size_t i);
double sb_sound_peak(const sb_sound *sound, size_t i);

/* The frame that holds this time; the last one for times after it. */
size_t sb_sound_frame_at(const sb_sound *sound, double time_s);

/* Mean square from one time to another; negative where the sound does not reach so far. */
double sb_sound_mean_power(const sb_sound *sound, double from_s, double to_s);

/* The samples kept, *n of them; they belong to the sound. */
const float *sb_sound_samples(const sb_sound *sound, size_t *n);

#endif
