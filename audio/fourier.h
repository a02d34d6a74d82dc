/* fourier: the transform of a long real sound, by KissFFT along and lanes across.
 *
 * KissFFT is at its best while all it works on stays in the nearest cache. So the sound of
 * pieces x length samples is cut into pieces; what lies at the same place of all pieces is
 * transformed across, four places at once; each result is turned by its place and transformed
 * along, by KissFFT, in a few microseconds (the four-step transform: Bailey, J. Supercomput. 4,
 * 23, 1990). As the sound is real half of the results will do: bin k stands in row k % pieces,
 * and in the rows' second half mirrored (sb_fourier_bin).
 *
 * Internal to audio/.
 */
#ifndef SB_FOURIER_H
#define SB_FOURIER_H

#include <kiss_fft.h>
#include <stddef.h>

#define SB_FOURIER_PIECES_MAX 128

typedef struct {
    size_t size, pieces, length; /* size = pieces x length */
    unsigned ln2_pieces;
    kiss_fft_cfg along;
    float *turns[2]; /* real and imaginary: of row r at place i by [r length + i] */
    float roots[2][SB_FOURIER_PIECES_MAX];
} sb_fourier;

/* Bytes that a plan for so many samples needs. pieces: 8, 32 or 128; size: a multiple of it, and
 * at least four times that. */
size_t sb_fourier_bytes(size_t size, size_t pieces);

/* Makes the plan, in memory[] of that size, aligned as by malloc, which it uses until its end. */
void sb_fourier_make(sb_fourier *fourier, size_t size, size_t pieces, char *memory);

/* Numbers in the rows of a plan for so many samples. */
size_t sb_fourier_rows(size_t size, size_t pieces);

/* Transforms samples[0..size-1] into rows[]. spare[]: as many as there, to work in. */
void sb_fourier_run(const sb_fourier *fourier, const float samples[], kiss_fft_cpx spare[],
                    kiss_fft_cpx rows[]);

/* sum_i samples[i] e^(-2 pi i bin/size), 0 <= bin <= size/2. */
static inline kiss_fft_cpx sb_fourier_bin(const sb_fourier *fourier, const kiss_fft_cpx rows[],
                                          size_t bin) {
    size_t row = bin & (fourier->pieces - 1);
    if (row <= fourier->pieces / 2)
        return rows[row * fourier->length + (bin >> fourier->ln2_pieces)];
    row = fourier->pieces - row;
    bin = fourier->size - bin;
    kiss_fft_cpx value = rows[row * fourier->length + (bin >> fourier->ln2_pieces)];
    value.i = -value.i;
    return value;
}

#endif
