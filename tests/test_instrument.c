/* An instrument written down, read back, and judged. Lengths by 1 in = 25.4 mm exactly. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "core/instrument.h"
#include "tests/support/prng.h"

#define SIX "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w"

static sb_instrument sound(void) {
    sb_instrument it;
    sb_kind_instrument(sb_kind_named("electric"), &it);
    return it;
}

static void strings_are_read(void **state) {
    (void)state;
    sb_string s[SB_STRINGS_MAX];
    size_t n = 0;
    assert_int_equal(sb_strings_parse(SIX, s, &n), SB_OK);
    assert_int_equal(n, 6);
    assert_int_equal(s[0].semitone, 64); /* E4 = MIDI 64, E2 = 40 */
    assert_int_equal(s[5].semitone, 40);
    assert_true(s[0].gauge_mm == 0.254 && s[5].gauge_mm == 1.1684);
    assert_false(s[2].wound);
    assert_true(s[3].wound);
    assert_int_equal(s[5].course, 6);
}

static void gauges_take_units(void **state) {
    (void)state;
    sb_string s[SB_STRINGS_MAX];
    size_t n = 0;
    assert_int_equal(sb_strings_parse("E4:0.010in, B3:0.7mm ,G3:0.43mmw,D3", s, &n), SB_OK);
    assert_int_equal(n, 4);
    assert_true(s[0].gauge_mm == 0.254 && s[1].gauge_mm == 0.7 && s[2].gauge_mm == 0.43);
    assert_true(s[2].wound && !s[1].wound);
    assert_true(s[3].gauge_mm == 0);
}

static void courses_are_joined(void **state) {
    (void)state;
    sb_string s[SB_STRINGS_MAX];
    size_t n = 0;
    assert_int_equal(sb_strings_parse("E5:11+E5:11,A4:15+A4:15,D4:26w", s, &n), SB_OK);
    assert_int_equal(n, 5);
    const int want[] = {1, 1, 2, 2, 3};
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(s[i].course, want[i]);
}

static void expect_strings(const char *text, sb_status want) {
    sb_string s[SB_STRINGS_MAX];
    size_t n = 77;
    sb_status got = sb_strings_parse(text, s, &n);
    if (got != want)
        fail_msg("'%s': %d, not %d", text, (int)got, (int)want);
    assert_int_equal(n, 77);
}

static void wrong_strings_are_refused(void **state) {
    (void)state;
    static const char *const syntax[] = {"",
                                         ",",
                                         "E4:10,",
                                         "E4:10,,B3:13",
                                         "H4:10",
                                         "E4:",
                                         "E4:w",
                                         "E4:10x",
                                         "E4:ten",
                                         "10:E4",
                                         "E4:10 w2",
                                         "E4:10;B3:13",
                                         "E4:nan",
                                         "E4::10",
                                         "E4:10wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww"};
    for (size_t i = 0; i < sizeof syntax / sizeof *syntax; i++)
        expect_strings(syntax[i], SB_E_SYNTAX);
    expect_strings("E4:0", SB_E_RANGE);
    expect_strings("E4:-10", SB_E_RANGE);
    expect_strings("E4:0.010", SB_E_RANGE); /* a hundredth of a thousandth: inches were meant */
    expect_strings("E4:10in", SB_E_RANGE);
    expect_strings("E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4,E4",
                   SB_E_RANGE);
}

static void formatting_is_the_inverse(void **state) {
    (void)state;
    static const char *const same[] = {SIX, "E4:9.5,B3:0.7mm,G3,D3:25.25w", "E5:11+E5:11,A4:15w",
                                       "F#1:74w+F#2:0.123457mm"};
    for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
        sb_string s[SB_STRINGS_MAX];
        size_t n = 0;
        char text[SB_STRINGS_TEXT_MAX];
        assert_int_equal(sb_strings_parse(same[i], s, &n), SB_OK);
        sb_strings_format(s, n, text, sizeof text);
        assert_string_equal(text, same[i]);
    }
}

static void any_strings_come_back(void **state) {
    (void)state;
    prng random = prng_seeded(4);
    for (int trial = 0; trial < 2000; trial++) {
        sb_string in[SB_STRINGS_MAX], out[SB_STRINGS_MAX];
        size_t n = 1 + (size_t)prng_uniform(&random, 0, SB_STRINGS_MAX), back = 0;
        char text[SB_STRINGS_TEXT_MAX];
        for (size_t i = 0; i < n; i++) {
            in[i] = (sb_string){.semitone = (int)prng_uniform(&random, 0, 132),
                                .gauge_mm = round(prng_uniform(&random, 5e4, 5e6)) / 1e6,
                                .wound = prng_uniform(&random, 0, 1) < 0.5};
            in[i].course = i == 0 ? 1 : in[i - 1].course + (prng_uniform(&random, 0, 1) < 0.7);
        }
        sb_strings_format(in, n, text, sizeof text);
        assert_int_equal(sb_strings_parse(text, out, &back), SB_OK);
        assert_int_equal(back, n);
        for (size_t i = 0; i < n; i++) {
            assert_int_equal(out[i].semitone, in[i].semitone);
            assert_true(out[i].gauge_mm == in[i].gauge_mm && out[i].wound == in[i].wound);
            assert_int_equal(out[i].course, in[i].course);
        }
    }
}

static void expect_saddles(const char *text, size_t strings, const char *want, size_t count) {
    sb_saddle s[SB_STRINGS_MAX];
    size_t n = 0;
    char back[SB_SADDLES_TEXT_MAX];
    assert_int_equal(sb_saddles_parse(text, strings, s, &n), SB_OK);
    assert_int_equal(n, count);
    assert_int_equal(s[0].first, 1);
    assert_int_equal(s[n - 1].last, strings);
    sb_saddles_format(s, n, back, sizeof back);
    assert_string_equal(back, want);
}

static void saddles_are_read(void **state) {
    (void)state;
    expect_saddles("each", 6, "each", 6);
    expect_saddles("pairs", 6, "pairs", 3);
    expect_saddles("1-2,3-4,5-6", 6, "pairs", 3);
    expect_saddles("pairs", 5, "pairs", 3);
    expect_saddles("1-2,3-4,5", 5, "pairs", 3);
    expect_saddles("one", 6, "one", 1);
    expect_saddles("1-6", 6, "one", 1);
    expect_saddles("1-3,4,5-6", 6, "1-3,4,5-6", 3);
    expect_saddles("1,2,3", 3, "each", 3);
    expect_saddles("1-10,11-12", 12, "1-10,11-12", 2);
}

static void wrong_saddles_are_refused(void **state) {
    (void)state;
    static const struct {
        const char *text;
        sb_status want;
    } cases[] = {{"", SB_E_SYNTAX},           {"all", SB_E_SYNTAX},    {"1-2,", SB_E_SYNTAX},
                 {"1-,3", SB_E_SYNTAX},       {"1 - 2", SB_E_SYNTAX},  {"1-123", SB_E_SYNTAX},
                 {"1-2", SB_E_RANGE},         {"1-2,4-6", SB_E_RANGE}, {"1-3,3-6", SB_E_RANGE},
                 {"3-6,1-2", SB_E_RANGE},     {"2-6", SB_E_RANGE},     {"1-7", SB_E_RANGE},
                 {"1-2,3-4,5-7", SB_E_RANGE}, {"0-6", SB_E_RANGE},     {"1-6,7", SB_E_RANGE}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sb_saddle s[SB_STRINGS_MAX];
        size_t n = 77;
        sb_status got = sb_saddles_parse(cases[i].text, 6, s, &n);
        if (got != cases[i].want)
            fail_msg("'%s': %d", cases[i].text, (int)got);
        assert_int_equal(n, 77);
    }
    size_t n = 0;
    sb_saddle s[SB_STRINGS_MAX];
    assert_int_equal(sb_saddles_parse("each", 0, s, &n), SB_E_RANGE);
    assert_int_equal(sb_saddles_parse("each", SB_STRINGS_MAX + 1, s, &n), SB_E_RANGE);
}

static void faults_are_found(void **state) {
    (void)state;
    sb_instrument it = sound();
    assert_null(sb_instrument_fault(&it));
    it.strings[2].scale_mm = (double)NAN;
    assert_string_equal(sb_instrument_fault(&it), "a scale length is out of range");
    it = sound();
    it.strings[3].course = 2;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.strings[0].gauge_mm = -1;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.n_strings = 0;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.n_strings = SB_STRINGS_MAX + 1;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.n_saddles = 5; /* string 6 stands on nothing */
    assert_string_equal(sb_instrument_fault(&it), "the saddles do not fit the strings");
    it = sound();
    it.saddles[1].last = 3; /* string 3 on two */
    assert_string_equal(sb_instrument_fault(&it), "the saddles do not fit the strings");
    it = sound();
    it.saddles[1].back_mm = (double)INFINITY;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.frets = 0;
    assert_non_null(sb_instrument_fault(&it));
    it = sound();
    it.spacing_mm = 0;
    assert_non_null(sb_instrument_fault(&it));
}

static void starting_points_are_sound(void **state) {
    (void)state;
    static const struct {
        const char *name;
        size_t strings, saddles;
        int last_course;
    } want[] = {{"electric", 6, 6, 6},   {"electric-short", 6, 6, 6}, {"acoustic", 6, 1, 6},
                {"classical", 6, 1, 6},  {"bass-4", 4, 4, 4},         {"bass-5", 5, 5, 5},
                {"baritone", 6, 6, 6},   {"7-string", 7, 7, 7},       {"8-string", 8, 8, 8},
                {"12-string", 12, 1, 6}, {"mandolin", 8, 1, 4},       {"tenor-banjo", 4, 1, 4},
                {"ukulele", 4, 1, 4}};
    size_t n = 0;
    for (; sb_kind_at(n); n++) {
        sb_instrument it;
        sb_kind_instrument(sb_kind_at(n), &it);
        assert_null(sb_instrument_fault(&it));
        assert_string_equal(sb_kind_at(n)->name, want[n].name);
        assert_int_equal(it.n_strings, want[n].strings);
        assert_int_equal(it.n_saddles, want[n].saddles);
        assert_int_equal(it.strings[it.n_strings - 1].course, want[n].last_course);
    }
    assert_int_equal(n, sizeof want / sizeof *want);
    assert_null(sb_kind_named("harp"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strings_are_read),          cmocka_unit_test(gauges_take_units),
        cmocka_unit_test(courses_are_joined),        cmocka_unit_test(wrong_strings_are_refused),
        cmocka_unit_test(formatting_is_the_inverse), cmocka_unit_test(any_strings_come_back),
        cmocka_unit_test(saddles_are_read),          cmocka_unit_test(wrong_saddles_are_refused),
        cmocka_unit_test(faults_are_found),          cmocka_unit_test(starting_points_are_sound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
