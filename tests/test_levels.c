/* Levels of groups, worked out by hand in the comments beside them. */
#include <math.h>

#include "core/levels.h"
#include "tests/support/within.h"

static void decibels(void **state) {
    (void)state;
    assert_within(sb_power_db(0.5), -3.0102999566, 1e-9); /* a sine of full scale */
    assert_within(sb_power_db(1e-6), -60.0, 1e-9);
    assert_within(sb_db_power(-3.0102999566), 0.5, 1e-9);
    assert_within(sb_power_db(0.0), SB_LEVEL_NONE, 0.0);
    assert_within(sb_power_db(-1.0), SB_LEVEL_NONE, 0.0);
    assert_within(sb_power_db((double)NAN), SB_LEVEL_NONE, 0.0);
}

/* -20 -21 -22: mean -21, squares 2. -30 -32: mean -31, squares 2. 4 over 3 degrees of freedom:
 * sd 1.154701, errors 0.666667 and 0.816497. */
static void scatter_is_pooled(void **state) {
    (void)state;
    sb_level_pluck p[] = {
        {-20, 0, false}, {-30, 1, false}, {-21, 0, false}, {-32, 1, false}, {-22, 0, false}};
    sb_level out[3];
    sb_level_scatter scatter;
    assert_int_equal(sb_levels_combine(p, 5, 3, out, &scatter), SB_OK);
    assert_within(out[0].level_db, -21, 1e-12);
    assert_within(out[1].level_db, -31, 1e-12);
    assert_within(scatter.scatter_db, 1.154701, 1e-6);
    assert_within(out[0].std_error_db, 0.666667, 1e-6);
    assert_within(out[1].std_error_db, 0.816497, 1e-6);
    assert_int_equal(scatter.dof, 3);
    assert_int_equal(out[2].used, 0);
}

/* -20 -21 -22 -21 -10: median -21, distances 1 0 1 0 11, of which one 0 is the median itself: 0 1 1
 * 11 have the median 1, so that 3.5 * 1.4826 = 5.19 dB is far. Left: mean -21, squares 2, 3 degrees
 * of freedom, sd 0.816497, error 0.408248. */
static void a_stray_pluck_is_left_out(void **state) {
    (void)state;
    sb_level_pluck p[] = {{.level_db = -20},
                          {.level_db = -21},
                          {.level_db = -22},
                          {.level_db = -21},
                          {.level_db = -10}};
    sb_level out;
    sb_level_scatter scatter;
    assert_int_equal(sb_levels_combine(p, 5, 1, &out, &scatter), SB_OK);
    assert_true(p[4].left_out);
    for (int i = 0; i < 4; i++)
        assert_false(p[i].left_out);
    assert_within(out.level_db, -21, 1e-12);
    assert_within(out.std_error_db, 0.408248, 1e-6);
    assert_int_equal(out.left_out, 1);
}

/* Of two, neither is the stray one; -20 -30: sd 7.071068. */
static void two_that_differ_are_both_kept(void **state) {
    (void)state;
    sb_level_pluck p[] = {{.level_db = -20}, {.level_db = -30}};
    sb_level out;
    sb_level_scatter scatter;
    assert_int_equal(sb_levels_combine(p, 2, 1, &out, &scatter), SB_OK);
    assert_int_equal(out.used, 2);
    assert_within(scatter.scatter_db, 7.071068, 1e-6);
    assert_within(out.std_error_db, 5.0, 1e-6);
}

static void equal_plucks_still_have_an_error(void **state) {
    (void)state;
    sb_level_pluck p[] = {
        {.level_db = -20}, {.level_db = -20}, {.level_db = -20}, {.level_db = -20}};
    sb_level out;
    sb_level_scatter scatter;
    assert_int_equal(sb_levels_combine(p, 4, 1, &out, &scatter), SB_OK);
    assert_within(out.std_error_db, 0.05, 1e-12);
}

static void what_cannot_be(void **state) {
    (void)state;
    sb_level_pluck p[] = {{-20, 0, false}, {-30, 1, false}, {(double)NAN, 1, false}};
    sb_level out[2] = {{.used = 7}, {.used = 7}};
    sb_level_scatter scatter;
    assert_int_equal(sb_levels_combine(p, 2, 2, out, &scatter), SB_E_UNDETERMINED);
    assert_int_equal(sb_levels_combine(p, 3, 2, out, &scatter), SB_E_RANGE);
    assert_int_equal(sb_levels_combine(p, 2, 1, out, &scatter), SB_E_RANGE);
    assert_int_equal(sb_levels_combine(p, 0, 1, out, &scatter), SB_E_RANGE);
    assert_int_equal(out[0].used, 7);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decibels),
        cmocka_unit_test(scatter_is_pooled),
        cmocka_unit_test(a_stray_pluck_is_left_out),
        cmocka_unit_test(two_that_differ_are_both_kept),
        cmocka_unit_test(equal_plucks_still_have_an_error),
        cmocka_unit_test(what_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
