/* Taps and plucks of known strength, made here. A tap is noise that dies away exponentially, so
 * that its RMS over 45 ms follows from its first amplitude a and its time constant T:
 * a sqrt(T / 2 (1 - exp(-0.09 s / T)) / 0.045 s). */
#include <math.h>
#include <stdlib.h>

#include "audio/taps.h"
#include "core/levels.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/within.h"

#define RATE 48000.0

typedef struct {
    double *x;
    size_t n;
    prng rng;
} scene;

static scene begin(double length_s, double noise_dbfs, double hum_dbfs, uint64_t seed) {
    scene s = {.n = (size_t)(length_s * RATE), .rng = prng_seeded(seed)};
    synth_room room = room_silent(1.0, seed + 1);
    s.x = calloc(s.n, sizeof *s.x);
    assert_non_null(s.x);
    room.noise_db = noise_dbfs;
    room.hum_db = hum_dbfs;
    room_add(&room, RATE, s.x, s.n);
    return s;
}

/* level_dbfs over 45 ms, whatever the time constant. */
static void tap(scene *s, double at_s, double level_dbfs, double dies_s) {
    double share = dies_s / 2 * (1 - exp(-0.09 / dies_s)) / 0.045;
    double amplitude = pow(10, level_dbfs / 20) / sqrt(share);
    for (size_t i = (size_t)(at_s * RATE), k = 0; i < s->n && k < 24000; i++, k++)
        s->x[i] += amplitude * exp(-(double)k / RATE / dies_s) * prng_normal(&s->rng);
}

static void pluck(scene *s, double at_s, double hz, double rms) {
    synth_note note = synth_plain(hz, 4e-5, prng_next(&s->rng));
    note.rms = rms;
    note.at_s = at_s;
    (void)synth_add(&note, RATE, s->x, s->n);
}

static size_t find(scene *s, sb_tap taps[], size_t max) {
    float *samples = malloc(s->n * sizeof *samples);
    sb_sound *sound = NULL;
    assert_non_null(samples);
    synth_to_float(s->x, s->n, samples);
    assert_int_equal(sb_sound_new(RATE, 0, &sound), SB_OK);
    for (size_t i = 0; i < s->n; i += 1000)
        assert_int_equal(sb_sound_push(sound, samples + i, s->n - i < 1000 ? s->n - i : 1000),
                         SB_OK);
    size_t n = sb_taps_find(sound, taps, max);
    sb_sound_free(sound);
    free(samples);
    free(s->x);
    return n;
}

/* Loud and quiet, short and long, anywhere within a frame; all of them, and no others. */
static void taps_are_found_and_measured(void **state) {
    (void)state;
    const double level[] = {-30, -34, -40, -50, -60, -32, -37, -44, -55, -28};
    const double dies_s[] = {0.003, 0.006, 0.012, 0.02, 0.006};
    sb_tap taps[SB_TAPS_MAX];
    for (uint64_t seed = 0; seed < 6; seed++) {
        scene s = begin(8.0, -78, -55, 40 + seed);
        double at_s[10];
        for (int i = 0; i < 10; i++) {
            at_s[i] = 0.5 + 0.7 * i + prng_uniform(&s.rng, 0, 0.01);
            tap(&s, at_s[i], level[i], dies_s[i % 5]);
        }
        assert_int_equal(find(&s, taps, SB_TAPS_MAX), 10);
        for (int i = 0; i < 10; i++) {
            assert_within(taps[i].at_s, at_s[i], 0.011);
            /* Noise of some 200 samples strays by 0.5 dB. */
            assert_within(taps[i].level_dbfs, level[i], 2.5);
            assert_false(taps[i].string);
            assert_false(taps[i].overloaded);
        }
    }
}

static void plucks_are_told_from_taps(void **state) {
    (void)state;
    const double hz[] = {41.2, 82.41, 110.0, 146.83, 196.0, 246.94, 329.63, 659.3};
    sb_tap taps[SB_TAPS_MAX];
    for (size_t i = 0; i < sizeof hz / sizeof hz[0]; i++) {
        scene s = begin(4.0, -75, -60, 70 + i);
        tap(&s, 0.5, -25, 0.006);
        pluck(&s, 1.5, hz[i], 0.05);
        assert_int_equal(find(&s, taps, SB_TAPS_MAX), 2);
        assert_false(taps[0].string);
        assert_true(taps[1].string);
        assert_within(taps[1].at_s, 1.5, 0.02);
    }
}

static void nothing_in_noise_and_hum(void **state) {
    (void)state;
    sb_tap taps[SB_TAPS_MAX];
    for (uint64_t seed = 0; seed < 4; seed++) {
        scene s = begin(6.0, -60, -40, 90 + seed);
        assert_int_equal(find(&s, taps, SB_TAPS_MAX), 0);
    }
}

static void an_overload_is_noticed(void **state) {
    (void)state;
    sb_tap taps[SB_TAPS_MAX];
    scene s = begin(1.5, -70, SYNTH_OFF_DB, 5);
    tap(&s, 0.5, -3, 0.006);
    for (size_t i = 0; i < s.n; i++)
        s.x[i] = fmax(-1, fmin(1, s.x[i]));
    assert_int_equal(find(&s, taps, SB_TAPS_MAX), 1);
    assert_true(taps[0].overloaded);
}

static void pauses_make_groups(void **state) {
    (void)state;
    const double at_s[] = {1.0, 1.5, 2.1, 4.0, 4.4, 6.0};
    const size_t want[] = {0, 0, 0, 1, 1, 2};
    sb_tap taps[6] = {{0}};
    size_t group[6];
    for (int i = 0; i < 6; i++)
        taps[i].at_s = at_s[i];
    assert_int_equal(sb_taps_group(taps, 6, 1.5, group), 3);
    for (int i = 0; i < 6; i++)
        assert_int_equal(group[i], want[i]);
    assert_int_equal(sb_taps_group(taps, 0, 1.5, group), 0);
}

/* --- what it is found in -------------------------------------------------------------------- */

/* A sine of amplitude 0.1 over a constant 0.3: mean square 0.005. */
static void a_constant_level_does_not_count(void **state) {
    (void)state;
    enum { N = 44100 };
    float *x = malloc(N * sizeof *x);
    sb_sound *sound = NULL;
    assert_non_null(x);
    for (int i = 0; i < N; i++)
        x[i] = (float)(0.3 + 0.1 * sin(2 * 3.14159265358979 * 1000 * i / 44100.0));
    x[15000] = (float)NAN;
    x[15001] = 1e30f;
    assert_int_equal(sb_sound_new(44100, 0.5, &sound), SB_OK);
    assert_int_equal(sb_sound_push(sound, x, N), SB_OK);
    size_t kept;
    const float *samples = sb_sound_samples(sound, &kept);
    assert_non_null(samples);
    assert_within((double)samples[15000], 0, 0);
    assert_within((double)samples[15001], 0, 0);
    assert_int_equal(kept, 22050);
    assert_int_equal(sb_sound_frames(sound), 200);
    assert_within(sb_power_db(sb_sound_mean_power(sound, 0.4, 0.6)), sb_power_db(0.005), 0.02);
    assert_within(sb_sound_peak(sound, 100), 0.4, 1e-3);
    assert_true(sb_sound_mean_power(sound, 0.9, 1.2) < 0);
    assert_true(sb_sound_mean_power(sound, 0.5, 0.5) < 0);
    sb_sound_free(sound);
    free(x);
}

static void what_cannot_be(void **state) {
    (void)state;
    sb_sound *sound = NULL;
    assert_int_equal(sb_sound_new(0, 0, &sound), SB_E_RANGE);
    assert_int_equal(sb_sound_new((double)NAN, 0, &sound), SB_E_RANGE);
    assert_int_equal(sb_sound_new(48000, 1e6, &sound), SB_E_RANGE);
    sb_sound_free(NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(taps_are_found_and_measured),
        cmocka_unit_test(plucks_are_told_from_taps),
        cmocka_unit_test(nothing_in_noise_and_hum),
        cmocka_unit_test(an_overload_is_noticed),
        cmocka_unit_test(pauses_make_groups),
        cmocka_unit_test(a_constant_level_does_not_count),
        cmocka_unit_test(what_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
