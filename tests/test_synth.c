/* The synthesizer against direct measurements of its sound: each check measures the samples
 * by a plain method (dot products, least squares) that shares nothing with their making. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/cents.h"
#include "tests/support/periodogram.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"

#define PI   3.14159265358979323846
#define RATE 48000.0

static void assert_close(double got, double want, double most) {
    if (!(fabs(got - want) <= most))
        fail_msg("got %.9g, want %.9g within %.1g", got, want, most);
}

static double *silence(double seconds, size_t *n) {
    *n = (size_t)lround(seconds * RATE);
    double *x = calloc(*n, sizeof *x);
    assert_non_null(x);
    return x;
}

static double rms(const double x[], size_t n) {
    double sum = 0.0;
    for (size_t k = 0; k < n; k++)
        sum += x[k] * x[k];
    return sqrt(sum / (double)n);
}

typedef struct {
    double re, im;
} phasor;

/* Hann-weighted dot product with exp(-2 pi i hz t) over [from_s, from_s + length_s): its
 * modulus over half the weights' sum is the sinusoid's amplitude. */
static phasor dot(const double x[], double from_s, double length_s, double hz) {
    const size_t first = (size_t)lround(from_s * RATE), n = (size_t)lround(length_s * RATE);
    phasor p = {0.0, 0.0};
    for (size_t k = 0; k < n; k++) {
        const double weight = 0.5 - 0.5 * cos(2.0 * PI * ((double)k + 0.5) / (double)n);
        const double angle = 2.0 * PI * hz * (double)(first + k) / RATE;
        p.re += weight * x[first + k] * cos(angle);
        p.im -= weight * x[first + k] * sin(angle);
    }
    return p;
}

static double amplitude(const double x[], double from_s, double length_s, double hz) {
    const phasor p = dot(x, from_s, length_s, hz);
    return 4.0 * hypot(p.re, p.im) / (length_s * RATE);
}

/* Frequency near hz from the phase's advance between two windows `apart_s` from each other:
 * unambiguous within 1 / (2 apart_s) Hz. */
static double phase_hz(const double x[], double from_s, double length_s, double apart_s,
                       double hz) {
    const phasor a = dot(x, from_s, length_s, hz), b = dot(x, from_s + apart_s, length_s, hz);
    const double turn = atan2(b.im * a.re - b.re * a.im, b.re * a.re + b.im * a.im);
    return hz + turn / (2.0 * PI * apart_s);
}

/* Published test vectors: splitmix64 of seed 0, and xoshiro256** from the state 1, 2, 3, 4
 * (from memory). */
static void test_random_numbers_are_the_published_ones(void **state) {
    (void)state;
    const prng seeded = prng_seeded(0);
    assert_true(seeded.s[0] == UINT64_C(0xe220a8397b1dcdaf));
    assert_true(seeded.s[1] == UINT64_C(0x6e789e6aa1b965f4));
    prng rng = {.s = {1, 2, 3, 4}};
    const uint64_t want[] = {11520, 0, 1509978240, UINT64_C(1215971899390074240)};
    for (size_t i = 0; i < 4; i++)
        assert_true(prng_next(&rng) == want[i]);
}

static void test_normal_deviates_have_unit_variance(void **state) {
    (void)state;
    prng rng = prng_seeded(5);
    double sum = 0.0, squares = 0.0, fourths = 0.0;
    const int n = 200000;
    for (int i = 0; i < n; i++) {
        const double z = prng_normal(&rng);
        sum += z;
        squares += z * z;
        fourths += z * z * z * z;
    }
    assert_close(sum / n, 0.0, 0.01);
    assert_close(squares / n, 1.0, 0.015);
    assert_close(fourths / n, 3.0, 0.1);
}

/* Partial n lies at n f0 sqrt(1 + B n^2) to 1e-5 cent. */
static void test_partials_are_stiff(void **state) {
    (void)state;
    size_t n;
    double *x = silence(3.2, &n);
    const double f0 = 82.3, b = 1.3e-4;
    const synth_note note = synth_plain(f0, b, 3);
    (void)synth_add(&note, RATE, x, n);
    for (int l = 1; l <= 20; l++) {
        const double hz = l * f0 * sqrt(1.0 + b * l * l);
        assert_close(cents(hz, phase_hz(x, 0.1, 1.5, 1.4, hz)), 0.0, 1e-5);
    }
    free(x);
}

/* The reference of tests on real notes, held against sound whose truth is known. */
static void test_periodogram_finds_a_partial(void **state) {
    (void)state;
    size_t n;
    double *x = silence(2.0, &n);
    float *y = calloc(n, sizeof *y);
    assert_non_null(y);
    const synth_note note = synth_plain(synth_f0_for(110.0, 1e-4), 1e-4, 3);
    (void)synth_add(&note, RATE, x, n);
    synth_to_float(x, n, y);
    const double hz = periodogram_peak_hz(y + 4800, n - 4800, RATE, 110.5, 30.0);
    assert_close(cents(110.0, hz), 0.0, 2e-3);
    const double third = 3.0 * note.f0_hz * sqrt(1.0009);
    assert_close(cents(third, periodogram_peak_hz(y + 4800, n - 4800, RATE, 329.0, 30.0)), 0.0,
                 2e-3);
    free(x);
    free(y);
}

/* Woodhouse, Acta Acust. united Ac. 90, 928 (2004), table I as corrected by its author: E4
 * of a nylon set, eta_f 40e-5, eta_b .024, eta_a 1.5 1/s. The T60 (60 dB = ln 1000 / sigma)
 * were computed from that law elsewhere. */
static void test_decay_follows_the_loss_law(void **state) {
    (void)state;
    const int numbers[] = {1, 2, 4, 8, 12};
    const double t60[] = {5.93, 4.35, 2.79, 1.50, 0.92};
    size_t n;
    double *x = silence(1.5, &n);
    synth_note note = synth_plain(329.627556913, 4.320e-5, 8);
    note.eta_f = 40e-5;
    note.eta_b = 0.024;
    note.eta_a = 1.5;
    (void)synth_add(&note, RATE, x, n);
    for (size_t i = 0; i < 5; i++) {
        const double l = numbers[i], hz = l * note.f0_hz * sqrt(1.0 + note.inharmonicity * l * l);
        const double early = amplitude(x, 0.1, 0.2, hz), late = amplitude(x, 0.6, 0.2, hz);
        assert_close(log(1000.0) / (log(early / late) / 0.5), t60[i], 0.006 + 0.002 * t60[i]);
    }
    free(x);
}

/* Plucked at a quarter of the length partial 4 is missing, and the rest fall as
 * |sin(n pi / 4)| / n; a high-pass an octave above takes 12.3 dB off partial 1. */
static void test_levels_follow_pluck_and_highpass(void **state) {
    (void)state;
    size_t n;
    double *x = silence(0.6, &n);
    synth_note note = synth_plain(200.0, 0.0, 8);
    note.pluck = 0.25;
    note.pluck_width = 0.0;
    note.eta_a = note.eta_f = note.eta_b = 0.0;
    (void)synth_add(&note, RATE, x, n);
    const double first = amplitude(x, 0.1, 0.4, 200.0);
    assert_close(amplitude(x, 0.1, 0.4, 400.0) / first, 0.5 / sqrt(0.5), 1e-6);
    assert_close(amplitude(x, 0.1, 0.4, 600.0) / first, 1.0 / 3.0, 1e-6);
    assert_close(amplitude(x, 0.1, 0.4, 800.0) / first, 0.0, 1e-6);
    memset(x, 0, n * sizeof *x);
    note.highpass_hz = 400.0;
    note.gain_db[2] = -20.0;
    (void)synth_add(&note, RATE, x, n);
    const double second = amplitude(x, 0.1, 0.4, 400.0), flat = 0.5 / sqrt(0.5);
    assert_close(amplitude(x, 0.1, 0.4, 200.0) / second, sqrt(2.0 / 17.0) / flat, 1e-6);
    assert_close(amplitude(x, 0.1, 0.4, 600.0) / second,
                 0.1 / 3.0 / flat * sqrt(2.0 / (1.0 + 16.0 / 81.0)), 1e-6);
    free(x);
}

static void test_level_and_noise_are_as_defined(void **state) {
    (void)state;
    size_t n;
    double *x = silence(2.0, &n);
    synth_note note = synth_plain(110.0, 5e-5, 8);
    note.at_s = 0.5;
    note.rms = 0.04;
    (void)synth_add(&note, RATE, x, n);
    assert_close(rms(x + 24000, 48000), 0.04, 1e-9);
    assert_close(rms(x, 24000), 0.0, 0.0);
    synth_room room = room_silent(0.04, 9);
    room.noise_db = -20.0;
    room_add(&room, RATE, x, n);
    assert_close(rms(x, 24000), 0.004, 0.004 * 0.02);
    free(x);
}

/* Least-squares a, b of x[k] = exp(-s t) (a cos wt + b sin wt). */
static phasor fit_decaying(const double x[], size_t n, double s, double hz) {
    double cc = 0.0, cs = 0.0, ss = 0.0, xc = 0.0, xs = 0.0;
    for (size_t k = 0; k < n; k++) {
        const double t = (double)k / RATE, e = exp(-s * t);
        const double c = e * cos(2.0 * PI * hz * t), q = e * sin(2.0 * PI * hz * t);
        cc += c * c;
        cs += c * q;
        ss += q * q;
        xc += c * x[k];
        xs += q * x[k];
    }
    const double det = cc * ss - cs * cs;
    return (phasor){(xc * ss - xs * cs) / det, (xs * cc - xc * cs) / det};
}

/* One partial at 12 kHz (the next is above the highest) and one decay: the closed form is
 * exp(-s t) cos(w (t + g0 (1 - exp(-2 s t)) / (2 s)) + phi), g0 = 2^(glide/1200) - 1. At this
 * frequency a thousandth of a radian over 4 s is 6e-6 cent. */
static void test_glide_is_the_closed_form_sample_by_sample(void **state) {
    (void)state;
    const double s = 2.0, g0 = pow(2.0, 12.0 / 1200.0) - 1.0, hz = 12000.0;
    size_t n;
    double *x = silence(4.0, &n), *flat = silence(4.0, &n);
    synth_note note = synth_plain(hz, 0.0, 4);
    note.attack_s = 0.0;
    note.eta_a = 2.0 * s;
    note.eta_f = note.eta_b = 0.0;
    (void)synth_add(&note, RATE, flat, n);
    const phasor p = fit_decaying(flat, n, s, hz);
    note.glide_cents = 12.0;
    const double scale = synth_add(&note, RATE, x, n);
    synth_partial only[2];
    assert_int_equal(synth_spectrum(&note, RATE, only, 2), 1);
    assert_close(hypot(p.re, p.im), scale * only[0].amplitude, 1e-4 * note.rms);
    for (size_t k = 0; k < n; k++) {
        const double t = (double)k / RATE, e = exp(-s * t);
        const double angle = 2.0 * PI * hz * (t + g0 * (1.0 - e * e) / (2.0 * s));
        const double want = e * (p.re * cos(angle) + p.im * sin(angle));
        assert_close(x[k], want, 1e-4 * note.rms * e);
    }
    free(x);
    free(flat);
}

/* As heard: sharp by the glide at the attack, settled at the end. */
static void test_glide_starts_and_settles(void **state) {
    (void)state;
    size_t n;
    double *x = silence(5.0, &n);
    synth_note note = synth_plain(400.0, 1e-4, 4);
    note.eta_a = 6.0;
    note.glide_cents = 10.0;
    (void)synth_add(&note, RATE, x, n);
    const double settled = synth_truth_hz(&note);
    assert_close(cents(settled, phase_hz(x, 0.01, 0.04, 0.01, settled)), 10.0 * exp(-6 * 0.035),
                 1.0);
    assert_close(cents(settled, phase_hz(x, 3.0, 0.5, 0.5, settled)), 0.0, 1e-4);
    assert_close(settled, 400.0 * sqrt(1.0001), 1e-9);
    assert_close(synth_f0_for(settled, 1e-4), 400.0, 1e-9);
    free(x);
}

/* Two polarisations 2 cents apart with equal shares beat: at the beat's node, half a
 * period after the shares are in step, the partial is gone. */
static void test_polarisations_beat(void **state) {
    (void)state;
    size_t n;
    double *x = silence(4.0, &n);
    synth_note note = synth_plain(800.0, 0.0, 4);
    note.eta_a = note.eta_f = note.eta_b = 0.0;
    note.second_cents = 2.0;
    note.second_share = 0.5;
    (void)synth_add(&note, RATE, x, n);
    const double beat_s = 1.0 / (800.0 * (pow(2.0, 2.0 / 1200.0) - 1.0));
    double least = 1e9, most = 0.0;
    for (int i = 0; 0.01 * i < beat_s; i++) {
        const double t = 0.1 + 0.01 * i;
        const double a = amplitude(x, t, 0.02, 800.0);
        least = fmin(least, a);
        most = fmax(most, a);
        assert_close(amplitude(x, t + beat_s, 0.02, 800.0), a, 0.01 * note.rms);
    }
    assert_true(least < 0.03 * most);
    free(x);
}

static void test_palm_bend_and_pull(void **state) {
    (void)state;
    size_t n;
    double *x = silence(2.5, &n);
    synth_note note = synth_plain(300.0, 1e-4, 4);
    note.bend_cents = 50.0;
    note.bend_from_s = 0.5;
    note.bend_to_s = 0.7;
    note.damp_at_s = 1.5;
    note.damp_s = 0.02;
    note.pull_cents[1] = -8.0;
    (void)synth_add(&note, RATE, x, n);
    const double f1 = synth_truth_hz(&note), f2 = 600.0 * sqrt(1.0004);
    assert_close(cents(f1, phase_hz(x, 0.1, 0.2, 0.15, f1)), 0.0, 1e-3);
    assert_close(cents(f2, phase_hz(x, 0.1, 0.2, 0.15, f2)), -8.0, 1e-3);
    const double bent = f1 * pow(2.0, 50.0 / 1200.0);
    assert_close(cents(bent, phase_hz(x, 0.8, 0.3, 0.3, bent)), 0.0, 1e-3);
    const double early = rms(x + (size_t)(1.53 * RATE), 480);
    const double late = rms(x + (size_t)(1.58 * RATE), 480);
    assert_close(log(early / late), 0.05 / 0.02, 0.2);
    free(x);
}

static void test_sympathetic_strings_ring_at_their_level(void **state) {
    (void)state;
    size_t n;
    double *x = silence(1.2, &n), *alone = silence(1.2, &n);
    synth_note note = synth_plain(82.4, 8e-5, 4);
    (void)synth_add(&note, RATE, alone, n);
    note.sympathetic[0] = (synth_sympathetic){.f0_hz = 146.0, .level_db = -20.0};
    note.n_sympathetic = 1;
    (void)synth_add(&note, RATE, x, n);
    for (size_t k = 0; k < n; k++)
        x[k] -= alone[k];
    assert_close(rms(x, 48000), 0.1 * note.rms, 1e-9);
    assert_close(phase_hz(x, 0.1, 0.5, 0.4, 146.0), 146.0, 1e-5);
    free(x);
    free(alone);
}

static void test_pick_and_buzz_end(void **state) {
    (void)state;
    size_t n;
    double *x = silence(1.2, &n), *plain = silence(1.2, &n);
    synth_note note = synth_plain(110.0, 5e-5, 4);
    (void)synth_add(&note, RATE, plain, n);
    note.pick_db = 0.0;
    note.buzz_db = -6.0;
    note.buzz_s = 0.05;
    (void)synth_add(&note, RATE, x, n);
    for (size_t k = 0; k < n; k++)
        x[k] -= plain[k];
    assert_in_range((long)(1000.0 * rms(x, 96) / note.rms), 700, 1300);
    assert_true(rms(x + 2400, 2400) > 0.01 * note.rms);
    assert_close(rms(x + 24000, 24000), 0.0, 0.0);
    free(x);
    free(plain);
}

static void test_hum_sounds_before_the_pluck(void **state) {
    (void)state;
    size_t n;
    double *x = silence(1.0, &n);
    synth_room room = room_silent(0.05, 4);
    room.hum_db = -20.0;
    room.hum_hz = 60.0;
    room_add(&room, RATE, x, n);
    assert_close(rms(x, n), 0.005, 1e-6);
    const double first = amplitude(x, 0.0, 1.0, 60.0);
    for (int h = 2; h <= ROOM_HUM_HARMONICS; h++)
        assert_close(amplitude(x, 0.0, 1.0, 60.0 * h), first / h, 1e-9);
    free(x);
}

static void test_clipping_and_dc(void **state) {
    (void)state;
    size_t n;
    double *x = silence(1.0, &n);
    const synth_note note = synth_plain(110.0, 5e-5, 4);
    (void)synth_add(&note, RATE, x, n);
    double peak = 0.0, most = 0.0, least = 0.0;
    for (size_t k = 0; k < n; k++)
        peak = fmax(peak, fabs(x[k]));
    synth_room room = room_silent(0.05, 4);
    room.dc = 0.1;
    room.clip = 0.5;
    room_add(&room, RATE, x, n);
    double mean = 0.0;
    for (size_t k = 0; k < n; k++) {
        most = fmax(most, x[k]);
        least = fmin(least, x[k]);
        mean += x[k] / (double)n;
    }
    assert_close(most, 0.5 * peak, 1e-12);
    assert_true(least >= -0.5 * peak && mean > 0.05 * peak);
    free(x);
}

static void test_a_seed_is_a_sound(void **state) {
    (void)state;
    size_t n;
    double *a = silence(0.5, &n), *b = silence(0.5, &n), *c = silence(0.5, &n);
    synth_note note = synth_plain(110.0, 5e-5, 4);
    (void)synth_add(&note, RATE, a, n);
    (void)synth_add(&note, RATE, b, n);
    note.seed = 5;
    (void)synth_add(&note, RATE, c, n);
    assert_memory_equal(a, b, n * sizeof *a);
    assert_memory_not_equal(a, c, n * sizeof *a);
    free(a);
    free(b);
    free(c);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_numbers_are_the_published_ones),
        cmocka_unit_test(test_normal_deviates_have_unit_variance),
        cmocka_unit_test(test_partials_are_stiff),
        cmocka_unit_test(test_periodogram_finds_a_partial),
        cmocka_unit_test(test_decay_follows_the_loss_law),
        cmocka_unit_test(test_levels_follow_pluck_and_highpass),
        cmocka_unit_test(test_level_and_noise_are_as_defined),
        cmocka_unit_test(test_glide_is_the_closed_form_sample_by_sample),
        cmocka_unit_test(test_glide_starts_and_settles),
        cmocka_unit_test(test_polarisations_beat),
        cmocka_unit_test(test_palm_bend_and_pull),
        cmocka_unit_test(test_sympathetic_strings_ring_at_their_level),
        cmocka_unit_test(test_pick_and_buzz_end),
        cmocka_unit_test(test_hum_sounds_before_the_pluck),
        cmocka_unit_test(test_clipping_and_dc),
        cmocka_unit_test(test_a_seed_is_a_sound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
