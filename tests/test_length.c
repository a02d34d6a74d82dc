/* Lengths in and out. The expected millimetres were worked by hand from 1 in = 25.4 mm
 * (international yard and pound agreement, 1959). */
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/length.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

typedef struct {
    const char *text;
    double mm;
} length_row;

static void assert_parses(const char *text, double want) {
    double mm = -12345.0;
    if (sb_length_parse(text, 0.0, &mm) != SB_OK) {
        fail_msg("\"%s\" is not understood", text);
    }
    if (!(fabs(mm - want) <= 1e-12 * fabs(want))) {
        fail_msg("\"%s\" gives %.17g mm, not %.17g", text, mm, want);
    }
}

static void test_forms_of_the_trade(void **state) {
    (void)state;
    const length_row rows[] = {
        {"648mm", 648.0},
        {"64.8cm", 648.0},
        {"0.648m", 648.0},
        {".648m", 648.0},
        {"648.mm", 648.0},
        {"25.5in", 647.7},
        {"25 1/2in", 647.7},
        {"25-1/2\"", 647.7},
        {"25 1/2 \"", 647.7},
        {"25-1/2 inches", 647.7},
        {"1 inch", 25.4},
        {"25.5\u2033", 647.7}, /* double prime */
        {"25.5\u201d", 647.7}, /* closing quotation mark */
        {"25.5''", 647.7},
        {"25\u00bdin", 647.7},
        {"25 \u00bd in", 647.7},
        {"25-\u00bd\u2033", 647.7},
        {"24\u00be\"", 628.65},
        {"\u00bcin", 6.35},
        {"\u215bin", 3.175},
        {"\u215c\"", 9.525},
        {"\u215d\"", 15.875},
        {"\u215e\"", 22.225},
        {"\u2153in", 25.4 / 3.0},
        {"\u2154in", 50.8 / 3.0},
        {"41/64in", 16.271875},
        {"1\u20442in", 12.7}, /* fraction slash */
        {"4.5/64in", 1.7859375},
        {"4\u00bd/64 in", 1.7859375},
        {"25 4\u00bd/64in", 636.7859375},
        {"65/64in", 25.796875},
        {"12thou", 0.3048},
        {"10.5 thou", 0.2667},
        {"  648 mm  ", 648.0},
        {"648\u00a0mm", 648.0}, /* no-break space */
        {"\t648\tMM\t", 648.0},
        {"25.5IN", 647.7},
        {"-1.2mm", -1.2},
        {"\u22121.2mm", -1.2}, /* minus sign */
        {"+1.2mm", 1.2},
        {"-25-1/2in", -647.7},
        {"-1 1/2in", -38.1},
        {"0mm", 0.0},
        {"-0mm", 0.0},
        {"10m", 10000.0},
        {"-10m", -10000.0},
        {"00000648.000000mm", 648.0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_parses(rows[i].text, rows[i].mm);
    }
}

static void assert_refused(const char *text, sb_status want) {
    double mm = -12345.0;
    const sb_status got = sb_length_parse(text, 0.0, &mm);
    if (got != want) {
        fail_msg("\"%s\": %s, not %s", text, sb_status_text(got), sb_status_text(want));
    }
    assert_within(mm, -12345.0, 0.0);
}

static void test_what_is_no_length(void **state) {
    (void)state;
    const char *rows[] = {
        "",
        " ",
        "mm",
        "in",
        "-",
        "-mm",
        ".",
        ".mm",
        "648",
        "25 1/2",
        "648mmm",
        "648mm x",
        "648xmm",
        "1/0in",
        "0/0in",
        "1/0.0in",
        "1/2.5in",
        "1/-2in",
        "1//2in",
        "/2in",
        "1/in",
        "1/2/3in",
        "25,5in",
        "1.2.3mm",
        "--1mm",
        "-+1mm",
        "1e3mm",
        "0x10mm",
        "infmm",
        "nan",
        "nanmm",
        "inf",
        "25.5 1/2in",
        "1/2 1/2in",
        "25 3/2in",
        "25 1in",
        "25--1/2in",
        "25-1in",
        "25 - 1/2in",
        "- 1mm",
        "4.5\u00bdin",
        "\u00bd\u00bdin",
        "25 4\u00bdin",
        "5ft",
        "2mil",
        "\xff\xfe",
        "1\xc2",
        "1\xe2\x80",
        "25.5\"\"",
        "648 m m",
        "4/64",
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_refused(rows[i], SB_E_SYNTAX);
    }
}

static void test_beyond_ten_metres(void **state) {
    (void)state;
    char *digits = malloc(100001);
    assert_non_null(digits);
    memset(digits, '9', 100000);
    memcpy(digits + 99998, "mm", 3);
    assert_refused(digits, SB_E_RANGE);
    memset(digits, '9', 100000);
    assert_refused(digits, SB_E_SYNTAX); /* no unit */
    free(digits);
    assert_refused("10.0000001m", SB_E_RANGE);
    assert_refused("-10001mm", SB_E_RANGE);
    assert_refused("394in", SB_E_RANGE);
}

static void test_long_decimals(void **state) {
    (void)state;
    char text[2000];
    double mm = -1.0;

    memset(text, '0', sizeof text);
    text[1] = '.';
    memcpy(text + sizeof text - 4, "1mm", 4);
    assert_int_equal(sb_length_parse(text, 0.0, &mm), SB_OK); /* 1e-1994 */
    assert_within(mm, 0.0, 0.0);
    assert_parses("0.3333333333333333333333333333333333333in", 25.4 / 3.0);
    assert_parses("00000000000000000000000000000000000000025.5in", 647.7);
    assert_parses("12345.6789012345678901234567890thou", 313.58024409135802);
}

static void test_bare_numbers(void **state) {
    (void)state;
    double mm = 0.0;
    assert_int_equal(sb_length_parse("25 1/2", SB_MM_PER_INCH, &mm), SB_OK);
    assert_within(mm, 647.7, 1e-12);
    assert_int_equal(sb_length_parse(" 648 ", 1.0, &mm), SB_OK);
    assert_within(mm, 648.0, 0.0);
    assert_int_equal(sb_length_parse("648mm", SB_MM_PER_INCH, &mm), SB_OK);
    assert_within(mm, 648.0, 0.0);
    assert_int_equal(sb_length_parse("648", -1.0, &mm), SB_E_SYNTAX);
    assert_int_equal(sb_length_parse("648", (double)NAN, &mm), SB_E_SYNTAX);
    assert_int_equal(sb_length_parse("648", (double)INFINITY, &mm), SB_E_RANGE);
    assert_int_equal(sb_length_parse("0", (double)INFINITY, &mm), SB_E_RANGE);
}

static void test_every_truncation_is_answered(void **state) {
    (void)state;
    const char *whole = " -25 4\u00bd/64\u2033 ";
    for (size_t length = 0; length <= strlen(whole); length++) {
        char *text = calloc(length + 1, 1); /* so that a sanitizer sees one byte too far */
        double mm = -12345.0;
        assert_non_null(text);
        memcpy(text, whole, length);
        const sb_status status = sb_length_parse(text, 0.0, &mm);
        assert_true((status == SB_OK) == (mm > -12345.0));
        free(text);
    }
}

static void assert_mm_text(double mm, int decimals, const char *want) {
    char text[SB_LENGTH_TEXT_MAX];
    sb_length_format_mm(mm, decimals, text, sizeof text);
    assert_string_equal(text, want);
}

static void test_millimetres_out(void **state) {
    (void)state;
    assert_mm_text(1.7149, 2, "1.71 mm");
    assert_mm_text(-1.7149, 2, "-1.71 mm");
    assert_mm_text(0.05, 2, "0.05 mm");
    assert_mm_text(-0.004, 2, "0.00 mm");
    assert_mm_text(0.0, 0, "0 mm");
    assert_mm_text(647.7, 0, "648 mm");
    assert_mm_text(647.7, 6, "647.700000 mm");
    assert_mm_text(0.9996, 3, "1.000 mm");
    assert_mm_text(10000.0, 6, "10000.000000 mm");
    assert_mm_text(-10000.0, 9, "-10000.000000 mm");
    assert_mm_text(1.7, -3, "2 mm");
    assert_mm_text((double)NAN, 2, "n/a");
    assert_mm_text((double)INFINITY, 2, "n/a");
    assert_mm_text(-10001.0, 2, "n/a");
}

static void assert_64ths_text(double mm, const char *want) {
    char text[SB_LENGTH_TEXT_MAX];
    sb_length_format_64ths(mm, text, sizeof text);
    assert_string_equal(text, want);
}

/* 1/64 in = 0.396875 mm exactly. */
static void test_sixty_fourths_out(void **state) {
    (void)state;
    assert_64ths_text(1.7859375, "4\u00bd/64 in");
    assert_64ths_text(1.7, "4\u00bd/64 in"); /* 4.283 */
    assert_64ths_text(1.67, "4/64 in");      /* 4.208 */
    assert_64ths_text(-1.190625, "-3/64 in");
    assert_64ths_text(0.0, "0/64 in");
    assert_64ths_text(0.09, "0/64 in"); /* 0.227 */
    assert_64ths_text(-0.09, "0/64 in");
    assert_64ths_text(0.2, "\u00bd/64 in"); /* 0.504 */
    assert_64ths_text(-0.2, "-\u00bd/64 in");
    assert_64ths_text(25.4, "64/64 in");
    assert_64ths_text(10000.0, "25197/64 in"); /* 25196.85 */
    assert_64ths_text((double)NAN, "n/a");
    assert_64ths_text(1e300, "n/a");
}

static void test_formatting_is_undone_by_parsing(void **state) {
    (void)state;
    prng rng = prng_seeded(2);
    for (int i = 0; i < 20000; i++) {
        char text[SB_LENGTH_TEXT_MAX];
        double back = 0.0;
        const int decimals = (int)prng_uniform(&rng, 0.0, 7.0);
        const double unit = pow(10.0, decimals);
        const double mm = rint(prng_uniform(&rng, -9999.0, 9999.0) * unit) / unit;
        sb_length_format_mm(mm, decimals, text, sizeof text);
        assert_int_equal(sb_length_parse(text, 0.0, &back), SB_OK);
        assert_true(back == mm); /* to the last bit */
        const double halves = rint(prng_uniform(&rng, -400.0, 400.0));
        sb_length_format_64ths(halves * 25.4 / 128.0, text, sizeof text);
        assert_int_equal(sb_length_parse(text, 0.0, &back), SB_OK);
        assert_within(back, halves * 25.4 / 128.0, 1e-12);
    }
}

/* In a locale with a decimal comma, where one is installed. */
static void test_locale_does_not_matter(void **state) {
    (void)state;
    const char *names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8", "de_DE", "fr_FR"};
    bool found = false;
    for (size_t i = 0; i < sizeof names / sizeof names[0] && !found; i++) {
        found = setlocale(LC_ALL, names[i]) != NULL;
    }
    if (!found) {
        skip();
    }
    assert_parses("25.5in", 647.7);
    assert_refused("25,5in", SB_E_SYNTAX);
    assert_mm_text(1.7149, 2, "1.71 mm");
    (void)setlocale(LC_ALL, "C");
}

static void test_short_buffers(void **state) {
    (void)state;
    char text[4] = "xxx";
    sb_length_format_mm(647.7, 1, text, sizeof text);
    assert_string_equal(text, "647");
    sb_length_format_64ths(25.4, text, 2);
    assert_string_equal(text, "6");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_forms_of_the_trade),
        cmocka_unit_test(test_what_is_no_length),
        cmocka_unit_test(test_beyond_ten_metres),
        cmocka_unit_test(test_long_decimals),
        cmocka_unit_test(test_bare_numbers),
        cmocka_unit_test(test_every_truncation_is_answered),
        cmocka_unit_test(test_millimetres_out),
        cmocka_unit_test(test_sixty_fourths_out),
        cmocka_unit_test(test_formatting_is_undone_by_parsing),
        cmocka_unit_test(test_locale_does_not_matter),
        cmocka_unit_test(test_short_buffers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
