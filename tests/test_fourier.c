/* The transform of a long real sound against its definition, summed in double precision. */
#include <math.h>
#include <stdlib.h>

#include "audio/fourier.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define TWO_PI 6.283185307179586

enum { LONGEST = 128 * 45 };

/* e^(-2 pi i k i/size) against every sample. */
static void sum_up(const float x[], size_t size, size_t bin, double *re, double *im) {
    *re = *im = 0;
    for (size_t i = 0; i < size; i++) {
        double angle = TWO_PI * (double)(bin * i % size) / (double)size;
        *re += (double)x[i] * cos(angle);
        *im -= (double)x[i] * sin(angle);
    }
}

static void check_size(size_t pieces, size_t length) {
    float x[LONGEST];
    size_t size = pieces * length, n = sb_fourier_rows(size, pieces);
    prng rng = prng_seeded(7);
    for (size_t i = 0; i < size; i++)
        x[i] = (float)prng_uniform(&rng, -0.5, 0.5);
    sb_fourier fourier;
    char *memory = malloc(sb_fourier_bytes(size, pieces));
    kiss_fft_cpx *rows = calloc(n, sizeof *rows), *spare = calloc(n, sizeof *spare);
    assert_true(memory && rows && spare);
    sb_fourier_make(&fourier, size, pieces, memory);
    sb_fourier_run(&fourier, x, spare, rows);
    /* single precision: an error of some 1e-7 of what a bin holds by chance */
    double allowed = 1e-6 * sqrt((double)size);
    for (size_t bin = 0; bin <= size / 2; bin += bin % 7 ? 1 : 5) {
        double re, im;
        sum_up(x, size, bin, &re, &im);
        kiss_fft_cpx value = sb_fourier_bin(&fourier, rows, bin);
        assert_within((double)value.r, re, allowed);
        assert_within((double)value.i, im, allowed);
    }
    free(memory);
    free(rows);
    free(spare);
}

static void test_agrees_with_its_definition(void **state) {
    (void)state;
    check_size(8, 4);
    check_size(8, 45);
    check_size(32, 18);
    check_size(128, 5);
    check_size(128, 45);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_agrees_with_its_definition)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
