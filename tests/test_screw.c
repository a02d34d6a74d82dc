/* Adjustment screws. Pitches: ISO 261/262 coarse series and ASME B1.1 threads per inch;
 * expected turns worked by hand from them. */
#include <math.h>

#include "core/screw.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

static void test_pitches_of_the_standards(void **state) {
    (void)state;
    const struct {
        const char *text;
        double mm;
    } rows[] = {
        {"M2", 0.40},      {"M2.5", 0.45},      {"M3", 0.50},         {"M3.5", 0.60},
        {"M4", 0.70},      {"m3", 0.50},        {" M2.5 ", 0.45},     {"2-56", 0.45357142857142857},
        {"4-40", 0.635},   {"6-32", 0.79375},   {"8-32", 0.79375},    {"0.5mm", 0.5},
        {"0.5 MM", 0.5},   {"1/32in", 0.79375}, {"25thou", 0.635},    {"M3x0.35", 0.35},
        {"m3X0.5mm", 0.5}, {"M3 x 0.5", 0.5},   {"M3\u00d70.5", 0.5}, {"M5x0.8", 0.8},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double pitch = 0.0;
        assert_int_equal(sb_thread_parse(rows[i].text, &pitch), SB_OK);
        assert_within(pitch, rows[i].mm, 1e-15);
    }
}

static void test_what_is_no_thread(void **state) {
    (void)state;
    const char *syntax[] = {"",
                            "M",
                            "M99",
                            "4-41",
                            "4 40",
                            "40",
                            "0.5",
                            "M3x",
                            "Mx0.5",
                            "M3y0.5",
                            "M3x0.5x",
                            "x0.5",
                            "M3x0.5furlongs",
                            "M-3x0.5",
                            "a very long text that is not a thread at all"};
    const char *range[] = {"0mm", "-0.5mm", "0.05mm", "3.1mm", "0.5m", "M3x0", "M3x-0.5", "M6x9"};
    double pitch = 12345.0;

    for (size_t i = 0; i < sizeof syntax / sizeof syntax[0]; i++) {
        assert_int_equal(sb_thread_parse(syntax[i], &pitch), SB_E_SYNTAX);
    }
    for (size_t i = 0; i < sizeof range / sizeof range[0]; i++) {
        assert_int_equal(sb_thread_parse(range[i], &pitch), SB_E_RANGE);
    }
    assert_within(pitch, 12345.0, 0.0);
}

static void test_turns_to_the_eighth(void **state) {
    (void)state;
    const struct {
        double move_mm, pitch_mm, turns;
    } rows[] = {
        {1.71, 0.635, 2.75}, /* 2.693: 21.54 eighths */
        {1.0, 0.5, 2.0},         {-1.0, 0.5, 2.0},
        {0.79375, 0.79375, 1.0}, {0.396875, 0.79375, 0.5}, /* a sixty-fourth on 6-32 */
        {0.1, 0.5, 0.25},                                  /* 1.6 eighths */
        {0.04, 0.5, 0.125},                                /* 0.64 eighths */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sb_turn turn = SB_TURN_NONE;
        assert_within(sb_screw_turns(rows[i].move_mm, rows[i].pitch_mm, SB_SCREW_PULLS, &turn),
                      rows[i].turns, 0.0);
        assert_int_equal(turn, rows[i].move_mm > 0 ? SB_TURN_CLOCKWISE : SB_TURN_ANTICLOCKWISE);
    }
}

static void test_the_way_to_turn(void **state) {
    (void)state;
    sb_turn turn = SB_TURN_NONE;
    (void)sb_screw_turns(1.0, 0.5, SB_SCREW_PULLS, &turn);
    assert_int_equal(turn, SB_TURN_CLOCKWISE);
    (void)sb_screw_turns(-1.0, 0.5, SB_SCREW_PULLS, &turn);
    assert_int_equal(turn, SB_TURN_ANTICLOCKWISE);
    (void)sb_screw_turns(1.0, 0.5, SB_SCREW_PUSHES, &turn);
    assert_int_equal(turn, SB_TURN_ANTICLOCKWISE);
    (void)sb_screw_turns(-1.0, 0.5, SB_SCREW_PUSHES, &turn);
    assert_int_equal(turn, SB_TURN_CLOCKWISE);
}

static void test_no_turn(void **state) {
    (void)state;
    const double moves[] = {0.0, -0.0, 0.03, -0.03};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
        sb_turn turn = SB_TURN_CLOCKWISE;
        assert_within(sb_screw_turns(moves[i], 0.5, SB_SCREW_PUSHES, &turn), 0.0, 0.0);
        assert_int_equal(turn, SB_TURN_NONE);
    }
}

static void test_turns_of_nothing_sensible(void **state) {
    (void)state;
    const double bad[][2] = {{(double)NAN, 0.5}, {1.0, (double)NAN},      {1.0, 0.0},
                             {1.0, -0.5},        {(double)INFINITY, 0.5}, {0.0, 0.0}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        sb_turn turn = SB_TURN_CLOCKWISE;
        assert_true(isnan(sb_screw_turns(bad[i][0], bad[i][1], SB_SCREW_PULLS, &turn)));
        assert_int_equal(turn, SB_TURN_NONE);
    }
}

static void test_turning_makes_the_move(void **state) {
    (void)state;
    prng rng = prng_seeded(3);
    for (int i = 0; i < 5000; i++) {
        sb_turn turn = SB_TURN_NONE;
        const double move = prng_uniform(&rng, -8.0, 8.0);
        const double pitch = prng_uniform(&rng, 0.1, 3.0);
        const double turns = sb_screw_turns(move, pitch, SB_SCREW_PULLS, &turn);
        const double sign = turn == SB_TURN_CLOCKWISE ? 1.0 : -1.0;
        assert_within(sign * turns * pitch, move, pitch / 16.0 + 1e-12);
        assert_within(turns * 8.0, floor(turns * 8.0), 0.0);
    }
}

static void test_turns_in_words(void **state) {
    (void)state;
    const struct {
        double turns;
        const char *text;
    } rows[] = {
        {0.0, "no turn"},          {0.125, "\u215b turn"}, {0.25, "\u00bc turn"},
        {0.375, "\u215c turn"},    {0.5, "\u00bd turn"},   {0.625, "\u215d turn"},
        {0.75, "\u00be turn"},     {0.875, "\u215e turn"}, {1.0, "1 turn"},
        {1.125, "1 \u215b turns"}, {2.0, "2 turns"},       {2.75, "2 \u00be turns"},
        {10.5, "10 \u00bd turns"}, {1e6, "1000000 turns"}, {-1.0, "n/a"},
        {(double)NAN, "n/a"},      {1e9, "n/a"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[SB_TURNS_TEXT_MAX];
        sb_turns_format(rows[i].turns, text, sizeof text);
        assert_string_equal(text, rows[i].text);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pitches_of_the_standards),
        cmocka_unit_test(test_what_is_no_thread),
        cmocka_unit_test(test_turns_to_the_eighth),
        cmocka_unit_test(test_the_way_to_turn),
        cmocka_unit_test(test_no_turn),
        cmocka_unit_test(test_turns_of_nothing_sensible),
        cmocka_unit_test(test_turning_makes_the_move),
        cmocka_unit_test(test_turns_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
