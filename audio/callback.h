/* callback: what runs in PortAudio's real-time thread, and nothing else.
 *
 * It copies one channel into the ring and counts what was lost. It allocates nothing, locks
 * nothing, prints nothing and never waits.
 */
#ifndef SB_CALLBACK_H
#define SB_CALLBACK_H

#include <stdbool.h>

#include <portaudio.h>

#include "audio/ring.h"

/* After a pause this long the blocks that have piled up, for so long, count as lost: a sound
 * server drops what its own buffer cannot hold and tells nobody, and the place lies somewhere
 * in the pile. The program may have been stopped from the keyboard, or the machine asleep. */
#define SB_PAUSE_S 1.0
#define SB_PILE_S  0.25

typedef struct {
    sb_ring *ring;
    int channel;      /* 0-based, below the stream's channel count */
    atomic_int ended; /* for the stream's finished callback: no more blocks come */

    /* The callback's own; zero at first. */
    double called_s; /* PortAudio's clock at the last call; 0 = none yet */
    double resumed_s;
    bool piled_up;
} sb_intake;

/* A PaStreamCallback for a paFloat32 | paNonInterleaved input stream; `intake` is the
 * sb_intake. A block that PortAudio flags as overflowed, or hands over without data, counts
 * as lost whole: the hole may lie anywhere in it. */
int sb_callback(const void *input, void *output, unsigned long n_frames,
                const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *intake);

#endif
