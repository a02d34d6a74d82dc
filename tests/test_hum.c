/* Hum of known frequency, made here: how near its lines are followed through the room, and that
 * they go out of what comes after, unless they changed. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "audio/hum.h"
#include "tests/support/prng.h"

#define RATE 48000.0
#define PI   3.14159265358979323846

enum { ROOM = 28800, BETWEEN = 14400, NOTE = 48000, HARMONICS = 8, TRIALS = 40 };

static const double AMPLITUDE = 0.01;

/* Harmonics 1 to 8, each a k-th of the first, in white noise, and a loud note after the room. */
typedef struct {
    double mains_hz, sigma;
    uint64_t seed;
    double later; /* their size in the note, of what it was in the room */
    double string_hz;
    double drift; /* of the mains, Hz a second */
} scene;

static double size_of(int k) {
    return AMPLITUDE / k;
}

static float *make(const scene *s) {
    const size_t n = ROOM + BETWEEN + NOTE;
    prng rng = prng_seeded(s->seed);
    double phase[HARMONICS];
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    for (int k = 0; k < HARMONICS; k++)
        phase[k] = prng_uniform(&rng, 0.0, 2.0 * PI);
    for (size_t i = 0; i < n; i++) {
        const double t = (double)i / RATE;
        double y = s->sigma * prng_normal(&rng);
        for (int k = 1; k <= HARMONICS; k++)
            y += (i < ROOM ? 1.0 : s->later) * size_of(k) *
                 cos(2.0 * PI * k * (s->mains_hz * t + 0.5 * s->drift * t * t) + phase[k - 1]);
        if (s->string_hz > 0.0 && i >= ROOM)
            for (int k = 1; k <= 10; k++)
                y += 0.1 / k * cos(2.0 * PI * k * s->string_hz * t);
        x[i] = (float)y;
    }
    return x;
}

/* As the room's spectrum gives it: the frequency on a coarse grid. */
static sb_hum coarse(double mains_hz) {
    sb_hum hum = {.mains_hz = mains_hz};
    for (int k = 1; k <= HARMONICS; k++)
        hum.amplitude[k - 1] = size_of(k);
    return hum;
}

static bool follow(const scene *s, const float x[], sb_hum_lines *lines) {
    const sb_hum hum = coarse(s->mains_hz * 1.0003);
    return sb_hum_follow(&hum, x, ROOM, RATE, lines);
}

/* Cramer-Rao bound of the one frequency behind all harmonics, phases and sizes unknown: their
 * informations add, each that of a real tone, 24 sigma^2/(A^2 N^3) for its angular frequency (Rife
 * & Boorstyn, IEEE Trans. Inf. Theory 20, 591, 1974), times k^2. */
static double bound_hz(double sigma) {
    double information = 0.0;
    for (int k = 1; k <= HARMONICS; k++)
        information += k * k * size_of(k) * size_of(k) * pow(ROOM, 3.0) / (24.0 * sigma * sigma);
    return RATE / (2.0 * PI) / sqrt(information);
}

static void test_the_frequency_is_near_the_bound(void **state) {
    (void)state;
    static const double sigma[] = {1e-4, 3e-3};
    for (size_t j = 0; j < 2; j++) {
        double square = 0.0, reported = 0.0;
        for (uint64_t seed = 0; seed < TRIALS; seed++) {
            const scene s = {seed % 2 ? 50.013 : 59.978, sigma[j], seed, 1.0, 0.0, 0.0};
            float *x = make(&s);
            sb_hum_lines lines;
            assert_true(follow(&s, x, &lines));
            square += pow(lines.mains_hz - s.mains_hz, 2.0) / TRIALS;
            reported += lines.mains_variance / TRIALS;
            free(x);
        }
        print_message("sigma %.0e: RMS %.2e Hz, reported %.2e, bound %.2e\n", sigma[j],
                      sqrt(square), sqrt(reported), bound_hz(sigma[j]));
        assert_true(sqrt(square) < 1.4 * bound_hz(sigma[j]));
        assert_true(fabs(log(reported / square)) < log(2.0));
    }
}

static double power_of(const float x[], size_t n, double hz) {
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < n; i++) {
        re += (double)x[i] * cos(2.0 * PI * hz * (double)i / RATE);
        im += (double)x[i] * sin(2.0 * PI * hz * (double)i / RATE);
    }
    return 4.0 * (re * re + im * im) / ((double)n * (double)n);
}

/* 50 Hz to the sample, so that whole periods fit. */
static void test_its_lines_go_out_of_what_follows(void **state) {
    (void)state;
    const scene s = {50.0, 1e-4, 3, 1.0, 0.0, 0.0};
    float *x = make(&s), *note = x + ROOM + BETWEEN;
    const double after_s = BETWEEN / RATE;
    sb_hum_lines lines;
    assert_true(follow(&s, x, &lines));
    assert_true(sb_hum_goes_on(&lines, note, NOTE, after_s, RATE));
    sb_hum_take_out(&lines, after_s, RATE, note, NOTE);
    for (int k = 1; k <= HARMONICS; k++)
        assert_true(power_of(note, NOTE, k * 50.0) < 1e-3 * size_of(k) * size_of(k));
    free(x);
}

/* What is left of a line is no more than it is said to be, three standard errors, whether it was
 * taken out or not. Grids keep their frequency to some mHz a second (from memory). */
static void test_a_mains_that_drifts(void **state) {
    (void)state;
    static const double drift[] = {-0.02, 0.005, 0.05};
    for (size_t j = 0; j < 3; j++) {
        const scene s = {50.0, 1e-4, 11 + j, 1.0, 0.0, drift[j]};
        float *x = make(&s), *note = x + ROOM + BETWEEN;
        const double after_s = BETWEEN / RATE, middle_s = after_s + 0.5 * NOTE / RATE;
        sb_hum_lines lines;
        assert_true(follow(&s, x, &lines));
        if (sb_hum_goes_on(&lines, note, NOTE, after_s, RATE)) {
            sb_hum_take_out(&lines, after_s, RATE, note, NOTE);
            for (size_t i = 0; i < lines.n; i++) {
                const int k = lines.line[i].k;
                const double left = sqrt(power_of(note, NOTE, k * 50.0)) / size_of(k),
                             error = fmin(sb_hum_error(&lines, i, middle_s), 1.0);
                print_message("%+.3f Hz/s, harmonic %d: left %.3f, said %.3f\n", drift[j], k, left,
                              error);
                assert_true(left < 3.0 * error);
            }
        }
        free(x);
    }
}

static bool goes_on(double later, double string_hz) {
    const scene s = {50.013, 1e-4, 5, later, string_hz, 0.0};
    float *x = make(&s);
    sb_hum_lines lines;
    assert_true(follow(&s, x, &lines));
    const bool on = sb_hum_goes_on(&lines, x + ROOM + BETWEEN, NOTE, BETWEEN / RATE, RATE);
    free(x);
    return on;
}

static void test_what_has_changed_stays_in(void **state) {
    (void)state;
    assert_true(goes_on(1.0, 110.0)); /* 30 times as loud, with partials near some */
    assert_true(goes_on(0.9, 0.0));
    assert_false(goes_on(0.3, 0.0));
    assert_false(goes_on(-1.0, 110.0));
}

static void test_there_is_none(void **state) {
    (void)state;
    const scene s = {50.0, 1e-3, 7, 1.0, 0.0, 0.0};
    float *x = make(&s);
    sb_hum_lines lines = {.n = 3};
    const sb_hum none = {0}, some = coarse(50.0);
    assert_false(sb_hum_follow(&none, x, ROOM, RATE, &lines));
    assert_false(sb_hum_follow(&some, x, (size_t)(0.2 * RATE), RATE, &lines)); /* too short */
    assert_int_equal(lines.n, 0);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_frequency_is_near_the_bound),
        cmocka_unit_test(test_its_lines_go_out_of_what_follows),
        cmocka_unit_test(test_a_mains_that_drifts),
        cmocka_unit_test(test_what_has_changed_stays_in),
        cmocka_unit_test(test_there_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
