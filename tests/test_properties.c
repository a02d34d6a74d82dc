/* What must not matter does not: gain, polarity, the order of channels and the sample rate of a
 * recording to its error. And the calculus, against its own inverse, written here: many random
 * cases of each, the same on every machine. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sndfile.h>

#include "cli/measurement.h"
#include "core/compromise.h"
#include "core/instrument.h"
#include "core/length.h"
#include "core/pitch.h"
#include "core/saddle.h"
#include "core/screw.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/within.h"

enum { RATE = 44100, SAMPLES = 5 * RATE, STRINGS = 5 };

/* --- recordings ---------------------------------------------------------------------------- */

static double sound[SAMPLES];
static float frames[2 * SAMPLES];
static char path[] = "/tmp/setback-properties-XXXXXX";

/* An open string and its 12th fret, off by up to 15 cents, in a quiet room. */
static double play(prng *rng, double rate_hz, size_t n) {
    const double open_hz = exp2(prng_uniform(rng, log2(60.0), log2(400.0)));
    const double b = 3e-5, error_cents = prng_uniform(rng, -15.0, 15.0);
    const uint64_t seed = prng_next(rng);
    memset(sound, 0, sizeof sound);
    synth_note open = synth_plain(open_hz, b, seed);
    synth_note fretted = synth_plain(2.0 * open_hz * exp2(error_cents / 1200.0), 4.0 * b, seed + 1);
    open.at_s = 0.3;
    open.damp_at_s = 1.9;
    fretted.at_s = 2.7;
    fretted.damp_at_s = 1.9;
    (void)synth_add(&open, rate_hz, sound, n);
    (void)synth_add(&fretted, rate_hz, sound, n);
    synth_room room = room_silent(open.rms, seed + 2);
    room.noise_db = -50.0;
    room_add(&room, rate_hz, sound, n);
    return 1200.0 * log2(synth_truth_hz(&fretted) / synth_truth_hz(&open)) - 1200.0;
}

/* Writes it as floats: `channels` of which the one at `at` has the sound times the gain and the
 * other is nearly nothing. */
static void record(double rate_hz, size_t n, double gain, int channels, int at) {
    SF_INFO info = {.samplerate = (int)lround(rate_hz),
                    .channels = channels,
                    .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    for (size_t i = 0; i < n; i++)
        for (int c = 0; c < channels; c++)
            frames[i * (size_t)channels + (size_t)c] = (float)(sound[i] * (c == at ? gain : 0.001));
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    assert_non_null(file);
    assert_true(sf_writef_float(file, frames, (sf_count_t)n) == (sf_count_t)n);
    assert_int_equal(sf_close(file), 0);
}

/* The error as it is measured; its standard error, too. */
static double measured(double *std_error) {
    sb_setting setting = sb_setting_default();
    setting.scale_mm = 650.0;
    const sb_task task = {.setting = &setting, .note = SB_NO_NOTE, .a4_hz = 440.0};
    sb_take *take = sb_take_new();
    sb_measurement *m = calloc(1, sizeof *m);
    assert_true(take && m);
    assert_int_equal(sb_take_load(take, path, 0, NULL), SB_OK);
    assert_int_equal(sb_measure_take(&task, take, m), SB_MEASURED);
    const double error = m->answer.error_cents;
    *std_error = m->answer.std_error_cents;
    free(m);
    free(take);
    return error;
}

/* Bounds: a power of two scales floats exactly, so nothing may change but by the logarithms of
 * levels; another gain rounds each sample anew, by 6e-8 of it. */
static void test_gain_polarity_channels(void **state) {
    (void)state;
    static const struct {
        double gain;
        int channels, at;
        double bound_cents;
    } rows[] = {{0.25, 1, 0, 1e-7}, {-1.0, 1, 0, 1e-7}, {0.37, 1, 0, 1e-3},
                {1.0, 2, 0, 1e-9},  {1.0, 2, 1, 1e-9},  {-0.5, 2, 1, 1e-7}};
    prng rng = prng_seeded(71);
    for (int k = 0; k < STRINGS; k++) {
        double std_error = 0.0;
        const double truth = play(&rng, RATE, SAMPLES);
        record(RATE, SAMPLES, 1.0, 1, 0);
        const double plain = measured(&std_error);
        assert_within(plain, truth, fmax(0.05, 4.0 * std_error));
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
            record(RATE, SAMPLES, rows[i].gain, rows[i].channels, rows[i].at);
            assert_within(measured(&std_error), plain, rows[i].bound_cents);
        }
    }
}

/* The same samples played faster: all pitches rise alike, and the interval stays. Its error is
 * judged by the reading's own, since windows in seconds then hold other samples. */
static void test_played_faster_or_slower(void **state) {
    (void)state;
    static const double rates[] = {0.5 * RATE, 0.9 * RATE, 48000.0, 96000.0};
    prng rng = prng_seeded(72);
    for (int k = 0; k < STRINGS; k++) {
        double std_error = 0.0, other = 0.0;
        (void)play(&rng, RATE, SAMPLES);
        record(RATE, SAMPLES, 1.0, 1, 0);
        const double plain = measured(&std_error);
        for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
            record(rates[i], SAMPLES, 1.0, 1, 0);
            const double error = measured(&other);
            assert_within(error, plain, fmax(0.02, 3.0 * hypot(std_error, other)));
        }
    }
}

/* An input that is opened while hum is on: silence, then the room of the shipped recordings. The
 * hum is no string, however near the noise it lies. */
static void test_hum_that_begins_is_no_note(void **state) {
    (void)state;
    static const char *const notes[] = {"1-E4", "2-B3", "3-G3", "4-D3", "5-A2", "6-E2"};
    for (size_t i = 0; i < sizeof notes / sizeof notes[0]; i++) {
        char name[60];
        SF_INFO info = {0};
        (void)snprintf(name, sizeof name, "fixtures/demo-%s.flac", notes[i]);
        SNDFILE *file = sf_open(name, SFM_READ, &info);
        memset(frames, 0, sizeof frames);
        assert_non_null(file);
        const size_t first = (size_t)info.samplerate; /* a second */
        assert_true(sf_readf_float(file, frames + first, 2 * RATE) == 2 * RATE);
        (void)sf_close(file);
        for (size_t k = 0; k < first + 2 * RATE; k++)
            sound[k] = (double)frames[k];
        record(info.samplerate, first + 2 * RATE, 1.0, 1, 0);
        sb_take *take = sb_take_new();
        assert_non_null(take);
        assert_int_equal(sb_take_load(take, path, 0, NULL), SB_OK);
        for (size_t k = 0; k < take->n; k++)
            assert_true(take->readings[k].fault != SB_PLUCK_GOOD || take->readings[k].hz > 75.0);
        free(take);
    }
}

/* --- the calculus ---------------------------------------------------------------------------- */

/* The equation of core/saddle.h: Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683 (2024),
 * with T = mu (2 L f)^2. Zero where the moved saddle, at L', makes the interval true. */
static double imbalance(double scale, double l, int fret, double cents, double moved) {
    const double g = exp2(fret / 12.0), a = scale * (1.0 - 1.0 / g);
    const double ln_g = log(g * exp2(cents / 1200.0) * (l - a) / l);
    return log(moved / (g * (moved - a))) + ln_g * l * l * (l - a) / (moved * moved * (moved - a));
}

/* By halving: slow, and nothing like the program's way. The imbalance falls with L'. */
static double inverse(double scale, double l, int fret, double cents) {
    double low = l - 40.0, high = l + 40.0;
    for (int i = 0; i < 200; i++) {
        const double middle = 0.5 * (low + high);
        if (imbalance(scale, l, fret, cents, middle) > 0.0)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high) - l;
}

static void test_the_move_undoes_the_error(void **state) {
    (void)state;
    prng rng = prng_seeded(73);
    for (int k = 0; k < 3000; k++) {
        const double scale = prng_uniform(&rng, 300.0, 900.0);
        const sb_geometry g = {scale, scale + prng_uniform(&rng, -2.0, 6.0),
                               5 + (int)prng_uniform(&rng, 0.0, 15.0)};
        const double cents = prng_uniform(&rng, -20.0, 20.0);
        sb_move move;
        assert_int_equal(sb_saddle_move(&g, cents, 0.1, &move), SB_OK);
        assert_within(move.move_mm, inverse(scale, g.speaking_mm, g.fret, cents), 1e-8);
        assert_true((move.move_mm > 0.0) == (cents > 0.0));
    }
}

/* --- the compromise --------------------------------------------------------------------------- */

typedef struct {
    double largest, squares;
} badness;

static badness badness_at(const sb_shared_string strings[], size_t n, double position,
                          double slope) {
    badness b = {0.0, 0.0};
    for (size_t i = 0; i < n; i++) {
        const sb_shared_string *s = &strings[i];
        const double left =
            s->weight * s->cents_per_mm * (s->needed_mm - position - slope * s->across_mm);
        b.largest = fmax(b.largest, fabs(left));
        b.squares += left * left;
    }
    return b;
}

/* No place of a fine grid is better, in the travel where there is one. */
static void compare_with_grid(const sb_shared_string strings[], size_t n,
                              const sb_compromise_options *o) {
    sb_compromise c;
    const bool slant = o->shape == SB_SHAPE_SLANT;
    const int tilts = slant ? 60 : 0;
    assert_int_equal(sb_compromise_place(strings, n, o, &c), SB_OK);
    const badness best = badness_at(strings, n, c.position_mm, c.slope);
    for (int p = 0; p <= 200; p++)
        for (int t = -tilts; t <= tilts; t++) {
            const double position = -5.0 + 0.05 * p, slope = 0.005 * t;
            bool in_reach = true;
            for (int e = 0; e < 2 && o->limited; e++) {
                const double there = position + slope * o->ends[e].across_mm;
                in_reach = in_reach && there >= o->ends[e].least_mm && there <= o->ends[e].most_mm;
            }
            const badness b = badness_at(strings, n, position, slope);
            if (in_reach && o->fit == SB_FIT_LARGEST)
                assert_true(best.largest <= b.largest + 1e-7);
            else if (in_reach)
                assert_true(best.squares <= b.squares + 1e-7);
        }
}

static void test_no_place_is_better(void **state) {
    (void)state;
    prng rng = prng_seeded(74);
    for (int k = 0; k < 80; k++) {
        sb_shared_string strings[8];
        const size_t n = 1 + (size_t)prng_uniform(&rng, 0.0, 8.0);
        const sb_compromise_options o = {
            .shape = (sb_saddle_shape)(k % 2),
            .fit = (sb_compromise_fit)(k / 2 % 2),
            .limited = k % 3 == 0,
            .ends = {{0.0, prng_uniform(&rng, -3.0, 0.0), prng_uniform(&rng, 0.0, 3.0)},
                     {52.5, prng_uniform(&rng, -3.0, 0.0), prng_uniform(&rng, 0.0, 3.0)}}};
        for (size_t i = 0; i < n; i++)
            strings[i] = (sb_shared_string){
                prng_uniform(&rng, -4.0, 4.0), 10.5 * (double)i + prng_uniform(&rng, -1.0, 1.0),
                prng_uniform(&rng, 1.5, 4.0), prng_uniform(&rng, 0.3, 3.0)};
        compare_with_grid(strings, n, &o);
    }
}

/* --- units -------------------------------------------------------------------------------------
 */

static void test_units_come_back(void **state) {
    (void)state;
    prng rng = prng_seeded(75);
    char text[SB_LENGTH_TEXT_MAX];
    for (int k = 0; k < 20000; k++) {
        double mm = prng_uniform(&rng, -1.0, 1.0) * exp2(prng_uniform(&rng, -12.0, 13.0)),
               got = 0.0;
        const int decimals = k % 7;
        sb_length_format_mm(mm, decimals, text, sizeof text);
        assert_int_equal(sb_length_parse(text, 0.0, &got), SB_OK);
        assert_within(got, mm, 0.5000001 * pow(10.0, -decimals) + 1e-12 * fabs(mm));
        (void)snprintf(text, sizeof text, "%.17gin", mm / 25.4); /* NIST SP 811: exactly 25.4 mm */
        if (strchr(text, 'e') == NULL) {
            assert_int_equal(sb_length_parse(text, 0.0, &got), SB_OK);
            assert_within(got, mm, 4e-16 * fabs(mm));
        }
        const double halves = round(prng_uniform(&rng, -5000.0, 5000.0));
        sb_length_format_64ths(halves * 25.4 / 128.0, text, sizeof text);
        assert_int_equal(sb_length_parse(text, 0.0, &got), SB_OK);
        assert_within(got, halves * 25.4 / 128.0, 1e-9);
    }
}

/* To the eighth of a turn, and the same way back. */
static void test_turns_come_back(void **state) {
    (void)state;
    prng rng = prng_seeded(76);
    for (int k = 0; k < 5000; k++) {
        const double mm = prng_uniform(&rng, -10.0, 10.0), pitch = prng_uniform(&rng, 0.3, 1.0);
        const sb_screw_action action = k % 2 ? SB_SCREW_PULLS : SB_SCREW_PUSHES;
        sb_turn turn = SB_TURN_NONE;
        const double turns = sb_screw_turns(mm, pitch, action, &turn);
        const double way = turn == SB_TURN_NONE                                        ? 0.0
                           : (turn == SB_TURN_CLOCKWISE) == (action == SB_SCREW_PULLS) ? 1.0
                                                                                       : -1.0;
        assert_within(way * turns * pitch, mm, pitch / 16.0 + 1e-12);
        assert_true(turns * 8.0 == round(turns * 8.0));
    }
}

static void test_notes_and_strings_come_back(void **state) {
    (void)state;
    prng rng = prng_seeded(77);
    for (int k = 0; k < 2000; k++) {
        sb_string strings[SB_STRINGS_MAX] = {{.semitone = 0}}, again[SB_STRINGS_MAX];
        char text[1024];
        size_t n = 1 + (size_t)prng_uniform(&rng, 0.0, 12.0), got = 0;
        for (size_t i = 0; i < n; i++)
            strings[i] = (sb_string){
                .semitone = 24 + (int)prng_uniform(&rng, 0.0, 60.0),
                .gauge_mm = k % 5 ? 0.0254 * (4.0 + floor(prng_uniform(&rng, 0.0, 120.0))) : 0.0,
                .wound = k % 5 && k % 2,
                .course = (int)i + 1};
        sb_strings_format(strings, n, text, sizeof text);
        assert_int_equal(sb_strings_parse(text, again, &got), SB_OK);
        assert_int_equal(got, n);
        for (size_t i = 0; i < n; i++) {
            assert_int_equal(again[i].semitone, strings[i].semitone);
            assert_int_equal(again[i].wound, strings[i].wound);
            assert_int_equal(again[i].course, strings[i].course);
            assert_within(again[i].gauge_mm, strings[i].gauge_mm, 1e-9);
        }
        double off = 0.0;
        const int semitone = 12 + (int)prng_uniform(&rng, 0.0, 96.0);
        const double cents = prng_uniform(&rng, -49.9, 49.9);
        /* ISO 16:1975 and twelve equal steps to the octave */
        const double hz = 440.0 * exp2(((semitone - 69) * 100.0 + cents) / 1200.0);
        assert_int_equal(sb_note_nearest(hz, 440.0, &off), semitone);
        assert_within(off, cents, 1e-9);
    }
}

static int set_up(void **state) {
    (void)state;
    const int file = mkstemp(path);
    return file < 0 ? -1 : close(file);
}

static int tear_down(void **state) {
    (void)state;
    return unlink(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gain_polarity_channels),
        cmocka_unit_test(test_played_faster_or_slower),
        cmocka_unit_test(test_hum_that_begins_is_no_note),
        cmocka_unit_test(test_the_move_undoes_the_error),
        cmocka_unit_test(test_no_place_is_better),
        cmocka_unit_test(test_units_come_back),
        cmocka_unit_test(test_turns_come_back),
        cmocka_unit_test(test_notes_and_strings_come_back),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
