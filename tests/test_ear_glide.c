/* Glides: what stretches a string, what is heard of that, and planes besides. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/support/carrier.h"
#include "tests/support/cents.h"
#include "tests/support/corpus.h"
#include "tests/support/ears.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/tally.h"

#define RATE     48000.0
#define ROOM_S   0.4
#define QUIET_DB (-60.0)

enum { BEFORE = 33600, NOTE = 96000, SHORT = 19200, SAMPLES = BEFORE + NOTE };

static void judge(tally *to, double truth_hz, sb_reading r) {
    assert_int_equal(r.fault, SB_PLUCK_GOOD);
    tally_add(to, cents(truth_hz, r.hz), r.std_error_cents, 0.0);
}

/* So many samples of what sounds in x, in a room with such noise. */
static sb_reading read_in_room(double x[SAMPLES], size_t n, double rms, double noise_db,
                               uint64_t seed) {
    static float y[SAMPLES];
    synth_room room = room_silent(rms, seed);
    room.noise_db = noise_db;
    room_add(&room, RATE, x, SAMPLES);
    synth_to_float(x, SAMPLES, y);
    return ears_read(RATE, y + BEFORE, n, y, (size_t)(ROOM_S * RATE));
}

static double *silence(void) {
    static double x[SAMPLES];
    for (size_t i = 0; i < SAMPLES; i++)
        x[i] = 0.0;
    return x;
}

static sb_reading read_in_noise(const synth_note *note, size_t n, double noise_db, uint64_t seed) {
    double *x = silence();
    (void)synth_add(note, RATE, x, SAMPLES);
    return read_in_room(x, n, note->rms, noise_db, seed);
}

static sb_reading read_note(const synth_note *note, size_t n, uint64_t seed) {
    return read_in_noise(note, n, QUIET_DB, seed);
}

static synth_note gliding_note(double hz, double inharmonicity, double cents, uint64_t seed) {
    synth_note note = synth_plain(synth_f0_for(hz, inharmonicity), inharmonicity, seed);
    note.at_s = ROOM_S;
    note.glide_cents = cents;
    return note;
}

static void assert_told_within(const tally *got, double most_rms_cents) {
    print_message("RMS %.4f, within 2: %.0f %%\n", tally_rms(got), tally_inside_2(got));
    assert_true(tally_rms(got) < most_rms_cents && tally_inside_2(got) >= 90.0);
}

/* Strings that differ as k does. */
static carrier_string string_of(uint64_t k) {
    return (carrier_string){.hz = 82.4 * pow(2.0, (double)(k % 11) / 4.4),
                            .inharmonicity = k % 2 ? 6e-5 : 1.1e-4,
                            .rms = 0.05,
                            .pluck = 0.08 + 0.02 * (double)(k % 8),
                            .pickup = k % 3 ? 0.06 + 0.03 * (double)(k % 5) : 0.0,
                            .decay_per_s = 0.5 + 0.2 * (double)(k % 6),
                            .decay_s = 3e-8,
                            .glide_cents = 5.0 + (double)(k % 9),
                            .seed = k};
}

static sb_reading read_string(const carrier_string *string, size_t n) {
    double *x = silence();
    carrier_add(string, RATE, (size_t)(ROOM_S * RATE), x, SAMPLES);
    return read_in_room(x, n, string->rms, QUIET_DB, string->seed);
}

/* A pickup colours what is heard of the energy that stretches the string. */
static void test_a_pickup_colours_them(void **state) {
    (void)state;
    static const struct {
        uint64_t seed;
        size_t i;
    } notes[] = {{2001, 132}, {2001, 198}, {207, 198}};
    tally got = {0};
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        corpus_note note = corpus_make(CORPUS_GLIDE, notes[k].seed, notes[k].i);
        judge(&got, note.truth_hz, ears_read_note(&note, 2.0));
        corpus_free(&note);
    }
    print_message("RMS %.4f, worst %.4f\n", tally_rms(&got), got.worst_cents);
    assert_true(tally_rms(&got) < 0.04); /* 0.098 by the energy as heard */
}

/* Two planes that glide, heard by a pickup: the glide's shape is chosen by phases that both bend.
 * With no more doubt of it than the shapes leave, 75 % lay within two standard errors. */
static void test_planes_that_glide(void **state) {
    (void)state;
    tally got = {0};
    for (uint64_t k = 12; k < 28; k++) {
        const double hz = 82.4 * pow(2.0, (double)(k % 10) / 5.0), b = k % 2 ? 6e-5 : 1.1e-4;
        synth_note note = gliding_note(hz, b, 6.0 + (double)(k % 8), 100 + k);
        note.pickup = 0.05 + 0.03 * (double)(k % 6);
        note.second_cents = 0.7 + 0.1 * (double)(k % 9);
        note.second_share = 0.2 + 0.02 * (double)(k % 7);
        note.second_decay = 1.5;
        judge(&got, synth_truth_hz(&note), read_note(&note, NOTE, k));
    }
    assert_told_within(&got, 0.08);
}

/* A short note's planes bend the phases so that they tell half as much glide again, or twice as
 * much, and that hides the planes: both have to be looked for together. */
static void test_planes_that_glide_shortly(void **state) {
    (void)state;
    tally got = {0};
    for (uint64_t k = 0; k < 24; k++) {
        const double hz = 196.0 * pow(2.0, (double)(k % 12) / 8.0), b = k % 2 ? 6e-5 : 1.3e-4;
        synth_note note = gliding_note(hz, b, 6.0 + (double)(k % 7), 500 + k);
        note.glide_rate_per_s = 3.0 + 0.3 * (double)(k % 8);
        note.second_cents = k % 3 ? -1.0 : 1.0;
        note.second_share = 0.2 + 0.02 * (double)(k % 5);
        note.second_decay = 0.7;
        judge(&got, synth_truth_hz(&note), read_note(&note, SHORT, k));
    }
    /* 0.42 and 70 %, and one refused, by one after the other */
    assert_told_within(&got, 0.1);
}

/* In noise a short note's glide may be the energy's or an exponential of its own. */
static void test_short_glides_in_noise(void **state) {
    (void)state;
    tally got = {0};
    for (uint64_t k = 0; k < 48; k++) {
        const double hz = 82.4 * pow(2.0, (double)(k % 13) / 5.2), b = k % 2 ? 6e-5 : 1.1e-4;
        synth_note note = gliding_note(hz, b, 6.0 + (double)(k % 9), 700 + k);
        note.glide_rate_per_s = 2.5 + 0.5 * (double)(k % 8);
        judge(&got, synth_truth_hz(&note), read_in_noise(&note, SHORT, -20.0, k));
    }
    /* 0.74 and 81 % with eight to one for the energy */
    assert_told_within(&got, 0.66);
}

/* Each partial's own motion counts for more in its own glide. */
static void test_a_string_makes_its_tension(void **state) {
    (void)state;
    static const uint64_t strings[] = {6, 14, 20, 24, 30, 31, 32, 42};
    tally got = {0};
    for (size_t k = 0; k < sizeof strings / sizeof *strings; k++) {
        const carrier_string string = string_of(strings[k]);
        judge(&got, string.hz, read_string(&string, NOTE));
    }
    print_message("RMS %.4f, worst %.4f\n", tally_rms(&got), got.worst_cents);
    assert_true(tally_rms(&got) < 0.03); /* 0.09 by one glide for all */
    assert_true(tally_inside_2(&got) == 100.0);
}

/* Over 0.4 s the tracks leave open what part each partial has in the energy that stretches the
 * string: 3.3 to 3.8 of their errors off with no doubt of that. */
static void test_short_notes_of_a_string(void **state) {
    (void)state;
    static const uint64_t strings[] = {56, 73, 196};
    for (size_t k = 0; k < sizeof strings / sizeof *strings; k++) {
        const carrier_string string = string_of(strings[k]);
        const sb_reading r = read_string(&string, SHORT);
        const double error = cents(string.hz, r.hz);
        print_message("error %+.3f +- %.3f\n", error, r.std_error_cents);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(fabs(error) < 3.0 * r.std_error_cents);
    }
}

/* Planes each of whose partials dies in its own way, as they share a glide: the descent to them may
 * end beside their place. */
static void test_planes_that_die_apart(void **state) {
    (void)state;
    static const uint64_t strings[] = {18, 82, 127};
    tally got = {0};
    for (size_t k = 0; k < sizeof strings / sizeof *strings; k++) {
        carrier_string string = string_of(strings[k]);
        string.mean_tension = true;
        string.second_cents = strings[k] % 2 ? 1.0 : -1.0;
        string.second_share = 0.1 + 0.02 * (double)(strings[k] % 7);
        judge(&got, string.hz, read_string(&string, NOTE));
    }
    print_message("RMS %.4f, worst %.4f\n", tally_rms(&got), got.worst_cents);
    assert_true(tally_rms(&got) < 0.02); /* 0.14 where it ended there */
}

/* Planes plucked alike have all partials of a low note off on one side, by more than they scatter,
 * and 0.4 s of it do not show them: 5.6 and 3.5 of their errors off with no doubt of that. */
static void test_planes_a_short_note_hides(void **state) {
    (void)state;
    static const uint64_t strings[] = {0, 22};
    for (size_t k = 0; k < sizeof strings / sizeof *strings; k++) {
        carrier_string string = string_of(strings[k]);
        string.hz *= 0.5;
        string.glide_cents = 0.0;
        string.second_cents = -1.0;
        string.second_share = 0.1 + 0.03 * (double)(strings[k] % 7);
        const sb_reading r = read_string(&string, SHORT);
        const double error = cents(string.hz, r.hz);
        print_message("error %+.3f +- %.3f\n", error, r.std_error_cents);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(fabs(error) < 3.0 * r.std_error_cents);
    }
}

/* Where little is heard of the glide it might as well rise, which no string's does: the second was
 * refused for that, the others told with 2.6 and 2.3 of their errors off. */
static void test_no_glide_rises(void **state) {
    (void)state;
    static const struct {
        corpus_condition condition;
        uint64_t seed;
        size_t i;
    } notes[] = {{CORPUS_ALL, 207, 11}, {CORPUS_CLIPPED, 2001, 440}, {CORPUS_ALL, 207, 220}};
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        corpus_note note = corpus_make(notes[k].condition, notes[k].seed, notes[k].i);
        const sb_reading r = ears_read_note(&note, 0.4);
        const double error = cents(note.truth_hz, r.hz);
        print_message("glide %.2f, error %+.3f +- %.3f\n", r.glide_cents, error, r.std_error_cents);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(r.glide_cents >= 0.0 && fabs(error) < 2.0 * r.std_error_cents);
        corpus_free(&note);
    }
}

/* Short low notes without a glide, of which one cannot be ruled out: that enters the error and not
 * the pitch (0.082, 0.054 and 0.012 cents off by the mean of what may be). */
static void test_what_may_glide_stays(void **state) {
    (void)state;
    static const struct {
        corpus_condition condition;
        uint64_t seed;
        size_t i;
        double most_cents;
    } notes[] = {
        {CORPUS_NOISE_20, 5002, 21, 0.05},
        {CORPUS_NOISE_20, 5002, 168, 0.05},
        {CORPUS_HUM, 207, 168, 0.006},
    };
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        corpus_note note = corpus_make(notes[k].condition, notes[k].seed, notes[k].i);
        const sb_reading r = ears_read_note(&note, 0.4);
        const double error = cents(note.truth_hz, r.hz);
        print_message("error %+.4f +- %.4f\n", error, r.std_error_cents);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(fabs(error) < notes[k].most_cents && r.std_error_cents > 0.05);
        corpus_free(&note);
    }
}

/* Of a short low note among other strings the bands may be as well accounted for without its glide:
 * told without, and with the doubt of that (11.2 and 8.6 of its errors off without it). The third
 * was refused as long as planes were seen in it that are not there. In the last two lines added to
 * the bands take the glide up, and with it the doubt that the phases left (8.0 and 6.0 errors). */
static void test_a_glide_that_strings_hide(void **state) {
    (void)state;
    static const struct {
        uint64_t seed;
        size_t i;
    } notes[] = {{31, 320}, {14, 140}, {2001, 198}, {901, 110}, {901, 350}};
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        corpus_note note = corpus_make(CORPUS_GLIDE_STRINGS, notes[k].seed, notes[k].i);
        const sb_reading r = ears_read_note(&note, 0.4);
        const double error = cents(note.truth_hz, r.hz);
        print_message("error %+.3f +- %.3f\n", error, r.std_error_cents);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(fabs(error) < 4.0 * r.std_error_cents);
        corpus_free(&note);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_pickup_colours_them),
        cmocka_unit_test(test_planes_that_glide),
        cmocka_unit_test(test_planes_that_glide_shortly),
        cmocka_unit_test(test_short_glides_in_noise),
        cmocka_unit_test(test_a_string_makes_its_tension),
        cmocka_unit_test(test_short_notes_of_a_string),
        cmocka_unit_test(test_planes_that_die_apart),
        cmocka_unit_test(test_planes_a_short_note_hides),
        cmocka_unit_test(test_no_glide_rises),
        cmocka_unit_test(test_what_may_glide_stays),
        cmocka_unit_test(test_a_glide_that_strings_hide),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
