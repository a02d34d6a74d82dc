#include "tests/support/wav.h"

#include <sndfile.h>

bool wav_write(const char *path, int rate_hz, int bits, const double x[], size_t n) {
    SF_INFO info = {.samplerate = rate_hz,
                    .channels = 1,
                    .format = SF_FORMAT_WAV | (bits == 24 ? SF_FORMAT_PCM_24 : SF_FORMAT_PCM_16)};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (file == NULL)
        return false;
    const bool whole = sf_write_double(file, x, (sf_count_t)n) == (sf_count_t)n;
    return sf_close(file) == 0 && whole;
}
