#include "audio/fourier.h"

#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { ALIGNED = 16, HALF_MAX = SB_FOURIER_PIECES_MAX / 2 };

/* Complex numbers, the same place of all pieces, of SB_LANES neighbouring places. */
struct across {
    sb_lanes re[HALF_MAX], im[HALF_MAX];
};

typedef struct {
    sb_lanes re, im;
} pair_lanes;

static size_t aligned(size_t bytes) {
    return (bytes + ALIGNED - 1) / ALIGNED * ALIGNED;
}

size_t sb_fourier_rows(size_t size, size_t pieces) {
    return (pieces / 2 + 1) * (size / pieces);
}

size_t sb_fourier_bytes(size_t size, size_t pieces) {
    size_t bytes = 0;
    (void)kiss_fft_alloc((int)(size / pieces), 0, NULL, &bytes);
    return aligned(bytes) + 2 * aligned(sb_fourier_rows(size, pieces) * sizeof(float));
}

/* e^(-2 pi i j/size) for j = 0, by, 2 by, ... Of the roots one turns into the next by a rotation:
 * after a thousand of them it is still true to 1e-13. */
static void fill_roots(size_t size, size_t by, size_t n, float re[], float im[]) {
    double angle = SB_TWO_PI * (double)by / (double)size;
    sb_cpx now = {1.0, 0.0}, turn = {cos(angle), -sin(angle)};
    for (size_t j = 0; j < n; j++, now = sb_cpx_times(now, turn))
        re[j] = (float)now.re, im[j] = (float)now.im;
}

void sb_fourier_make(sb_fourier *fourier, size_t size, size_t pieces, char *memory) {
    size_t length = size / pieces, rows = sb_fourier_rows(size, pieces), bytes = 0;
    *fourier = (sb_fourier){.size = size, .pieces = pieces, .length = length};
    while ((size_t)1 << fourier->ln2_pieces < pieces)
        fourier->ln2_pieces++;
    (void)kiss_fft_alloc((int)length, 0, NULL, &bytes);
    fourier->along = kiss_fft_alloc((int)length, 0, memory, &bytes);
    for (size_t i = 0; i < 2; i++) {
        void *table = memory + aligned(bytes) + i * aligned(rows * sizeof(float));
        fourier->turns[i] = table;
    }
    for (size_t row = 0; row <= pieces / 2; row++)
        fill_roots(size, row, length, fourier->turns[0] + row * length,
                   fourier->turns[1] + row * length);
    fill_roots(pieces, 1, pieces, fourier->roots[0], fourier->roots[1]);
}

static pair_lanes turned(pair_lanes a, float re, float im) {
    sb_lanes c = sb_lanes_all(re), s = sb_lanes_all(im);
    return (pair_lanes){a.re * c - a.im * s, a.re * s + a.im * c};
}

static void put(struct across *z, size_t at, pair_lanes value) {
    z->re[at] = value.re;
    z->im[at] = value.im;
}

/* Four numbers, `apart` from each other, into their transform, each turned by a power of the root
 * that `root` stands for. */
static void cross_four(const sb_fourier *fourier, struct across *z, size_t at, size_t apart,
                       size_t root) {
    const float *re = fourier->roots[0], *im = fourier->roots[1];
    size_t a = at, b = a + apart, c = b + apart, d = c + apart;
    pair_lanes sum = {z->re[a] + z->re[c], z->im[a] + z->im[c]},
               off = {z->re[a] - z->re[c], z->im[a] - z->im[c]},
               other_sum = {z->re[b] + z->re[d], z->im[b] + z->im[d]},
               other_off = {z->im[b] - z->im[d], z->re[d] - z->re[b]}; /* times -i */
    put(z, a, (pair_lanes){sum.re + other_sum.re, sum.im + other_sum.im});
    put(z, b,
        turned((pair_lanes){off.re + other_off.re, off.im + other_off.im}, re[root], im[root]));
    put(z, c,
        turned((pair_lanes){sum.re - other_sum.re, sum.im - other_sum.im}, re[2 * root],
               im[2 * root]));
    put(z, d,
        turned((pair_lanes){off.re - other_off.re, off.im - other_off.im}, re[3 * root],
               im[3 * root]));
}

/* Transforms pieces/2 complex numbers in place, which leaves them where place_of tells. */
static void cross(const sb_fourier *fourier, struct across *z) {
    size_t half = fourier->pieces / 2;
    for (size_t span = half; span > 1; span /= 4)
        for (size_t j = 0; j < span / 4; j++)
            for (size_t at = j; at < half; at += span)
                cross_four(fourier, z, at, span / 4, j * fourier->pieces / span);
}

/* The number with its base-4 digits reversed, below `half`. */
static size_t place_of(size_t k, size_t half) {
    size_t place = 0;
    for (size_t span = half; span > 1; span /= 4, k /= 4)
        place = 4 * place + k % 4;
    return place;
}

/* Writes a row's SB_LANES numbers from `place` on, turned. */
static void put_row(const sb_fourier *fourier, kiss_fft_cpx rows[], size_t row, size_t place,
                    pair_lanes z) {
    size_t at = row * fourier->length + place;
    sb_lanes c = sb_lanes_load(fourier->turns[0] + at), s = sb_lanes_load(fourier->turns[1] + at);
    sb_lanes re = z.re * c - z.im * s, im = z.re * s + z.im * c;
    for (size_t i = 0; i < SB_LANES; i++)
        rows[at + i] = (kiss_fft_cpx){re[i], im[i]};
}

/* Of the numbers whose real parts were the even pieces and whose imaginary ones the odd, row k and
 * its mirror image: with E and O the transforms of both, E + O e^(-2 pi i k/pieces). */
static void put_rows(const sb_fourier *fourier, const struct across *z, size_t k, size_t place,
                     kiss_fft_cpx rows[]) {
    size_t half = fourier->pieces / 2, a = place_of(k, half), b = place_of(k ? half - k : 0, half);
    sb_lanes two = sb_lanes_all(0.5f);
    pair_lanes even = {two * (z->re[a] + z->re[b]), two * (z->im[a] - z->im[b])},
               odd = {two * (z->im[a] + z->im[b]), two * (z->re[b] - z->re[a])};
    odd = turned(odd, fourier->roots[0][k], fourier->roots[1][k]);
    put_row(fourier, rows, k, place, (pair_lanes){even.re + odd.re, even.im + odd.im});
    put_row(fourier, rows, half - k, place, (pair_lanes){even.re - odd.re, odd.im - even.im});
}

void sb_fourier_run(const sb_fourier *fourier, const float samples[], kiss_fft_cpx spare[],
                    kiss_fft_cpx rows[]) {
    size_t length = fourier->length, half = fourier->pieces / 2;
    struct across z = {0};
    for (size_t next = 0; next < length; next += SB_LANES) {
        size_t place = next + SB_LANES <= length ? next : length - SB_LANES;
        for (size_t m = 0; m < half; m++) {
            z.re[m] = sb_lanes_load(samples + 2 * m * length + place);
            z.im[m] = sb_lanes_load(samples + (2 * m + 1) * length + place);
        }
        cross(fourier, &z);
        for (size_t k = 0; k <= half / 2; k++)
            put_rows(fourier, &z, k, place, spare);
    }
    for (size_t row = 0; row <= half; row++)
        kiss_fft(fourier->along, spare + row * length, rows + row * length);
}
