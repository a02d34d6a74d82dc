/* Scala files: the format's own examples of good and bad pitch lines (from memory), known
 * scales, and reading what was written. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/scl.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

static sb_status parse(const char *text, sb_scl *scale, size_t *line) {
    return sb_scl_parse(text, strlen(text), scale, line);
}

static void test_known_scale(void **state) {
    (void)state;
    sb_scl s;
    /* Quarter-comma meantone: fifths of 696.578428 cents (P. Aron 1523; 1200 log2(5)/4). */
    const char *text = "! meanquar.scl\n!\n1/4-comma meantone scale\n 12\n!\n 76.04900\n"
                       " 193.15686\n 310.26471\n 5/4\n 503.42157\n 579.47057\n 696.57843\n"
                       " 25/16\n 889.73529\n 1006.84314\n 1082.89214\n 2/1\n";
    assert_int_equal(parse(text, &s, NULL), SB_OK);
    assert_string_equal(s.description, "1/4-comma meantone scale");
    assert_int_equal(s.n, 12);
    assert_within(sb_scl_degree_cents(&s, 4), 386.313713865, 1e-9);
    assert_within(sb_scl_degree_cents(&s, 7), 696.57843, 1e-9);
    assert_within(sb_scl_degree_cents(&s, 0), 0.0, 0.0);
    assert_within(sb_scl_degree_cents(&s, 12), 1200.0, 0.0);
    assert_within(sb_scl_degree_cents(&s, 19), 1896.57843, 1e-9);
}

static void test_pitch_lines(void **state) {
    (void)state;
    const struct {
        const char *line;
        double cents;
    } good[] = {
        {"81/64", 407.820003462},
        {"408.0", 408.0},
        {"408.", 408.0},
        {"5", 2786.313713865},
        {"-5.0", -5.0},
        {"10/20", -1200.0},
        {"100.0 cents", 100.0},
        {"100.0 C#", 100.0},
        {"5/4   E\\", 386.313713865},
        {"\t 3/2", 701.955000865},
        {".5", 0.5},
        {"2147483647/2147483646", 8.06e-7},
        {"0.0", 0.0},
        {"700.0! fifth", 700.0},
    };
    const char *bad[] = {"",   "two",  "$",    "-5/4", "5/-4", "5/",  "/4",   "0/4",    "4/0",
                         "-5", "4/3x", "4.5x", ".",    "-",    "1e3", "0x10", "5 /4 /", "nan"};
    char text[120];
    sb_scl s;
    size_t line = 0;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        (void)snprintf(text, sizeof text, "x\n1\n%s\n", good[i].line);
        assert_int_equal(parse(text, &s, NULL), SB_OK);
        assert_within(s.cents[0], good[i].cents, 1e-8);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        (void)snprintf(text, sizeof text, "! one\nx\n! two\n1\n%s\n", bad[i]);
        if (strcmp(bad[i], "5 /4 /") == 0) { /* what follows a space is a remark */
            assert_int_equal(parse(text, &s, NULL), SB_OK);
            continue;
        }
        assert_int_equal(parse(text, &s, &line), SB_E_SYNTAX);
        assert_int_equal(line, 5);
    }
}

static void test_shape_of_a_file(void **state) {
    (void)state;
    sb_scl s = {.n = 7};
    size_t line = 0;
    assert_int_equal(parse("", &s, &line), SB_E_SYNTAX);
    assert_int_equal(line, 1);
    assert_int_equal(parse("only a description", &s, &line), SB_E_SYNTAX);
    assert_int_equal(line, 2);
    assert_int_equal(parse("x\ntwelve\n", &s, &line), SB_E_SYNTAX);
    assert_int_equal(parse("x\n3\n2/1\n", &s, &line), SB_E_SYNTAX);
    assert_int_equal(line, 4);
    assert_int_equal(parse("x\n401\n", &s, &line), SB_E_RANGE);
    assert_int_equal(parse("x\n1\n9999999.0\n", &s, &line), SB_E_RANGE);
    assert_int_equal(parse("x\n1\n99999999999999999999/3\n", &s, &line), SB_E_RANGE);
    assert_int_equal(sb_scl_parse("x\n1\n2/1\0", 8, &s, &line), SB_E_SYNTAX);
    assert_int_equal(s.n, 7);                           /* untouched so far */
    assert_int_equal(parse("\n 0\n", &s, NULL), SB_OK); /* no description, no notes */
    assert_int_equal(s.n, 0);
    assert_true(isnan(sb_scl_degree_cents(&s, 1)));
    assert_int_equal(parse("dos\r\n2 notes\r\n3/2\r\n2/1\r\nand more\r\n", &s, NULL), SB_OK);
    assert_string_equal(s.description, "dos");
    assert_within(s.cents[1], 1200.0, 0.0);
    assert_int_equal(parse("x\n1\n2/1", &s, NULL), SB_OK); /* no line end at the end */
}

static void test_round_trip(void **state) {
    (void)state;
    prng rng = prng_seeded(3);
    static char text[SB_SCL_NOTES_MAX * 32];
    for (int round = 0; round < 200; round++) {
        sb_scl s = {.n = (size_t)(prng_next(&rng) % (SB_SCL_NOTES_MAX + 1))}, again;
        (void)snprintf(s.description, sizeof s.description, round % 2 ? "!odd %d" : "even %d",
                       round);
        for (size_t i = 0; i < s.n; i++)
            s.cents[i] = prng_uniform(&rng, -3000.0, 90000.0);
        const size_t size = sb_scl_format(&s, text, sizeof text);
        assert_true(size < sizeof text && strlen(text) == size);
        assert_int_equal(sb_scl_parse(text, size, &again, NULL), SB_OK);
        assert_int_equal(again.n, s.n);
        for (size_t i = 0; i < s.n; i++)
            assert_within(again.cents[i], s.cents[i], 1e-9);
    }
    sb_scl small = {.description = "d", .n = 1, .cents = {1200.0}};
    char cut[8];
    assert_int_equal(sb_scl_format(&small, cut, sizeof cut), strlen("d\n 1\n 1200.000000000\n"));
    assert_string_equal(cut, "d\n 1\n 1");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_known_scale),
        cmocka_unit_test(test_pitch_lines),
        cmocka_unit_test(test_shape_of_a_file),
        cmocka_unit_test(test_round_trip),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
