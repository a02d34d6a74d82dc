/* onset: where notes begin and end in a stream.
 *
 * Energy is followed in frames of 10 ms, over the whole band (averaged over 40 ms, longer
 * than the slowest string's period) and of the first difference of the sound, which lifts
 * the treble where a pluck is sharp and a ringing string has already faded (energy-based
 * novelty: Bello et al., IEEE Trans. Speech Audio Process. 13(5), 1035, 2005). An onset is
 * a jump of either; a note ends when it has sunk into the room's noise or is damped by hand.
 *
 * Internal to audio/.
 */
#ifndef SB_ONSET_H
#define SB_ONSET_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

typedef struct sb_onset sb_onset;

typedef enum { SB_EVENT_ONSET, SB_EVENT_END } sb_event_kind;

typedef struct {
    sb_event_kind kind;
    size_t at;         /* sample position from the stream's start */
    size_t room_since; /* onset: no note has sounded since here (== at: none known) */
    bool from_start;   /* onset: the recording simply began loud; perhaps no pluck at all */
} sb_onset_event;

/* Errors: SB_E_MEMORY. Release with sb_onset_free. */
SB_MUST_CHECK sb_status sb_onset_new(double rate_hz, sb_onset **out);
void sb_onset_free(sb_onset *onset);

/* Feeds samples in order; events come out of sb_onset_next, oldest first. */
void sb_onset_feed(sb_onset *onset, const float samples[], size_t n);
bool sb_onset_next(sb_onset *onset, sb_onset_event *event);

/* The room's noise level, dBFS; -120 while unknown. */
double sb_onset_floor_dbfs(const sb_onset *onset);

#endif
