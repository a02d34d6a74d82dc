/* recording: audio files, read a block at a time as one channel, and written.
 *
 * Reads whatever libsndfile reads from a regular file (WAV, FLAC, AIFF, CAF, OGG, ...).
 * Memory is one block, however long the file. Of several channels the loudest one is
 * taken: the largest variance, so that a constant level does not count, found by a first
 * pass over at most the first ten minutes.
 */
#ifndef SB_RECORDING_H
#define SB_RECORDING_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

typedef struct sb_recording sb_recording;

/* Opens a file for reading. channel: 1-based; 0 or less = the loudest. Release with
 * sb_recording_close. Errors: SB_E_NO_FILE (absent, or may not be read), SB_E_FORMAT (not
 * audio, not a regular file, or a header that makes no sense), SB_E_RANGE (no such channel,
 * or a rate outside SB_RATE_MIN_HZ..SB_RATE_MAX_HZ; *rate_hz, if wanted, still receives the
 * rate), SB_E_IO, SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_recording_open(const char *path, int channel, double *rate_hz,
                                          sb_recording **out);

/* Reads up to n samples of the chosen channel; *n_read < n only at the end, or before data
 * that cannot be read: the next call then says why. What the file holds is passed on, NaN
 * included. Errors: SB_E_FORMAT (the data are damaged here), SB_E_IO. */
SB_MUST_CHECK sb_status sb_recording_read(sb_recording *recording, float samples[], size_t n,
                                          size_t *n_read);

/* Creates a mono 24-bit WAV file (FLAC where the name ends in .flac; RF64 beyond 4 GB)
 * under a temporary name in the same folder; sb_recording_close moves it into place,
 * sb_recording_discard removes it. replace: whether a file that has the name by then may
 * be replaced. rate_hz is rounded to a whole number.
 * Errors: SB_E_IO (also when the folder cannot be written), SB_E_RANGE (a rate that the
 * format cannot hold), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_recording_create(const char *path, double rate_hz, bool replace,
                                            sb_recording **out);

/* Appends samples to a created recording; beyond full scale they are clipped, NaN is
 * written as 0. Errors: SB_E_IO. */
SB_MUST_CHECK sb_status sb_recording_write(sb_recording *recording, const float samples[],
                                           size_t n);

/* Closes; NULL is allowed. For a created recording: completes it under its final name, where its
 * disk was full or failed with what of it can be read again. Errors: SB_E_IO (it is not whole;
 * *kept, which may be NULL, then says how many samples are kept; if none, nothing is left
 * behind). The handle is released in every case. */
SB_MUST_CHECK sb_status sb_recording_close(sb_recording *recording, size_t *kept);

/* Closes and, for a created recording, leaves nothing behind; NULL is allowed. */
void sb_recording_discard(sb_recording *recording);

#endif
