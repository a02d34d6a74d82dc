/* What the ear measures partials in: the lowered rate, a band cut out of a note of any length,
 * and what lines leave of its transform; against sums made here, sample by sample. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "audio/decimate.h"
#include "audio/lines.h"
#include "audio/spectrum.h"
#include "audio/track.h"
#include "tests/support/prng.h"

#define TWO_PI 6.283185307179586

enum { LENGTH = 12000, LONGEST = 60000, BINS = 40 };

/* A tone through the decimator in blocks of any size; returns how far it lies from `size` times
 * the tone at the lower rate, at worst, the ends left out. */
static double worst_of_tone(size_t factor, double cycles, double size) {
    static float in[LENGTH], out[LENGTH];
    sb_decimator *decimator;
    prng rng = prng_seeded(factor);
    size_t made = 0;
    double worst = 0;
    for (size_t i = 0; i < LENGTH; i++)
        in[i] = (float)cos(TWO_PI * cycles * (double)i / (double)factor + 1.0);
    assert_int_equal(sb_decimator_new(factor, &decimator), 0);
    for (size_t at = 0, n; at < LENGTH; at += n) {
        n = (size_t)prng_uniform(&rng, 1.0, 700.0);
        n = n < LENGTH - at ? n : LENGTH - at;
        made += sb_decimator_run(decimator, in + at, n, out + made);
    }
    sb_decimator_free(decimator);
    assert_in_range(made, LENGTH / factor - 14, LENGTH / factor);
    for (size_t k = 30; k < made; k++)
        worst = fmax(worst, fabs((double)out[k] - size * cos(TWO_PI * cycles * (double)k + 1.0)));
    return worst;
}

/* As audio/decimate.h has it: flat to 0.40 of the new rate, 80 dB down from 0.60. */
static void test_the_lower_rate(void **state) {
    (void)state;
    for (size_t factor = 2; factor <= 8; factor++)
        for (double cycles = 0.01; cycles < 0.5 * (double)factor; cycles += 0.0371) {
            if (cycles < 0.4)
                assert_true(worst_of_tone(factor, cycles, 1.0) < 2e-4);
            if (cycles > 0.6)
                assert_true(worst_of_tone(factor, cycles, 0.0) < 2e-4);
        }
}

/* A band of a lone tone is that tone, however long the note; its filter is down to 2e-3 where the
 * ends are cut off. */
static void test_a_band_of_any_length(void **state) {
    (void)state;
    static float x[LONGEST];
    static sb_band band;
    const double rate_hz = 24000.0, hz = 1234.5;
    sb_spectrum *spectrum;
    assert_int_equal(sb_spectrum_new(rate_hz, LONGEST, &spectrum), 0);
    for (size_t i = 0; i < LONGEST; i++)
        x[i] = (float)(0.3 * cos(TWO_PI * hz * (double)i / rate_hz + 0.7));
    for (size_t n = 5000; n <= LONGEST; n += 2777) {
        sb_spectrum_load(spectrum, x, n);
        sb_spectrum_band(spectrum, hz, 90.0, &band);
        assert_true(band.n > 0);
        for (size_t k = 0; k < band.n; k++) {
            const double t = band.t0_s + (double)k * band.step_s;
            const double angle = TWO_PI * (hz * t - band.centre_hz * t) + 0.7;
            assert_true(fabs(band.re[k] - 0.3 * cos(angle)) < 2e-3);
            assert_true(fabs(band.im[k] - 0.3 * sin(angle)) < 2e-3);
        }
    }
    sb_spectrum_free(spectrum);
}

/* |sum of what the lines leave, turned|^2 / n at bin j. */
static double power_at(const sb_band *band, const sb_line lines[], size_t n, double bin) {
    double re = 0, im = 0;
    for (size_t k = 0; k < band->n; k++) {
        const double t = (double)k * band->step_s, back = -TWO_PI * bin * (double)k;
        double a = band->re[k], b = band->im[k];
        for (size_t i = 0; i < n; i++) {
            const double size = exp(-lines[i].decay_per_s * t), turn = TWO_PI * lines[i].hz * t;
            a -= size * (lines[i].re * cos(turn) - lines[i].im * sin(turn));
            b -= size * (lines[i].re * sin(turn) + lines[i].im * cos(turn));
        }
        re += a * cos(back) - b * sin(back);
        im += a * sin(back) + b * cos(back);
    }
    return (re * re + im * im) / (double)band->n;
}

/* A partial that glides runs off its band's middle, where the filter lets less of it through and
 * turns it: once the glide is out it is a line all the same. */
static void test_a_glide_taken_out(void **state) {
    (void)state;
    static float x[LONGEST];
    static sb_band band;
    const double rate_hz = 24000.0, hz = 5584.0, shift = 0.004, tau_s = 0.17, decay_per_s = 2.0;
    const sb_glide none = {0}, glide = sb_glide_exponential(shift, tau_s);
    sb_spectrum *spectrum;
    double worst = 0, worst_phase = 0;
    assert_int_equal(sb_spectrum_new(rate_hz, LONGEST, &spectrum), 0);
    for (size_t i = 0; i < LONGEST; i++) {
        const double t = (double)i / rate_hz;
        const double turns = hz * (t + shift * tau_s * (1.0 - exp(-t / tau_s)));
        x[i] = (float)(exp(-decay_per_s * t) * cos(TWO_PI * turns));
    }
    sb_spectrum_load(spectrum, x, LONGEST);
    sb_spectrum_band(spectrum, hz, 330.0, &band);
    band.decay_per_s = decay_per_s;
    sb_glide_turn(&band, 17, hz, &none, &glide);
    for (size_t k = 0; k < band.n; k++) {
        const double t = band.t0_s + (double)k * band.step_s, size = exp(-decay_per_s * t);
        const double angle = TWO_PI * (hz - band.centre_hz) * t;
        if (t > 0.9 * LONGEST / rate_hz)
            break;
        worst = fmax(worst, hypot(band.re[k] / size - cos(angle), band.im[k] / size - sin(angle)));
        worst_phase =
            fmax(worst_phase, fabs(remainder(atan2(band.im[k], band.re[k]) - angle, TWO_PI)));
    }
    print_message("off by %.4f of its size, %.4f rad at worst\n", worst, worst_phase);
    assert_true(worst < 0.02);        /* 0.21 as the filter lets it through, 0.025 turned by it */
    assert_true(worst_phase < 0.002); /* 0.024 as it turns it */
    sb_spectrum_free(spectrum);
}

/* One line on a bin without decay, where the sum of its series is all its terms at once. */
static void test_what_lines_leave(void **state) {
    (void)state;
    static sb_band band;
    sb_spectrum *spectrum;
    prng rng = prng_seeded(8);
    const float silence[LENGTH] = {0};
    double power[2 * BINS + 1];
    assert_int_equal(sb_spectrum_new(24000.0, LONGEST, &spectrum), 0);
    sb_spectrum_load(spectrum, silence, LENGTH);
    sb_spectrum_band(spectrum, 1000.0, 90.0, &band);
    for (size_t k = 0; k < band.n; k++) {
        band.re[k] = prng_uniform(&rng, -1.0, 1.0);
        band.im[k] = prng_uniform(&rng, -1.0, 1.0);
    }
    const sb_bins bins = sb_spectrum_of_band(spectrum, &band);
    const sb_line lines[] = {{.hz = 3.0 / ((double)bins.size * band.step_s), .re = 0.8, .im = -0.3},
                             {.hz = -7.3, .decay_per_s = 2.5, .re = 0.1, .im = 2.0},
                             {.hz = 11.1, .decay_per_s = -0.4, .re = -0.6}};
    for (size_t n = 0; n <= 3; n++) {
        sb_lines_periodogram(&band, lines, n, bins, BINS, power);
        for (int j = -BINS; j <= BINS; j++) {
            const double want = power_at(&band, lines, n, (double)j / (double)bins.size);
            assert_true(fabs(power[BINS + j] - want) < 1e-4 * (1.0 + want));
        }
    }
    sb_spectrum_free(spectrum);
}

struct told { /* over what there is: a partial's RMS error, the mean of the noise's variance */
    double error, noise;
};

/* A partial in white noise, in bands with ends. */
static struct told told_by(sb_spectrum *spectrum, double decay_per_s, uint64_t seed) {
    enum { NOTES = 120, NOTE = 48000 };
    const double rate_hz = 24000.0, spacing_hz = 110.0, noise = 0.01;
    static float x[NOTE];
    static sb_track track;
    prng rng = prng_seeded(seed);
    double squares = 0, noises = 0;
    for (size_t i = 0; i < NOTES; i++) {
        const double hz = prng_uniform(&rng, 330.0, 340.0), phase = prng_uniform(&rng, 0, TWO_PI);
        for (size_t k = 0; k < NOTE; k++) {
            const double t = (double)k / rate_hz;
            x[k] = (float)(0.1 * exp(-decay_per_s * t) * cos(TWO_PI * hz * t + phase) +
                           noise * prng_normal(&rng));
        }
        sb_spectrum_load(spectrum, x, NOTE);
        assert_true(sb_track_start(&track, spectrum, &(sb_glide){0}, 3,
                                   (sb_track_aim){hz, spacing_hz, 2.0}));
        squares += pow((track.hz - hz) / track.hz_std, 2);
        /* A sine of amplitude 1 is a band's 1: white noise has 4 noise^2/rate of power a hertz. */
        noises += track.noise * rate_hz * track.band.step_s / (4.0 * noise * noise);
    }
    return (struct told){sqrt(squares / NOTES), noises / NOTES};
}

/* Of white noise a fit's linearised error is exact. By the noise that the band's filter lets
 * through on the whole, .67 of it, it was 1.2 times as large. */
static void test_a_partials_error_is_told(void **state) {
    (void)state;
    sb_spectrum *spectrum;
    assert_int_equal(sb_spectrum_new(24000.0, LONGEST, &spectrum), 0);
    for (uint64_t i = 0; i < 3; i++) {
        const struct told told = told_by(spectrum, 0.5 + 2.0 * (double)i, i);
        print_message("errors over those told %.3f, noise told over noise %.3f\n", told.error,
                      told.noise);
        assert_true(told.error > 0.87 && told.error < 1.13);
        assert_true(told.noise > 0.9 && told.noise < 1.1);
    }
    sb_spectrum_free(spectrum);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_lower_rate), cmocka_unit_test(test_a_band_of_any_length),
        cmocka_unit_test(test_a_glide_taken_out), cmocka_unit_test(test_a_partials_error_is_told),
        cmocka_unit_test(test_what_lines_leave)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
