/* take: what the ear made of one recording, or of one spell of listening.
 */
#ifndef SB_TAKE_H
#define SB_TAKE_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/reading.h"
#include "core/interval.h"
#include "core/status.h"

#define SB_TAKE_PLUCKS 128 /* kept of one take; the rest is counted */

typedef struct {
    sb_reading readings[SB_TAKE_PLUCKS];
    size_t n;
    size_t beyond; /* plucks that found no room, or lost it */
    size_t samples;
    size_t not_finite;      /* samples that are NaN or infinite */
    double lowest, highest; /* of the finite samples */
    double rate_hz;
    sb_status end; /* SB_OK, or why reading stopped before the end */
} sb_take;

/* An empty take on the heap, released with free(); NULL when out of memory. */
sb_take *sb_take_new(void);

/* Makes it empty again. */
void sb_take_reset(sb_take *take);

/* Notes what kind of samples they are. */
void sb_take_examine(sb_take *take, const float samples[], size_t n);

/* Keeps a reading while there is room; then a good one takes the place of the oldest with a
 * fault, so that hours of noise do not keep a string from being heard. */
void sb_take_add(sb_take *take, const sb_reading *reading);

/* Who else hears a recording while a take is made of it, block by block; a failure of its ends
 * the reading. */
typedef struct {
    sb_status (*push)(void *context, double rate_hz, const float samples[], size_t n);
    void *context;
} sb_also;

/* Reads a whole recording; channel as in audio/recording.h; also may be NULL. Damage part way is
 * no error but noted in `end`. Errors: those of sb_recording_open (with take->rate_hz set where
 * known), of also, and SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_take_load(sb_take *take, const char *path, int channel,
                                     const sb_also *also);

/* A reading as one of the plucks that are combined. */
sb_pluck sb_take_pluck(const sb_reading *reading, bool fretted);

/* How much sound there was, in seconds. */
double sb_take_seconds(const sb_take *take);

#endif
