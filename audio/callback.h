/* callback: what runs in PortAudio's real-time thread, and nothing else.
 *
 * It copies one channel into the ring and counts what was lost. It allocates nothing, locks
 * nothing, prints nothing and never waits.
 */
#ifndef SB_CALLBACK_H
#define SB_CALLBACK_H

#include <portaudio.h>

#include "audio/ring.h"

typedef struct {
    sb_ring *ring;
    int channel;      /* 0-based, below the stream's channel count */
    atomic_int ended; /* for the stream's finished callback: no more blocks come */
} sb_intake;

/* A PaStreamCallback for a paFloat32 | paNonInterleaved input stream; `intake` is the
 * sb_intake. A block that PortAudio flags as overflowed, or hands over without data, counts
 * as lost whole: the hole may lie anywhere in it. */
int sb_callback(const void *input, void *output, unsigned long n_frames,
                const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *intake);

#endif
