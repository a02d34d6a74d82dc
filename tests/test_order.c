/* Ranks and medians against plain sorting. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/order.h"
#include "tests/support/prng.h"

enum { MOST = 40, LISTS = 400 };

static void sort_plainly(double x[], size_t n) {
    for (size_t i = 1; i < n; i++)
        for (size_t j = i; j > 0 && x[j - 1] > x[j]; j--) {
            const double kept = x[j];
            x[j] = x[j - 1];
            x[j - 1] = kept;
        }
}

/* Few different values, so that many are equal. */
static size_t draw(prng *rng, double x[MOST]) {
    const size_t n = 1 + (size_t)prng_uniform(rng, 0.0, MOST - 1.0);
    for (size_t i = 0; i < n; i++)
        x[i] = (double)(int)prng_uniform(rng, -6.0, 6.0);
    return n;
}

static void test_every_rank(void **state) {
    (void)state;
    prng rng = prng_seeded(3);
    for (size_t list = 0; list < LISTS; list++) {
        double x[MOST], sorted[MOST], work[MOST];
        const size_t n = draw(&rng, x);
        memcpy(sorted, x, n * sizeof *x);
        sort_plainly(sorted, n);
        for (size_t k = 0; k < n; k++) {
            memcpy(work, x, n * sizeof *x);
            assert_true(sb_kth_smallest(work, n, k) == sorted[k]);
        }
        memcpy(work, x, n * sizeof *x);
        assert_true(sb_median(work, n) == 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]));
        sb_sort_ascending(x, n);
        assert_memory_equal(x, sorted, n * sizeof *x);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_rank)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
