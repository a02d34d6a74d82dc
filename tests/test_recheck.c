/* A string's error now against what was kept of it: worked by hand. */
#include "core/recheck.h"
#include "tests/support/within.h"

static sb_recheck compare(double now, double now_std, double was, double was_std) {
    return sb_recheck_compare((sb_error_reading){now, now_std}, (sb_error_reading){was, was_std}, 1,
                              false);
}

static void test_verdicts(void **state) {
    (void)state;
    const sb_recheck same = compare(0.5, 0.3, 0.0, 0.4); /* 0.5 of 0.5, two of which are 1 */
    assert_int_equal(same.verdict, SB_RECHECK_SAME);
    assert_within(same.std_error_cents, 0.5, 1e-12);
    assert_within(same.change_cents, 0.5, 1e-12);
    const sb_recheck worse = compare(-1.5, 0.03, 0.2, 0.04);
    assert_int_equal(worse.verdict, SB_RECHECK_WORSE);
    assert_within(worse.by_cents, 1.3, 1e-12);
    assert_within(worse.change_cents, -1.7, 1e-12);
    assert_within(worse.std_error_cents, 0.05, 1e-12);
    const sb_recheck better = compare(0.4, 0.03, 2.0, 0.04);
    assert_int_equal(better.verdict, SB_RECHECK_BETTER);
    assert_within(better.by_cents, 1.6, 1e-12);
    assert_int_equal(compare(1.0, 0.6, 0.2, 0.1).verdict, SB_RECHECK_CANNOT_TELL);
    assert_int_equal(compare(9.0, 0.6, 0.2, 0.1).verdict, SB_RECHECK_WORSE);
    assert_int_equal(compare(1.0, 0.0, 0.2, 0.1).verdict, SB_RECHECK_NOT_HEARD);
    assert_int_equal(compare(1.0, 0.1, 0.2, 0.0).verdict, SB_RECHECK_NOTHING_KEPT);
    assert_string_equal(sb_recheck_text(SB_RECHECK_CANNOT_TELL), "cannot tell");
}

static void test_tolerance(void **state) {
    (void)state;
    assert_int_equal(compare(1.0, 0.1, 0.0, 0.1).inside, SB_INSIDE);
    assert_int_equal(compare(-1.01, 0.1, 0.0, 0.1).inside, SB_OUTSIDE);
    assert_int_equal(compare(0.0, 0.51, 0.0, 0.1).inside, SB_INSIDE_UNKNOWN);
    assert_int_equal(compare(0.0, 0.0, 0.0, 0.1).inside, SB_INSIDE_UNKNOWN);
    assert_int_equal(compare(0.2, 0.1, 0.0, 0.0).inside, SB_INSIDE);
}

/* On a shared saddle that stands best at 1.5 cents out. */
static void test_compromise(void **state) {
    (void)state;
    const sb_error_reading was = {1.5, 0.1};
    assert_int_equal(sb_recheck_compare((sb_error_reading){1.6, 0.1}, was, 1, true).inside,
                     SB_INSIDE);
    assert_int_equal(sb_recheck_compare((sb_error_reading){1.6, 0.1}, was, 1, false).inside,
                     SB_OUTSIDE);
    assert_int_equal(sb_recheck_compare((sb_error_reading){2.0, 0.1}, was, 1, true).inside,
                     SB_OUTSIDE);
    /* Few plucks, 0.4 each: twice 0.57 is more than the tolerance, so the same is not known. */
    const sb_error_reading doubtful = {1.5, 0.4};
    assert_int_equal(sb_recheck_compare(doubtful, doubtful, 1, true).verdict,
                     SB_RECHECK_CANNOT_TELL);
    assert_int_equal(sb_recheck_compare(doubtful, doubtful, 1, true).inside, SB_INSIDE_UNKNOWN);
    assert_int_equal(sb_recheck_compare(doubtful, doubtful, 1, false).inside, SB_OUTSIDE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_verdicts),
        cmocka_unit_test(test_tolerance),
        cmocka_unit_test(test_compromise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
