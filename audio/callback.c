#include "audio/callback.h"

/* Whether this block comes from what piled up during a pause. The clock may be set back. */
static bool is_piled_up(sb_intake *in, double now_s) {
    if (in->called_s > 0 && now_s - in->called_s > SB_PAUSE_S) {
        in->resumed_s = now_s;
        in->piled_up = true;
    }
    in->called_s = now_s;
    in->piled_up = in->piled_up && now_s >= in->resumed_s && now_s < in->resumed_s + SB_PILE_S;
    return in->piled_up;
}

int sb_callback(const void *input, void *output, unsigned long n_frames,
                const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *intake) {
    sb_intake *in = intake;
    const float *const *channels = input;
    (void)output;
    if (is_piled_up(in, time->currentTime) || channels == NULL || (flags & paInputOverflow) != 0)
        sb_ring_lose(in->ring, n_frames);
    else
        sb_ring_write(in->ring, channels[in->channel], n_frames);
    return paContinue;
}
