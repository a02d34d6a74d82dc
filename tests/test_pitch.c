/* Pitch arithmetic against ISO 16:1975 and equal temperament; the figures were computed
 * elsewhere with 30 digits from 440 Hz * 2^((n - 69)/12). */
#include <limits.h>
#include <math.h>
#include <string.h>

#include "core/pitch.h"
#include "tests/support/within.h"

typedef struct {
    const char *name;
    int semitone;
    double hz; /* at A4 = 440 Hz, ISO 16:1975 */
} note_row;

static const note_row notes[] = {
    {"C-1", 0, 8.17579891564371},
    {"B0", 23, 30.8677063285078},
    {"E1", 28, 41.2034446141087},
    {"A1", 33, 55.0},
    {"D2", 38, 73.4161919793519},
    {"E2", 40, 82.4068892282175},
    {"G2", 43, 97.9988589954373},
    {"A2", 45, 110.0},
    {"D3", 50, 146.832383958704},
    {"G3", 55, 195.997717990875},
    {"B3", 59, 246.941650628062},
    {"E4", 64, 329.62755691287},
    {"A4", 69, 440.0},
    {"B9", 131, 15804.265640196},
};
#define N_NOTES (sizeof notes / sizeof notes[0])

static void test_notes_have_the_standard_frequencies(void **state) {
    (void)state;
    for (size_t i = 0; i < N_NOTES; i++) {
        int semitone = -1;
        char text[SB_NOTE_TEXT_MAX];
        assert_int_equal(sb_note_parse(notes[i].name, &semitone), SB_OK);
        assert_int_equal(semitone, notes[i].semitone);
        assert_within(sb_note_hz(semitone, SB_A4_HZ), notes[i].hz, 1e-12 * notes[i].hz);
        sb_note_format(semitone, text, sizeof text);
        assert_string_equal(text, notes[i].name);
    }
    assert_within(sb_note_hz(40, 442.5), 82.8751101897414, 1e-12);
}

static void test_note_spellings(void **state) {
    (void)state;
    const struct {
        const char *text;
        int semitone;
    } rows[] = {
        {"e2", 40},  {"F#3", 54},  {"f#3", 54},  {"Gb3", 54},  {"Bb1", 34}, {"bb1", 34},
        {"b1", 35},  {"bbb1", 33}, {"C##4", 62}, {"B#3", 60},  {"Cb4", 59}, {"Fb2", 40},
        {"E#2", 41}, {"D-1", 2},   {"A#9", 130}, {"Cbb5", 70},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int semitone = -1;
        assert_int_equal(sb_note_parse(rows[i].text, &semitone), SB_OK);
        assert_int_equal(semitone, rows[i].semitone);
    }
}

static void test_what_is_no_note(void **state) {
    (void)state;
    const char *syntax[] = {"",     "H2",    "E",     "2E",  "E2 ",  " E2",
                            "E#b2", "E###2", "Ebbb2", "E 2", "#2",   "E2x",
                            "E--1", "E+2",   "E2.0",  "E-",  "\xff", "E\xc2\xbd"};
    const char *range[] = {"E10", "C-2", "Cb-1", "B#9", "E99999999999999999999", "A-10", "E02"};
    int semitone = 12345;

    for (size_t i = 0; i < sizeof syntax / sizeof syntax[0]; i++) {
        assert_int_equal(sb_note_parse(syntax[i], &semitone), SB_E_SYNTAX);
    }
    for (size_t i = 0; i < sizeof range / sizeof range[0]; i++) {
        assert_int_equal(sb_note_parse(range[i], &semitone), SB_E_RANGE);
    }
    assert_int_equal(semitone, 12345);
}

static void test_formatting_is_undone_by_parsing(void **state) {
    (void)state;
    for (int semitone = 0; semitone <= 131; semitone++) {
        char text[SB_NOTE_TEXT_MAX];
        int back = -1;
        sb_note_format(semitone, text, sizeof text);
        assert_int_equal(sb_note_parse(text, &back), SB_OK);
        assert_int_equal(back, semitone);
    }
}

static void test_formatting_stays_in_its_bytes(void **state) {
    (void)state;
    char text[SB_NOTE_TEXT_MAX + 1];
    const int odd[] = {INT_MAX, INT_MIN, -1, -12, -13};
    const char *want[] = {"G178956", "E-17895", "B-2", "C-2", "B-3"};

    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        text[SB_NOTE_TEXT_MAX] = '\x55';
        sb_note_format(odd[i], text, SB_NOTE_TEXT_MAX);
        assert_string_equal(text, want[i]);
        assert_int_equal(text[SB_NOTE_TEXT_MAX], '\x55');
    }
    sb_note_format(54, text, 2);
    assert_string_equal(text, "F");
}

static void test_cents(void **state) {
    (void)state;
    assert_within(sb_cents_between(440.0, 440.0), 0.0, 0.0);
    assert_within(sb_cents_between(82.5, 165.0), 1200.0, 0.0);
    assert_within(sb_cents_between(165.0, 82.5), -1200.0, 0.0);
    /* 1200 log2(442/440), 30 digits. */
    assert_within(sb_cents_between(440.0, 442.0), 7.85141504012636, 1e-12);
    /* 2^(1/1200): the cent as IEC 60050-801 defines it (from memory). */
    assert_within(sb_ratio_from_cents(1.0), 1.0005777895065549, 1e-15);
    assert_within(sb_ratio_from_cents(-1200.0), 0.5, 0.0);
    for (double cents = -2500.0; cents < 2500.0; cents += 37.3) {
        const double hz = 110.0 * sb_ratio_from_cents(cents);
        assert_within(sb_cents_between(110.0, hz), cents, 1e-9);
        assert_within(sb_cents_between(hz, 110.0), -cents, 1e-9);
    }
    assert_within(SB_CENTS_PER_LN * log(2.0), 1200.0, 1e-12);
}

static void test_cents_of_no_frequency(void **state) {
    (void)state;
    const double bad[] = {0.0, -0.0, -1.0, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        double off = 0.0;
        assert_true(isnan(sb_cents_between(bad[i], 440.0)));
        assert_true(isnan(sb_cents_between(440.0, bad[i])));
        (void)sb_note_nearest(bad[i], 440.0, &off);
        assert_true(isnan(off));
    }
}

/* 2^(n/12), 30 digits. */
static void test_frets(void **state) {
    (void)state;
    assert_within(sb_fret_ratio(0), 1.0, 0.0);
    assert_within(sb_fret_ratio(1), 1.0594630943592953, 1e-15);
    assert_within(sb_fret_ratio(7), 1.4983070768766815, 1e-15);
    assert_within(sb_fret_ratio(12), 2.0, 0.0);
    assert_within(sb_fret_ratio(19), 2.996614153753363, 1e-15);
    assert_within(sb_fret_ratio(24), 4.0, 0.0);
}

static void test_nearest_note(void **state) {
    (void)state;
    double off = 0.0;
    assert_int_equal(sb_note_nearest(440.0, 440.0, &off), 69);
    assert_within(off, 0.0, 0.0);
    assert_int_equal(sb_note_nearest(442.0, 440.0, &off), 69);
    assert_within(off, 7.85141504012636, 1e-9);
    assert_int_equal(sb_note_nearest(440.0, 442.0, &off), 69);
    assert_within(off, -7.85141504012636, 1e-9);
    for (int semitone = 0; semitone <= 131; semitone++) {
        for (double cents = -49.0; cents < 50.0; cents += 14.0) {
            const double hz = sb_note_hz(semitone, 431.7) * sb_ratio_from_cents(cents);
            assert_int_equal(sb_note_nearest(hz, 431.7, &off), semitone);
            assert_within(off, cents, 1e-8);
            assert_int_equal(sb_note_nearest(hz, 431.7, NULL), semitone);
        }
    }
    (void)sb_note_nearest(1e-300, 440.0, &off);
    assert_true(off >= -50.0 && off <= 50.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_notes_have_the_standard_frequencies),
        cmocka_unit_test(test_note_spellings),
        cmocka_unit_test(test_what_is_no_note),
        cmocka_unit_test(test_formatting_is_undone_by_parsing),
        cmocka_unit_test(test_formatting_stays_in_its_bytes),
        cmocka_unit_test(test_cents),
        cmocka_unit_test(test_cents_of_no_frequency),
        cmocka_unit_test(test_frets),
        cmocka_unit_test(test_nearest_note),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
