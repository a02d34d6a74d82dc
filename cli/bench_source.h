/* bench_source: where a session's sound comes from: recordings one after another, or a device.
 *
 * Recordings are heard at once, or at a pace, as if played. Nothing here prints but what a
 * device that cannot be opened makes sb_live_open say.
 */
#ifndef SB_BENCH_SOURCE_H
#define SB_BENCH_SOURCE_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/recording.h"
#include "cli/live.h"
#include "cli/take.h"

#define SB_SOURCE_TAKES 256

typedef enum {
    SB_SOURCE_ON,
    SB_SOURCE_TAKE_ENDED, /* its last notes are ready in the listener */
    SB_SOURCE_IDLE,       /* no recording is left */
    SB_SOURCE_BAD_TAKE,   /* `take` cannot be read: see `status`; the next call goes on */
    SB_SOURCE_SIGNAL,
    SB_SOURCE_LOST,
    SB_SOURCE_MEMORY
} sb_source_state;

typedef struct {
    double pace; /* 0 = as fast as may be, 1 = as it was played, 2 = twice as fast ... */
    int channel;
    bool early; /* readings of notes that still sound are wanted */
    bool is_live;
    sb_live live;
    char *takes[SB_SOURCE_TAKES];
    size_t n_takes, next;
    const char *take; /* what plays, or was the last to; NULL = none, or live */
    sb_status status; /* how its reading ended */
    sb_take facts;    /* of its sound, for what to say of a take without notes */
    sb_recording *recording;
    sb_listener *listener;
    double rate_hz, began_s, played_s;
} sb_source;

/* Begins with nothing to hear; release with sb_source_close in any case. */
void sb_source_open_takes(sb_source *source, double pace, int channel, bool early);

/* Listens to a device; 0, or the exit code with the failure reported. */
int sb_source_open_live(sb_source *source, const sb_input_options *options);

/* Puts a recording in the queue; the name is copied. False when there is no room. */
bool sb_source_add(sb_source *source, const char *path);

/* Hears a little further, waiting at most a twentieth of a second. */
sb_source_state sb_source_step(sb_source *source);

/* The listener to take readings from; NULL while there is none. */
sb_listener *sb_source_listener(const sb_source *source);

/* The input level; silence while nothing plays. */
sb_meter sb_source_meter(const sb_source *source);

/* Has the note that still sounds read. */
void sb_source_finish(sb_source *source);

void sb_source_close(sb_source *source);

#endif
