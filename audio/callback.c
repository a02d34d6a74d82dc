#include "audio/callback.h"

int sb_callback(const void *input, void *output, unsigned long n_frames,
                const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *intake) {
    const sb_intake *to = intake;
    const float *const *channels = input;
    (void)output;
    (void)time;
    if (channels == NULL || (flags & paInputOverflow) != 0)
        sb_ring_lose(to->ring, n_frames);
    else
        sb_ring_write(to->ring, channels[to->channel], n_frames);
    return paContinue;
}
