/* Tails and limits against the printed tables of Abramowitz & Stegun, Handbook of Mathematical
 * Functions, 1964: 26.8 (chi-squared), 26.10 (Student's t) and 26.5 (normal; from memory), to
 * the digits printed. */
#include <math.h>

#include "core/chance.h"
#include "tests/support/within.h"

static void test_chi2_table(void **state) {
    (void)state;
    const struct {
        int dof;
        double p, chi2;
    } rows[] = {
        {1, 0.05, 3.84146},   {1, 0.01, 6.63490},    {2, 0.05, 5.99147},  {5, 0.01, 15.0863},
        {7, 0.05, 14.0671},   {10, 0.95, 3.94030},   {10, 0.01, 23.2093}, {30, 0.05, 43.7729},
        {100, 0.05, 124.342}, {100, 0.995, 67.3276},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_within(sb_chi2_tail(rows[i].chi2, rows[i].dof), rows[i].p, 2e-6);
    assert_within(sb_chi2_tail(2.0 * log(8.0), 2), 0.125, 1e-14); /* exp(-chi2/2) */
    assert_within(sb_chi2_tail(0.0, 3), 1.0, 0.0);
    assert_within(sb_chi2_tail(-1.0, 3), 1.0, 0.0);
    assert_within(sb_chi2_tail(4000.0, 3), 0.0, 1e-300);
}

static void test_student_table(void **state) {
    (void)state;
    const struct {
        int dof;
        double p, t;
    } rows[] = {
        {1, 0.05, 12.706}, {1, 0.001, 636.619}, {2, 0.05, 4.303},   {3, 0.01, 5.841},
        {5, 0.05, 2.571},  {6, 0.01, 3.707},    {9, 0.01, 3.250},   {10, 0.05, 2.228},
        {30, 0.05, 2.042}, {120, 0.05, 1.980},  {0, 0.05, 1.95996}, {0, 0.001, 3.29053},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_within(sb_student_limit(rows[i].p, rows[i].dof), rows[i].t, 6e-4);
        assert_within(sb_student_tail(sb_student_limit(rows[i].p, rows[i].dof), rows[i].dof),
                      rows[i].p, 1e-9);
    }
    assert_within(sb_student_tail(1.0, 1), 0.5, 1e-15); /* Cauchy's quartile */
    assert_within(sb_student_tail(0.0, 4), 1.0, 0.0);
    assert_within(sb_student_tail(-2.571, 5), sb_student_tail(2.571, 5), 0.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_chi2_table),
        cmocka_unit_test(test_student_table),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
