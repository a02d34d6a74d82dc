#include "tests/support/peers.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <aubio/aubio.h>

static const peer all[PEERS] = {
    {"yin", 2048, "yin 2048"},         {"yin", 8192, "yin 8192"},
    {"yinfft", 2048, "yinfft 2048"},   {"yinfft", 8192, "yinfft 8192"},
    {"yinfast", 2048, "yinfast 2048"}, {"yinfast", 8192, "yinfast 8192"},
    {"fcomb", 2048, "fcomb 2048"},     {"fcomb", 8192, "fcomb 8192"},
    {"mcomb", 2048, "mcomb 2048"},     {"mcomb", 8192, "mcomb 8192"},
};

const peer *peers_all(void) {
    return all;
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double values[], size_t n) {
    if (n == 0)
        return 0.0;
    qsort(values, n, sizeof *values, ascending);
    return n % 2 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

/* Feeds every whole hop; a frame counts once the buffer behind it is full. hz[] holds one
 * place for each hop. */
static size_t run(aubio_pitch_t *pitch, size_t buffer, const float samples[], size_t n,
                  double hz[]) {
    const size_t hop = buffer / 8;
    size_t found = 0;
    fvec_t *in = new_fvec((uint_t)hop), *out = new_fvec(1);
    for (size_t at = 0; in != NULL && out != NULL && at + hop <= n; at += hop) {
        memcpy(in->data, samples + at, hop * sizeof *samples);
        aubio_pitch_do(pitch, in, out);
        const double got = (double)fvec_get_sample(out, 0);
        if (at + hop >= buffer && isfinite(got) && got > 0.0)
            hz[found++] = got;
    }
    if (out != NULL)
        del_fvec(out);
    if (in != NULL)
        del_fvec(in);
    return found;
}

double peer_pitch_hz(const peer *p, double rate_hz, const float samples[], size_t n) {
    const unsigned hop = p->buffer / 8;
    double *hz = calloc(n / hop + 1, sizeof *hz), result = 0.0;
    aubio_pitch_t *pitch = new_aubio_pitch(p->method, p->buffer, hop, (unsigned)lround(rate_hz));
    if (hz != NULL && pitch != NULL) {
        (void)aubio_pitch_set_unit(pitch, "Hz");
        (void)aubio_pitch_set_silence(pitch, -120.0f); /* the note's end counts too */
        result = median(hz, run(pitch, p->buffer, samples, n, hz));
    }
    if (pitch != NULL)
        del_aubio_pitch(pitch);
    free(hz);
    return result;
}
