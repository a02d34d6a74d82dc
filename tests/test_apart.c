/* What does not glide beside a partial that does: another string's line, set apart. The truth is
 * what the sound was made of. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "audio/track.h"
#include "tests/support/prng.h"

#define RATE 48000.0
#define HZ   660.0 /* of the partial, settled */
#define NEXT 220.0 /* to the partials that would lie beside it */

enum { SAMPLES = 72000 };

static const sb_glide glide = {.gamma = 0.006,
                               .shape = {.terms = 1, .weight = {1.0}, .rate_per_s = {1.0 / 0.3}}};

typedef struct {
    float *samples;
    sb_spectrum *spectrum;
    sb_track track;
} fixture;

/* The partial, and a steady line of that amplitude at other_hz. */
static void begin(fixture *f, double other_hz, double amplitude) {
    const double turn = 2.0 * acos(-1.0);
    prng rng = prng_seeded(4);
    f->samples = malloc(SAMPLES * sizeof *f->samples);
    assert_non_null(f->samples);
    for (size_t k = 0; k < SAMPLES; k++) {
        const double t = (double)k / RATE, ahead = 0.006 * 0.3 * (1.0 - exp(-t / 0.3));
        double x = 0.1 * exp(-1.2 * t) * cos(turn * HZ * (t + ahead) + 0.4);
        x += amplitude * exp(-0.7 * t) * cos(turn * other_hz * t + 1.9);
        f->samples[k] = (float)(x + prng_uniform(&rng, -1e-4, 1e-4));
    }
    assert_int_equal(sb_spectrum_new(RATE, SAMPLES, &f->spectrum), SB_OK);
    sb_spectrum_load(f->spectrum, f->samples, SAMPLES);
    assert_true(sb_track_start(&f->track, f->spectrum, &glide, 3,
                               (sb_track_aim){.hz = HZ, .spacing_hz = NEXT, .reach_hz = 3.0}));
}

static void end(fixture *f) {
    sb_spectrum_free(f->spectrum);
    free(f->samples);
}

/* Found where it is, and out of the partial's way: what seemed noise round it was that line. */
static void test_a_line_that_stays(void **state) {
    (void)state;
    const double others_hz[] = {652.0, 668.0, 675.0};
    for (size_t i = 0; i < sizeof others_hz / sizeof *others_hz; i++) {
        fixture f;
        begin(&f, others_hz[i], 0.02);
        const double before = fabs(f.track.hz - HZ), noise = f.track.noise;
        sb_track_set_apart(&f.track, f.spectrum, &glide);
        assert_int_equal(f.track.n_apart, 1);
        const double found_hz = f.track.band.centre_hz + f.track.apart[0].hz;
        print_message("%.0f Hz: found at %.4f, partial off by %.5f Hz, before %.5f\n", others_hz[i],
                      found_hz, f.track.hz - HZ, before);
        assert_true(fabs(found_hz - others_hz[i]) < 0.01);
        assert_true(fabs(f.track.apart[0].decay_per_s - 0.7) < 0.1);
        assert_true(fabs(f.track.hz - HZ) < 0.001);
        assert_true(f.track.noise < 0.01 * noise);
        /* Once more, the band cut anew, it stays out. */
        sb_track_cut_again(&f.track, f.spectrum, &glide, NEXT);
        assert_true(fabs(f.track.hz - HZ) < 0.001);
        sb_track_set_apart(&f.track, f.spectrum, &glide);
        assert_int_equal(f.track.n_apart, 1);
        end(&f);
    }
}

static void test_there_is_none(void **state) {
    (void)state;
    fixture f;
    begin(&f, 668.0, 0.0);
    const double hz = f.track.hz;
    sb_track_set_apart(&f.track, f.spectrum, &glide);
    assert_int_equal(f.track.n_apart, 0);
    assert_true(f.track.hz == hz);
    end(&f);
}

/* So near to the partial as what a glide not quite known leaves of it, nothing is set apart. */
static void test_too_near(void **state) {
    (void)state;
    fixture f;
    begin(&f, HZ + 0.8, 0.02);
    sb_track_set_apart(&f.track, f.spectrum, &glide);
    for (size_t j = 0; j < f.track.n_apart; j++)
        assert_true(fabs(f.track.band.centre_hz + f.track.apart[j].hz - HZ) > 1.0);
    end(&f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_line_that_stays),
        cmocka_unit_test(test_there_is_none),
        cmocka_unit_test(test_too_near),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
