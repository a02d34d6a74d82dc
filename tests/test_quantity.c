/* Quantities with their units. Conversions: international pound and inch (1959), standard gravity
 * (CGPM 1901); a published unit weight of .00002215 lb/in is 0.39555 g/m. */
#include <math.h>

#include "cli/quantity.h"
#include "tests/support/within.h"

static double parsed(const char *text, sb_quantity kind) {
    double value = (double)NAN;
    return sb_quantity_parse(text, kind, &value) ? value : (double)NAN;
}

static void test_units(void **state) {
    (void)state;
    assert_within(parsed("0.374g/m", SB_UNIT_MASS), 0.374e-3, 1e-18);
    assert_within(parsed("1e-3 kg/m", SB_UNIT_MASS), 1e-3, 1e-18);
    assert_within(parsed(".00002215lb/in", SB_UNIT_MASS), 0.39555e-3, 1e-8);
    assert_within(parsed("72N", SB_FORCE), 72.0, 0.0);
    assert_within(parsed("16.2 lbf", SB_FORCE), 72.0612, 1e-4);
    assert_within(parsed("16.2LB", SB_FORCE), 72.0612, 1e-4);
    assert_within(parsed("7kgf", SB_FORCE), 68.64655, 1e-9);
    assert_within(parsed("8.33GPa", SB_MODULUS), 8.33e9, 1e-3);
    assert_within(parsed("29442660.76psi", SB_MODULUS), 203.0e9, 0.05e9);
    assert_within(parsed("0.014in", SB_SPAN), 0.3556, 1e-12);
    assert_within(parsed("6.87k", SB_OHMS), 6870.0, 1e-9);
    assert_within(parsed("19.5 k\u03a9", SB_OHMS), 19500.0, 1e-9);
    assert_within(parsed("6870 \u2126", SB_OHMS), 6870.0, 0.0);
    assert_within(parsed("6.87KOHM", SB_OHMS), 6870.0, 1e-9);
}

static void test_refusals(void **state) {
    (void)state;
    static const char *const bad[] = {
        "",      "g/m",    "1",         "1 g",    "g/m 1",
        "1g/mm", "nang/m", "1e9999g/m", "--1g/m", "11111111111111111111111111111111111111111g/m"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_true(isnan(parsed(bad[i], SB_UNIT_MASS)));
    assert_true(isnan(parsed("1g/m", SB_FORCE)));
    assert_true(isnan(parsed("1N", SB_MODULUS)));
    assert_true(isnan(parsed("1", SB_SPAN)));
    assert_true(isnan(parsed("6.87", SB_OHMS)));
    assert_true(isnan(parsed("6k87", SB_OHMS)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
