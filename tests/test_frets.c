/* Notes sorted to frets, against the frets that they were made at. */
#include <math.h>

#include "core/frets.h"
#include "tests/support/necks.h"
#include "tests/support/within.h"

enum { NOTES = SB_FRET_NOTES_MAX };

static sb_fret_plan usual_plan(void) {
    sb_fret_plan plan = {.last = 24, .asked = {true}};
    for (int f = 0; f <= SB_FRETS_LAST; f++)
        plan.cents[f] = 100.0 * f;
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++)
        plan.asked[necks_default_frets[i]] = true;
    return plan;
}

/* Errors to 30 cents that rise along the neck, as a saddle makes them, and a hand's scatter; the
 * open string up to 150 cents off its note; a few frets left out; any order. */
static void test_made_takes(void **state) {
    (void)state;
    prng rng = prng_seeded(21);
    for (int round = 0; round < 500; round++) {
        sb_fret_plan plan = usual_plan();
        double hz[NOTES], told = prng_uniform(&rng, 30.0, 660.0);
        int truth[NOTES], fret[NOTES];
        size_t n = 0;
        double open = told * exp2(prng_uniform(&rng, -1.4, 1.4) / 12.0), got = 0.0;
        const double slope = prng_uniform(&rng, -15.0, 15.0), level = prng_uniform(&rng, -5.0, 5.0);
        if (round % 2) {
            plan.open_hz = &told;
            plan.n_open = 1;
        }
        for (int k = 0; k < 3; k++)
            for (int i = -1; i < NECKS_DEFAULT_FRETS; i++) {
                const int f = i < 0 ? 0 : necks_default_frets[i];
                if (f > 0 && prng_next(&rng) % 4 == 0)
                    continue;
                const double error = f ? level + slope * (exp2(f / 12.0) - 1.0) : 0.0;
                truth[n] = f;
                hz[n++] = open * exp2((100.0 * f + error + prng_normal(&rng)) / 1200.0);
            }
        for (size_t i = n - 1; i > 0; i--) {
            const size_t j = (size_t)(prng_next(&rng) % (i + 1));
            const double h = hz[i];
            const int t = truth[i];
            hz[i] = hz[j], hz[j] = h;
            truth[i] = truth[j], truth[j] = t;
        }
        assert_int_equal(sb_frets_sort(hz, n, &plan, fret, &got), SB_OK);
        for (size_t i = 0; i < n; i++)
            assert_int_equal(fret[i], truth[i]);
        assert_within(1200.0 * log2(got / open), 0.0, 3.0);
    }
}

static double up(double hz, double cents) {
    return hz * exp2(cents / 1200.0);
}

static void test_strays_belong_to_none(void **state) {
    (void)state;
    const sb_fret_plan plan = usual_plan();
    /* Another string's open note a fourth and a bit below, and a misread between two frets. */
    const double cents[] = {-530, 0, 104, 505, 650, 1212, 204, 303, 711, 1, 1520};
    const int want[] = {-1, 0, 1, 5, -1, 12, 2, 3, 7, 0, 15};
    enum { N = sizeof want / sizeof want[0] };
    double hz[N], open;
    int fret[N];
    for (int i = 0; i < N; i++)
        hz[i] = up(110, cents[i]);
    assert_int_equal(sb_frets_sort(hz, N, &plan, fret, &open), SB_OK);
    for (int i = 0; i < N; i++)
        assert_int_equal(fret[i], want[i]);
}

static void test_what_cannot_be_sorted(void **state) {
    (void)state;
    sb_fret_plan plan = usual_plan();
    int fret[NOTES];
    double open, hz[NOTES] = {0};
    assert_int_equal(sb_frets_sort(hz, 0, &plan, fret, &open), SB_E_TOO_SHORT);
    hz[0] = 110, hz[1] = 110.1;
    assert_int_equal(sb_frets_sort(hz, 2, &plan, fret, &open), SB_E_TOO_SHORT);
    /* No open string among them: the notes then lie at frets that were not asked for. */
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++)
        hz[i] = up(110, 100.0 * necks_default_frets[i]);
    assert_int_equal(sb_frets_sort(hz, NECKS_DEFAULT_FRETS, &plan, fret, &open), SB_E_UNDETERMINED);
    plan.only_asked = true;
    assert_int_equal(sb_frets_sort(hz, NECKS_DEFAULT_FRETS, &plan, fret, &open), SB_E_UNDETERMINED);
    /* Another string than the one told. */
    const double told = 146.8;
    plan = usual_plan();
    plan.open_hz = &told;
    plan.n_open = 1;
    hz[0] = 110, hz[1] = up(110, 700), hz[2] = up(110, 1200);
    assert_int_equal(sb_frets_sort(hz, 3, &plan, fret, &open), SB_E_UNDETERMINED);
    hz[1] = (double)NAN;
    assert_int_equal(sb_frets_sort(hz, 3, &plan, fret, &open), SB_E_RANGE);
    plan.cents[5] = plan.cents[4];
    hz[1] = 120;
    assert_int_equal(sb_frets_sort(hz, 3, &plan, fret, &open), SB_E_RANGE);
}

/* Quarter tones: half the distance, half the reach. */
static void test_narrow_frets(void **state) {
    (void)state;
    sb_fret_plan plan = usual_plan();
    for (int f = 0; f <= SB_FRETS_LAST; f++)
        plan.cents[f] = 50.0 * f;
    plan.only_asked = true;
    const double hz[] = {220, up(220, 58), up(220, 92), up(220, 612), up(220, 627), up(220, 351)};
    int fret[6];
    double open;
    assert_int_equal(sb_frets_sort(hz, 6, &plan, fret, &open), SB_OK);
    const int want[] = {0, 1, 2, 12, -1, 7};
    for (int i = 0; i < 6; i++)
        assert_int_equal(fret[i], want[i]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_made_takes),
        cmocka_unit_test(test_strays_belong_to_none),
        cmocka_unit_test(test_what_cannot_be_sorted),
        cmocka_unit_test(test_narrow_frets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
