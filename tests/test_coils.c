/* Coils by Ohm's law. The values beside are worked by hand: 6.87 and 19.5 kohm give 6.87 x 19.5 /
 * 26.37 = 5.0802 and 26.37; 6, 8 and 12 kohm give 1/(1/6 + 1/8 + 1/12) = 24/9 = 2.6667 and 26,
 * the pairs 24/7 = 3.4286, 4 and 4.8. */
#include <math.h>

#include "core/coils.h"
#include "tests/support/within.h"

#define OPEN ((double)INFINITY)

static const double humbuckers[] = {6870, 19500}, three[] = {6000, 8000, 12000};

static sb_coils judge(const double ohm[], size_t n, double meter) {
    sb_coils c = {.parallel_ohm = 0};
    assert_int_equal(sb_coils_judge(ohm, n, meter, &c), SB_OK);
    return c;
}

static void expected_values(void **state) {
    (void)state;
    sb_coils c = judge(humbuckers, 2, 5000);
    assert_within(c.parallel_ohm, 5080.2048, 1e-3);
    assert_within(c.series_ohm, 26370, 1e-9);
    c = judge(three, 3, 1);
    assert_within(c.parallel_ohm, 8000.0 / 3, 1e-9);
    assert_within(c.series_ohm, 26000, 1e-9);
}

static void about_five_is_both_in_parallel(void **state) {
    (void)state;
    for (double meter = 4850; meter <= 5300; meter += 50) /* 5 % about 5080 */
        assert_int_equal(judge(humbuckers, 2, meter).verdict, SB_COILS_PARALLEL);
    assert_int_equal(judge(humbuckers, 2, 4800).verdict, SB_COILS_NEITHER);
    assert_int_equal(judge(humbuckers, 2, 25200).verdict, SB_COILS_SERIES);
    assert_int_equal(judge(humbuckers, 2, 12000).verdict, SB_COILS_NEITHER);
}

static void a_dead_one_is_found(void **state) {
    (void)state;
    sb_coils c = judge(humbuckers, 2, 6800);
    assert_int_equal(c.verdict, SB_COILS_FEWER);
    assert_int_equal(c.on, 1);
    c = judge(humbuckers, 2, 19600);
    assert_int_equal(c.verdict, SB_COILS_FEWER);
    assert_int_equal(c.on, 2);
    c = judge(three, 3, 3430); /* the first two in parallel, the third dead */
    assert_int_equal(c.verdict, SB_COILS_FEWER);
    assert_int_equal(c.on, 3);
    c = judge(three, 3, 20000); /* the last two in series */
    assert_int_equal(c.verdict, SB_COILS_FEWER_SERIES);
    assert_int_equal(c.on, 6);
    assert_int_equal(judge(humbuckers, 2, OPEN).verdict, SB_COILS_OPEN);
    assert_int_equal(judge(humbuckers, 2, 0).verdict, SB_COILS_SHORT);
}

static void what_reads_alike_is_not_claimed(void **state) {
    (void)state;
    const double twins[] = {7000, 7200}, far[] = {5000, 150000};
    sb_coils c = judge(twins, 2, 7100);
    assert_int_equal(c.verdict, SB_COILS_UNCLEAR);
    assert_int_equal(c.on | c.other, 3);
    assert_int_equal(judge(twins, 2, 3550).verdict, SB_COILS_PARALLEL); /* 3549 */
    c = judge(far, 2, 4900); /* 4839 together, 5000 alone */
    assert_int_equal(c.verdict, SB_COILS_UNCLEAR);
}

static void an_open_coil_is_not_on(void **state) {
    (void)state;
    const double broken[] = {OPEN, 8000}, both[] = {OPEN, OPEN};
    sb_coils c = judge(broken, 2, 8050);
    assert_int_equal(c.verdict, SB_COILS_FEWER);
    assert_int_equal(c.on, 2);
    assert_within(c.parallel_ohm, 8000, 1e-9);
    assert_true(isinf(c.series_ohm));
    assert_int_equal(judge(both, 2, 8000).verdict, SB_COILS_NEITHER);
}

static void senseless_readings_are_refused(void **state) {
    (void)state;
    const double nought[] = {0, 8000}, odd[] = {(double)NAN, 8000};
    sb_coils c;
    assert_int_equal(sb_coils_judge(humbuckers, 1, 5000, &c), SB_E_RANGE);
    assert_int_equal(sb_coils_judge(humbuckers, 2, -1, &c), SB_E_RANGE);
    assert_int_equal(sb_coils_judge(humbuckers, 2, (double)NAN, &c), SB_E_RANGE);
    assert_int_equal(sb_coils_judge(nought, 2, 5000, &c), SB_E_RANGE);
    assert_int_equal(sb_coils_judge(odd, 2, 5000, &c), SB_E_RANGE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(expected_values),        cmocka_unit_test(about_five_is_both_in_parallel),
        cmocka_unit_test(a_dead_one_is_found),    cmocka_unit_test(what_reads_alike_is_not_claimed),
        cmocka_unit_test(an_open_coil_is_not_on), cmocka_unit_test(senseless_readings_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
