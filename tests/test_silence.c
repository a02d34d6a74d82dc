/* Noise and hum of known strength, made here; what is measured must be what was put in. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/silence.h"
#include "core/levels.h"
#include "tests/support/prng.h"
#include "tests/support/synth.h"
#include "tests/support/within.h"

#define PI 3.14159265358979323846

typedef struct {
    double rate_hz, length_s;
    double noise_dbfs; /* RMS of white noise over the whole band; SYNTH_OFF_DB = none */
    double hum_hz;
    double hum_dbfs[8]; /* RMS of harmonic k + 1; 0 = none */
    double dc;
    uint64_t seed;
} room;

static float *make(const room *r, size_t *n) {
    prng rng = prng_seeded(r->seed);
    *n = (size_t)(r->rate_hz * r->length_s);
    float *x = malloc(*n * sizeof *x);
    double sigma = r->noise_dbfs > SYNTH_OFF_DB ? pow(10, r->noise_dbfs / 20) : 0, phase[8];
    assert_non_null(x);
    for (int k = 0; k < 8; k++)
        phase[k] = prng_uniform(&rng, 0, 2 * PI);
    for (size_t i = 0; i < *n; i++) {
        double y = r->dc + (sigma > 0 ? sigma * prng_normal(&rng) : 0);
        for (int k = 0; k < 8; k++)
            if (r->hum_dbfs[k] < 0)
                y += sqrt(2) * pow(10, r->hum_dbfs[k] / 20) *
                     cos(2 * PI * (k + 1) * r->hum_hz * (double)i / r->rate_hz + phase[k]);
        x[i] = (float)y;
    }
    return x;
}

static sb_silence measure(const room *r) {
    size_t n;
    sb_silence s;
    float *x = make(r, &n);
    assert_int_equal(sb_silence_measure(x, n, r->rate_hz, &s), SB_OK);
    free(x);
    return s;
}

/* What of white noise lies in the band, in dB. */
static double in_band_db(double rate_hz) {
    double top = fmin(20000, 0.47 * rate_hz);
    return 10 * log10((top - 20) / (rate_hz / 2));
}

static double hum_db(const room *r) {
    double power = 0;
    for (int k = 0; k < 8; k++)
        power += r->hum_dbfs[k] < 0 ? pow(10, r->hum_dbfs[k] / 10) : 0;
    return 10 * log10(power);
}

static void noise_and_hum_are_told_apart(void **state) {
    (void)state;
    const struct {
        room r;
        double noise_off_db, hum_off_db, hz_off; /* the claims */
    } rows[] = {
        {{48000, 6, -70, 50.03, {-60, -70, -66, 0, -75}, 0, 1}, 0.06, 0.05, 0.003},
        {{44100, 6, -70, 49.80, {-60, -70, -66, 0, -75}, 0, 2}, 0.06, 0.05, 0.003},
        {{44100, 6, -70, 50.20, {-60, -70, -66, 0, -75}, 0.1, 3}, 0.06, 0.05, 0.003},
        {{96000, 6, -70, 59.93, {-60, -70, -66, 0, -75}, 0, 4}, 0.06, 0.05, 0.003},
        {{48000, 2, -70, 60.10, {-60, -70, -66, 0, -75}, 0, 5}, 0.1, 0.15, 0.02},
        /* Hum alone, single coils under a lamp; the quieter harmonics of it. */
        {{48000, 6, -100, 50.02, {-40, -60, -46, -70, -50, 0, -55}, 0, 6}, 0.15, 0.02, 0.001},
        /* Hum far under the noise. */
        {{48000, 20, -60, 49.95, {-85, 0, -88}, 0, 7}, 0.05, 0.8, 0.02},
        /* A low rate. */
        {{8000, 6, -70, 50.03, {-60, -70, -66, 0, -75}, 0, 8}, 0.1, 0.07, 0.003},
        /* No fundamental: rectified mains. */
        {{48000, 6, -75, 60.00, {0, -62, 0, -70, 0, -74}, 0, 9}, 0.06, 0.05, 0.003},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const room *r = &rows[i].r;
        sb_silence s = measure(r);
        assert_within(s.mains_hz, r->hum_hz, rows[i].hz_off);
        assert_int_equal(s.nominal_hz, r->hum_hz < 55 ? 50 : 60);
        assert_within(s.hum_dbfs, hum_db(r), rows[i].hum_off_db);
        assert_within(s.noise_dbfs, r->noise_dbfs + in_band_db(r->rate_hz), rows[i].noise_off_db);
        assert_within(sb_db_power(s.total_dbfs),
                      sb_db_power(s.hum_dbfs) + sb_db_power(s.noise_dbfs),
                      0.01 * sb_db_power(s.total_dbfs));
        assert_true(s.hum_std_error_db > 0 && s.hum_std_error_db < 1.5);
        assert_true(s.noise_std_error_db > 0 && s.noise_std_error_db < 0.3);
    }
}

static void harmonics_are_told_one_by_one(void **state) {
    (void)state;
    const room r = {48000, 6, -75, 50.03, {-50, -62, -56, 0, -60}, 0, 11};
    sb_silence s = measure(&r);
    for (int k = 0; k < 5; k++)
        if (r.hum_dbfs[k] < 0)
            assert_within(s.harmonic_dbfs[k], r.hum_dbfs[k], 0.1);
        else
            assert_true(s.harmonic_dbfs[k] < -90);
}

/* A sine of amplitude 1 is at -3.01 dBFS: the plain RMS (core/levels.h). */
static void full_scale(void **state) {
    (void)state;
    const room r = {48000, 4, SYNTH_OFF_DB, 1000, {-3.0102999566}, 0, 12};
    sb_silence s = measure(&r);
    assert_within(s.total_dbfs, -3.0103, 0.001);
}

static void noise_alone_is_no_hum(void **state) {
    (void)state;
    int hums = 0;
    for (uint64_t seed = 100; seed < 400; seed++) {
        const room r = {8000, seed % 2 ? 1.5 : 5, -60, 50, {0}, 0, seed};
        hums += measure(&r).nominal_hz > 0;
    }
    assert_true(hums <= 3); /* one in a hundred */
}

/* The error is what the measurements scatter by: about 1 in 20 lies beyond two. */
static void the_error_is_honest(void **state) {
    (void)state;
    int noise = 0, hum = 0;
    for (uint64_t seed = 500; seed < 600; seed++) {
        const room r = {8000, 8, -70, 50.1, {-72, 0, -78}, 0, seed};
        sb_silence s = measure(&r);
        noise += fabs(s.noise_dbfs + 70 - in_band_db(8000)) > 2 * s.noise_std_error_db;
        hum += fabs(s.hum_dbfs - hum_db(&r)) > 2 * s.hum_std_error_db;
    }
    print_message("beyond two standard errors: noise %d, hum %d of 100\n", noise, hum);
    assert_true(noise <= 15 && hum <= 15);
}

/* Strings near a multiple of the mains, left ringing: G1 49.0, G2 98.0, B2 123.5, B3 246.9, F4
 * 349.2. */
static void a_string_is_no_hum(void **state) {
    (void)state;
    const double hz[] = {49.0, 82.41, 98.0, 110.0, 123.47, 146.83, 196.0, 246.94, 329.63, 349.23};
    for (size_t i = 0; i < sizeof hz / sizeof hz[0]; i++) {
        const size_t n = 4 * 48000;
        double *x = calloc(n, sizeof *x);
        float *sound = malloc(n * sizeof *sound);
        synth_note note = synth_plain(hz[i], 4e-5, 20 + i);
        sb_silence s;
        assert_true(x && sound);
        prng rng = prng_seeded(i);
        note.rms = 0.01;
        (void)synth_add(&note, 48000, x, n);
        for (size_t k = 0; k < n; k++)
            x[k] += 1e-4 * prng_normal(&rng);
        synth_to_float(x, n, sound);
        assert_int_equal(sb_silence_measure(sound, n, 48000, &s), SB_OK);
        assert_int_equal(s.nominal_hz, 0);
        assert_true(s.fall_db > 3);
        free(x);
        free(sound);
    }
}

static void what_cannot_be(void **state) {
    (void)state;
    size_t n;
    sb_silence s;
    const room r = {8000, 1.4, -60, 50, {0}, 0, 1}, dead = {8000, 3, SYNTH_OFF_DB, 50, {0}, 0.2, 1};
    float *x = make(&r, &n);
    assert_int_equal(sb_silence_measure(x, n, 8000, &s), SB_E_TOO_SHORT);
    assert_int_equal(sb_silence_measure(x, n, 100, &s), SB_E_RANGE);
    free(x);
    x = make(&dead, &n);
    assert_int_equal(sb_silence_measure(x, n, 8000, &s), SB_E_UNDETERMINED);
    free(x);
}

/* 2.5 s of hum and noise, then a pluck that rings, a knock in the silence. */
static void silence_is_found(void **state) {
    (void)state;
    const room r = {48000, 9, -70, 50, {-55, -65}, 0, 30};
    size_t n, kept;
    float *x = make(&r, &n);
    double *note_sound = calloc(n, sizeof *note_sound), from_s = 0, to_s = 0;
    synth_note note = synth_plain(110, 4e-5, 31);
    sb_sound *sound = NULL;
    assert_non_null(note_sound);
    note.rms = 0.1;
    note.at_s = 3.05;
    (void)synth_add(&note, 48000, note_sound, n);
    for (size_t i = 0; i < n; i++)
        x[i] += (float)note_sound[i];
    x[25000] += 0.3f; /* at 0.52 s */
    assert_int_equal(sb_sound_new(48000, SB_SILENCE_KEEP_S, &sound), SB_OK);
    assert_int_equal(sb_sound_push(sound, x, n), SB_OK);
    assert_true(sb_silence_find(sound, &from_s, &to_s));
    assert_within(from_s, 0.7, 0.11);
    assert_within(to_s, 2.9, 0.11);
    assert_ptr_not_equal(sb_sound_samples(sound, &kept), NULL);
    assert_int_equal(kept, n);
    sb_sound_free(sound);
    free(x);
    free(note_sound);
}

/* What was recorded before the input was on is no silence of the instrument's. */
static void dead_sound_is_no_silence(void **state) {
    (void)state;
    const room r = {48000, 3, -70, 50, {0}, 0, 33};
    const float dead[4800] = {0};
    size_t n;
    float *x = make(&r, &n);
    double from_s = 0, to_s = 0;
    sb_sound *sound = NULL;
    assert_int_equal(sb_sound_new(48000, SB_SILENCE_KEEP_S, &sound), SB_OK);
    for (int i = 0; i < 40; i++)
        assert_int_equal(sb_sound_push(sound, dead, 4800), SB_OK);
    assert_true(sb_silence_find(sound, &from_s, &to_s)); /* nothing else is there yet */
    assert_within(to_s - from_s, 4, 1e-9);
    assert_int_equal(sb_sound_push(sound, x, n), SB_OK);
    assert_true(sb_silence_find(sound, &from_s, &to_s));
    assert_within(from_s, 4.1, 0.01);
    assert_within(to_s, 7, 0.01);
    sb_sound_free(sound);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_and_hum_are_told_apart),
        cmocka_unit_test(harmonics_are_told_one_by_one),
        cmocka_unit_test(full_scale),
        cmocka_unit_test(noise_alone_is_no_hum),
        cmocka_unit_test(the_error_is_honest),
        cmocka_unit_test(a_string_is_no_hum),
        cmocka_unit_test(what_cannot_be),
        cmocka_unit_test(silence_is_found),
        cmocka_unit_test(dead_sound_is_no_silence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
