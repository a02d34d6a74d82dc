/* Sorting a take into open and fretted plucks by pitch alone. */
#include <math.h>
#include <string.h>

#include "core/interval.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define E2_HZ 82.4068892282175
#define MAX_N 65

/* Sorts notes given in cents above E2 and compares with one letter a note: O, F, or - for
 * neither. */
static void assert_sorted(const double cents[], const char *want, double interval_cents,
                          double expected_hz) {
    double hz[MAX_N] = {0.0};
    int kind[MAX_N];
    char got[MAX_N + 1] = {0};
    int only = 77;
    const size_t n = strlen(want);
    for (size_t i = 0; i < n; i++)
        hz[i] = E2_HZ * exp2(cents[i] / 1200.0);
    assert_int_equal(sb_interval_sort(hz, n, interval_cents, expected_hz, kind, &only), SB_OK);
    for (size_t i = 0; i < n; i++)
        got[i] = kind[i] == 0 ? 'O' : kind[i] == 1 ? 'F' : '-';
    assert_string_equal(got, want);
    assert_int_equal(only, 77);
}

/* As above, but refused: *only_kind is `want_only`, kind[] untouched. */
static void assert_unsorted(const double cents[], size_t n, double interval_cents,
                            double expected_hz, sb_status want, int want_only) {
    double hz[MAX_N] = {0.0};
    int kind[MAX_N];
    int only = 77;
    for (size_t i = 0; i < n; i++) {
        hz[i] = E2_HZ * exp2(cents[i] / 1200.0);
        kind[i] = 55;
    }
    assert_int_equal(sb_interval_sort(hz, n, interval_cents, expected_hz, kind, &only), want);
    assert_int_equal(only, want_only);
    for (size_t i = 0; i < n; i++)
        assert_int_equal(kind[i], 55);
}

static void test_any_order(void **state) {
    (void)state;
    assert_sorted((double[]){0.0, 1204.0}, "OF", 1200.0, 0.0);
    assert_sorted((double[]){1204.0, 0.0}, "FO", 1200.0, 0.0);
    assert_sorted((double[]){1203.0, 0.1, 1204.0, -0.2, 0.0}, "FOFOO", 1200.0, 0.0);
    assert_sorted((double[]){1203.0, 0.1, 1204.0, -0.2, 0.0}, "FOFOO", 1200.0, E2_HZ);
}

static void test_other_frets(void **state) {
    (void)state;
    for (int fret = 1; fret <= 24; fret++) {
        const double up = 100.0 * fret;
        assert_sorted((double[]){0.0, up + 8.0, 1.0, up + 7.0}, "OFOF", up, 0.0);
        assert_sorted((double[]){0.0, up - 8.0, 1.0, up - 7.0}, "OFOF", up, E2_HZ);
    }
}

static void test_a_string_out_of_tune(void **state) {
    (void)state;
    for (double by = -149.0; by <= 149.0; by += 14.9) {
        const double cents[] = {by, by + 1210.0, by + 0.5, by + 1209.0};
        assert_sorted(cents, "OFOF", 1200.0, E2_HZ);
        assert_sorted(cents, "OFOF", 1200.0, 0.0);
    }
    const double far_off[] = {-160.0, 1040.0}, other_string[] = {500.0, 1700.0};
    assert_unsorted(far_off, 2, 1200.0, E2_HZ, SB_E_UNDETERMINED, 77);
    assert_unsorted(other_string, 2, 1200.0, E2_HZ, SB_E_UNDETERMINED, 77);
    assert_sorted(far_off, "OF", 1200.0, 0.0);
}

static void test_a_bad_interval(void **state) {
    (void)state;
    assert_sorted((double[]){0.0, 1349.0}, "OF", 1200.0, 0.0);
    assert_sorted((double[]){0.0, 1051.0}, "OF", 1200.0, 0.0);
    assert_unsorted((double[]){0.0, 1351.0}, 2, 1200.0, 0.0, SB_E_UNDETERMINED, 77);
    assert_unsorted((double[]){0.0, 1049.0}, 2, 1200.0, 0.0, SB_E_UNDETERMINED, 77);
    assert_unsorted((double[]){0.0, 500.0, 700.0}, 3, 1200.0, 0.0, SB_E_UNDETERMINED, 77);
}

/* Open strings A2 D3 G3 B3 E4 lie 500, 1000, 1500, 1900, 2400 cents above E2. */
static void test_notes_of_other_strings(void **state) {
    (void)state;
    assert_sorted((double[]){0.0, 500.0, 1205.0, 1000.0, 1.0, 1204.0, 1500.0, 1900.0}, "O-F-OF--",
                  1200.0, 0.0);
    /* A string 120 cents flat, its octave between the neighbours' notes. */
    assert_sorted((double[]){-120.0, 500.0, 1088.0, 1000.0, -119.0}, "O-F-O", 1200.0, E2_HZ);
    /* The fret beside it, once by mistake; and the fretted note against two such. */
    assert_sorted((double[]){0.0, 1205.0, 1305.0, 0.0, 1205.0}, "OF-OF", 1200.0, 0.0);
    assert_sorted((double[]){0.0, 1305.0, 1205.0, 1305.0}, "O-F-", 1200.0, 0.0);
    /* E4 stands an octave over the fretted note, and by chance a truer one. */
    assert_sorted((double[]){0.0, 1205.0, 2404.0, 0.0}, "OF-O", 1200.0, 0.0);
    assert_sorted((double[]){0.0, 1205.0, 2405.0}, "OF-", 1200.0, E2_HZ);
    assert_sorted((double[]){0.0, 1205.0, 2405.0}, "-OF", 1200.0, 2.0 * E2_HZ);
}

/* New strings creep: 25 cents between plucks, 100 over the take. */
static void test_a_drifting_string_stays_one_note(void **state) {
    (void)state;
    const double cents[] = {0.0, 1200.0, -25.0, 1175.0, -50.0, 1150.0, -75.0, -100.0};
    assert_sorted(cents, "OFOFOFOO", 1200.0, 0.0);
}

static void test_one_pitch_only(void **state) {
    (void)state;
    const double open[] = {-30.0, -31.0}, fretted[] = {1190.0}, other[] = {500.0, 501.0};
    assert_unsorted(open, 2, 1200.0, E2_HZ, SB_E_TOO_SHORT, 0);
    assert_unsorted(fretted, 1, 1200.0, E2_HZ, SB_E_TOO_SHORT, 1);
    assert_unsorted(other, 2, 1200.0, E2_HZ, SB_E_TOO_SHORT, -1);
    assert_unsorted(open, 2, 1200.0, 0.0, SB_E_TOO_SHORT, -1);
    assert_unsorted((double[]){40.0}, 1, 100.0, E2_HZ, SB_E_TOO_SHORT, 0);
    assert_unsorted((double[]){60.0}, 1, 100.0, E2_HZ, SB_E_TOO_SHORT, 1);
    assert_unsorted(open, 0, 1200.0, E2_HZ, SB_E_TOO_SHORT, -1);
}

static void test_values_outside_their_domain(void **state) {
    (void)state;
    const double nan = (double)NAN, inf = (double)INFINITY;
    const double bad[] = {nan, inf, 0.0, -82.0};
    int kind[MAX_N], only = 77;
    for (size_t i = 0; i < 4; i++) {
        const double hz[] = {82.0, bad[i], 164.0}, first[] = {bad[i], 82.0};
        assert_int_equal(sb_interval_sort(hz, 3, 1200.0, 0.0, kind, &only), SB_E_RANGE);
        assert_int_equal(sb_interval_sort(first, 2, 1200.0, 0.0, kind, &only), SB_E_RANGE);
    }
    const double hz[] = {82.0, 164.0}, intervals[] = {nan, inf, 0.0, 49.0, -1200.0};
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(sb_interval_sort(hz, 2, intervals[i], 0.0, kind, &only), SB_E_RANGE);
    assert_int_equal(sb_interval_sort(hz, 2, 1200.0, nan, kind, &only), SB_E_RANGE);
    assert_int_equal(sb_interval_sort(hz, 2, 1200.0, inf, kind, &only), SB_E_RANGE);
    const double extreme[] = {1e-308, 1e308};
    assert_int_equal(sb_interval_sort(extreme, 2, 1200.0, 0.0, kind, &only), SB_E_RANGE);
    double many[MAX_N];
    for (size_t i = 0; i < MAX_N; i++)
        many[i] = i % 2 ? 164.0 : 82.0;
    assert_int_equal(sb_interval_sort(many, MAX_N, 1200.0, 0.0, kind, &only), SB_E_RANGE);
    assert_int_equal(sb_interval_sort(many, SB_MAX_PLUCKS, 1200.0, 0.0, kind, &only), SB_OK);
    assert_int_equal(kind[63], 1);
    assert_int_equal(only, 77);
}

/* Takes as they come: out of tune by up to 145 cents, octave errors up to 60, several plucks
 * of each with a hand's scatter, and notes of other strings clear of the two, in any order. */
static void test_random_takes(void **state) {
    (void)state;
    prng rng = prng_seeded(21);
    for (int k = 0; k < 3000; k++) {
        double cents[MAX_N];
        char want[MAX_N + 1] = {0};
        const double detune = prng_uniform(&rng, -145.0, 145.0);
        const double fretted = detune + 1200.0 + prng_uniform(&rng, -60.0, 60.0);
        const size_t n = 4 + (size_t)prng_uniform(&rng, 0.0, 8.0);
        for (size_t i = 0; i < n; i++) {
            const double dice = prng_uniform(&rng, 0.0, 1.0);
            want[i] = i < 2 ? 'O' : i < 4 ? 'F' : dice < 0.4 ? 'O' : dice < 0.8 ? 'F' : '-';
            cents[i] = (want[i] == 'O' ? detune : fretted) + 0.5 * prng_normal(&rng);
            if (want[i] == '-')
                cents[i] = 400.0 + prng_uniform(&rng, 0.0, 400.0);
        }
        for (size_t i = n - 1; i > 0; i--) {
            const size_t j = (size_t)prng_uniform(&rng, 0.0, (double)i + 1.0);
            const double c = cents[i];
            const char w = want[i];
            cents[i] = cents[j];
            want[i] = want[j];
            cents[j] = c;
            want[j] = w;
        }
        assert_sorted(cents, want, 1200.0, E2_HZ);
        assert_sorted(cents, want, 1200.0, 0.0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_any_order),
        cmocka_unit_test(test_other_frets),
        cmocka_unit_test(test_a_string_out_of_tune),
        cmocka_unit_test(test_a_bad_interval),
        cmocka_unit_test(test_notes_of_other_strings),
        cmocka_unit_test(test_a_drifting_string_stays_one_note),
        cmocka_unit_test(test_one_pitch_only),
        cmocka_unit_test(test_values_outside_their_domain),
        cmocka_unit_test(test_random_takes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
