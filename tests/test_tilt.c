/* The tilt of a pickup, by figures worked out by hand; limits of Student's t from Abramowitz &
 * Stegun, table 26.10. */
#include <math.h>

#include "core/tilt.h"
#include "tests/support/within.h"

static sb_tilt_strings strings_of(const double level_db[], size_t n, double std_error_db) {
    sb_tilt_strings s = {.n = n, .pluck_dof = 8, .tolerance_db = SB_TILT_TOLERANCE_DB};
    for (size_t i = 0; i < n; i++) {
        s.place_mm[i] = 10.0 * (double)i;
        s.level_db[i] = level_db[i];
        s.std_error_db[i] = std_error_db;
    }
    return s;
}

/* On a line of -0.2 dB/mm over 30 mm: 6 dB. Squares of the places about 15: 500. Error of the
 * plucks 30 * sqrt(0.25 / 500) = 0.670820, times t(8) = 2.306: 1.546911. */
static void a_straight_tilt(void **state) {
    (void)state;
    const double level[] = {-20, -22, -24, -26};
    sb_tilt_strings s = strings_of(level, 4, 0.5);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_within(t.tilt_db, 6, 1e-12);
    assert_within(t.std_error_db, 0.670820, 1e-6);
    assert_within(t.limit_db, 1.546911, 4e-4);
    assert_int_equal(t.verdict, SB_TILT_FIRST_HIGH);
    assert_within(t.spread_db, 6, 1e-12);
    assert_within(t.spread_std_error_db, 0.707107, 1e-6);
    assert_int_equal(t.loudest, 0);
    assert_int_equal(t.quietest, 3);
}

/* -20 -23 -23 -26: slope -90 / 500, tilt 5.4; off the line 0.3 -0.9 0.9 -0.3, squares 1.8 over 2
 * degrees of freedom: error 30 * sqrt(0.9 / 500) = 1.272792, times t(2) = 4.303: 5.4767. */
static void strings_that_differ_hide_it(void **state) {
    (void)state;
    const double level[] = {-20, -23, -23, -26};
    sb_tilt_strings s = strings_of(level, 4, 0.5);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_within(t.tilt_db, 5.4, 1e-12);
    assert_within(t.off_db[1], -0.9, 1e-12);
    assert_within(t.off_db[3], -0.3, 1e-12);
    assert_within(t.std_error_db, 1.272792, 1e-6);
    assert_int_equal(t.dof, 2);
    assert_within(t.limit_db, 5.4767, 1e-3);
    assert_int_equal(t.verdict, SB_TILT_UNEVEN);
}

/* The same line as in the first case with plucks that scatter four times as much: error 2.68328,
 * limit 6.187644; (6.187644 / 2)^2 = 9.57 times as many plucks would do. */
static void plucks_that_scatter_hide_it(void **state) {
    (void)state;
    const double level[] = {-26, -24, -22, -20};
    sb_tilt_strings s = strings_of(level, 4, 2.0);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_int_equal(t.verdict, SB_TILT_UNSURE);
    assert_within(t.more, 9.57, 0.01);
    s = strings_of(level, 4, 0.5);
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_int_equal(t.verdict, SB_TILT_LAST_HIGH);
    assert_within(t.tilt_db, -6, 1e-12);
}

static void within_the_tolerance(void **state) {
    (void)state;
    const double level[] = {-20.0, -20.5, -21.0, -21.5};
    sb_tilt_strings s = strings_of(level, 4, 0.3);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_within(t.tilt_db, 1.5, 1e-12);
    assert_int_equal(t.verdict, SB_TILT_EVEN);
}

/* Five strings on a line of -0.1 dB/mm and a sixth, the third of them, 7 dB above it: the line is
 * that of the five, 5 dB over 50 mm. Their places 0 10 30 40 50: mean 26, squares 1720; the plucks'
 * error 50 * sqrt(0.25 / 1720) = 0.602804. Of the stray, 6 mm from the mean: sqrt(0.25 + 0.25 *
 * (1/5 + 36 / 1720)) = 0.552479. */
static void a_stray_string_does_not_bend_it(void **state) {
    (void)state;
    const double level[] = {-20, -21, -15, -23, -24, -25};
    sb_tilt_strings s = strings_of(level, 6, 0.5);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_within(t.tilt_db, 5, 1e-9);
    assert_within(t.std_error_db, 0.602804, 1e-6);
    assert_int_equal(t.verdict, SB_TILT_FIRST_HIGH);
    assert_true(t.stray[2] && !t.stray[0] && !t.stray[5]);
    assert_within(t.off_db[2], 7, 1e-9);
    assert_within(t.off_std_error_db[2], 0.552479, 1e-6);
    s.n = 4; /* of so few none is called stray */
    assert_int_equal(sb_tilt_fit(&s, &t), SB_OK);
    assert_false(t.stray[2]);
}

/* d 2.8 mm, n 1.5: 6 dB are a factor of 10^(6/30) = 1.584893, so 1.637701 mm. Errors: 1 dB gives
 * 2.8 * 1.584893 * 0.1151293 / 1.5 = 0.340604; n +- 0.5 gives 2.8 * 1.584893 * 0.1151293 * 6 / 2.25
 * * 0.5 = 0.681209; d +- 0.8 gives 0.584893 * 0.8 = 0.467915. Together 0.893867. */
static void how_far(void **state) {
    (void)state;
    sb_tilt_move m = sb_tilt_lower(6, 1, 2.8, 0.8);
    assert_within(m.move_mm, 1.637701, 1e-6);
    assert_within(m.std_error_mm, 0.893867, 1e-5);
    assert_within(sb_tilt_lower(0, 0, 2.8, 0.8).move_mm, 0, 0);
}

/* The exponent is that of the field's slope on the axis of a charged disc, at d = a. */
static void the_exponent_is_that_of_a_disc(void **state) {
    (void)state;
    const double a = 2.4, d = 2.4, h = 1e-4;
    double field[3];
    for (int i = 0; i < 3; i++) {
        double z = d * (1 + h * (i - 1));
        field[i] = a * a / pow(z * z + a * a, 1.5); /* slope of 1 - z / sqrt(z^2 + a^2) */
    }
    double exponent = -(log(field[2]) - log(field[0])) / (log(1 + h) - log(1 - h));
    assert_within(exponent, SB_TILT_EXPONENT, 1e-6);
}

static void what_cannot_be(void **state) {
    (void)state;
    const double level[] = {-20, -22, -24};
    sb_tilt_strings s = strings_of(level, 2, 0.5);
    sb_tilt t;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_E_TOO_SHORT);
    s = strings_of(level, 3, 0);
    assert_int_equal(sb_tilt_fit(&s, &t), SB_E_RANGE);
    s = strings_of(level, 3, 0.5);
    s.place_mm[1] = s.place_mm[2] = 0;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_E_UNDETERMINED);
    s.level_db[0] = (double)INFINITY;
    assert_int_equal(sb_tilt_fit(&s, &t), SB_E_RANGE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_straight_tilt),
        cmocka_unit_test(strings_that_differ_hide_it),
        cmocka_unit_test(plucks_that_scatter_hide_it),
        cmocka_unit_test(within_the_tolerance),
        cmocka_unit_test(a_stray_string_does_not_bend_it),
        cmocka_unit_test(how_far),
        cmocka_unit_test(the_exponent_is_that_of_a_disc),
        cmocka_unit_test(what_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
