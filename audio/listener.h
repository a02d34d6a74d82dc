/* listener: finds the plucks in a stream of sound and has each one read.
 *
 * Push mono samples as they come, from a file or a device; take readings out. The
 * listener keeps the last few seconds only, so memory does not grow with the recording.
 * Onsets: a jump of log energy above 1 kHz or of the whole band against the last
 * tens of milliseconds (energy-based novelty: Bello et al., IEEE Trans. Speech Audio
 * Process. 13(5), 1035, 2005). A note ends at the next onset, when it has sunk into
 * the noise, or when SB_NOTE_MAX_S have been kept; then it is read (see ear.h).
 *
 * One thread only; no I/O. Not for the capture callback: it allocates and computes.
 */
#ifndef SB_LISTENER_H
#define SB_LISTENER_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/reading.h"
#include "core/status.h"

#define SB_RATE_MIN_HZ 8000.0
#define SB_RATE_MAX_HZ 384000.0
#define SB_NOTE_MAX_S  4.0

typedef struct sb_listener sb_listener;

typedef struct {
    double rate_hz;      /* of the samples pushed; SB_RATE_MIN_HZ..SB_RATE_MAX_HZ */
    double lowest_hz;    /* fundamentals sought; 0 = 27 Hz */
    double highest_hz;   /* 0 = 1400 Hz */
    bool early_readings; /* also report a note while it sounds (live): within 0.4 s of its
                            attack, then at 0.8 and 1.6 s, marked still_sounding */
} sb_listener_options;

/* What a level meter shows. */
typedef struct {
    double level_dbfs; /* RMS of the last 50 ms, -120 at silence */
    double peak_dbfs;  /* highest sample of the last 50 ms */
    bool clipping;     /* samples at full scale within the last 0.5 s */
    bool sounding;     /* a note is being collected now */
    double note_s;     /* how long it has sounded */
    double floor_dbfs; /* noise floor of the room, as far as known; -120 = unknown */
} sb_meter;

/* Makes a listener; the caller releases it with sb_listener_free.
 * Errors: SB_E_RANGE (rate or pitch range), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_listener_new(const sb_listener_options *options, sb_listener **out);

/* Releases a listener; NULL is allowed. */
void sb_listener_free(sb_listener *listener);

/* Takes n samples (full scale = 1; NaN and infinities count as a drop-out). Errors: SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_listener_push(sb_listener *listener, const float samples[], size_t n);

/* Says that samples were lost at this point: a note across it is rejected. */
void sb_listener_gap(sb_listener *listener);

/* Says that no more samples come, so that the note still sounding is read.
 * Errors: SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_listener_finish(sb_listener *listener);

/* Takes the next reading, oldest first; false when there is none now. */
bool sb_listener_next(sb_listener *listener, sb_reading *out);

/* The present input level. */
sb_meter sb_listener_meter(const sb_listener *listener);

/* Samples taken so far, as seconds. */
double sb_listener_time_s(const sb_listener *listener);

#endif
