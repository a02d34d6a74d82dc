/* Combining plucks: cases worked by hand, a solver written here (3 x 3 normal equations,
 * bisection for the scatter of Paule & Mandel, J. Res. NBS 87, 377, 1982), properties, and
 * the honesty of the standard error over simulated takes. */
#include <math.h>
#include <string.h>

#include "core/interval.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define OPEN_HZ 82.4068892282175
static const sb_interval_options octave = {.interval_cents = 1200.0};

/* A pluck `cents` above the open E2, or above its true octave when fretted. */
static sb_pluck pluck(char kind, double time_s, double cents, double std_error_cents) {
    const bool fretted = kind == 'F';
    return (sb_pluck){
        .time_s = time_s,
        .hz = OPEN_HZ * exp2((cents + (fretted ? 1200.0 : 0.0)) / 1200.0),
        .std_error_cents = std_error_cents,
        .fretted = fretted,
        .outlier = true, /* must be cleared */
    };
}

static sb_interval combine(sb_pluck plucks[], size_t n) {
    sb_interval interval;
    memset(&interval, 0x7f, sizeof interval);
    assert_int_equal(sb_interval_combine(plucks, n, &octave, &interval), SB_OK);
    return interval;
}

static size_t outliers(const sb_pluck plucks[], size_t n) {
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += plucks[i].outlier ? 1U : 0U;
    return count;
}

/* --- worked by hand -------------------------------------------------------------------- */

static void test_one_of_each(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.03), pluck('F', 5.0, 4.6, 0.04)};
    const sb_interval r = combine(plucks, 2);
    assert_within(r.error_cents, 4.6, 1e-9);
    assert_within(r.std_error_cents, 0.05, 1e-12);
    assert_within(r.open_hz, OPEN_HZ, 1e-9);
    assert_within(r.fretted_hz, 2.0 * OPEN_HZ * exp2(4.6 / 1200.0), 1e-9);
    assert_within(r.open_std_error_cents, 0.03, 1e-12);
    assert_within(r.fretted_std_error_cents, 0.04, 1e-12);
    assert_int_equal(r.n_open, 1);
    assert_int_equal(r.n_fretted, 1);
    assert_false(r.drift_fitted || r.drift_significant);
    assert_within(r.drift_cents_per_min, 0.0, 0.0);
    assert_int_equal(outliers(plucks, 2), 0);
}

/* Of 0.05 each, 0.03 is its own and 0.04 every pluck's: four leave hypot(0.03 / 2, 0.04). */
static void test_common_errors_do_not_average_out(void **state) {
    (void)state;
    sb_pluck plucks[8];
    for (size_t i = 0; i < 8; i++) {
        plucks[i] = pluck(i < 4 ? 'O' : 'F', (double)i, i < 4 ? 0.0 : 2.0, 0.05);
        plucks[i].common_std_error_cents = i < 4 ? 0.04 : 0.0;
    }
    const sb_interval r = combine(plucks, 8);
    assert_within(r.open_std_error_cents, hypot(0.015, 0.04), 1e-9);
    assert_within(r.fretted_std_error_cents, 0.025, 1e-9);
    assert_within(r.std_error_cents, sqrt(0.015 * 0.015 + 0.04 * 0.04 + 0.025 * 0.025), 1e-9);
    plucks[0].common_std_error_cents = 0.06; /* more than all */
    sb_interval none;
    assert_int_equal(sb_interval_combine(plucks, 8, &octave, &none), SB_E_RANGE);
}

static void test_other_frets(void **state) {
    (void)state;
    const sb_interval_options seventh = {.interval_cents = 700.0};
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.03), pluck('O', 5.0, 697.0, 0.04)};
    sb_interval r;
    plucks[1].fretted = true;
    assert_int_equal(sb_interval_combine(plucks, 2, &seventh, &r), SB_OK);
    assert_within(r.error_cents, -3.0, 1e-9);
}

static void test_hand_scatter_is_added(void **state) {
    (void)state;
    const sb_interval_options scattered = {.interval_cents = 1200.0, .hand_scatter_cents = 0.3};
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.4), pluck('F', 5.0, 0.0, 0.4)};
    sb_interval r;
    assert_int_equal(sb_interval_combine(plucks, 2, &scattered, &r), SB_OK);
    assert_within(r.open_std_error_cents, 0.5, 1e-12);
    assert_within(r.std_error_cents, sqrt(0.5), 1e-12);
}

/* Weights 100 and 25: mean 0.1 * 25/125, variance 1/125; the difference is within errors. */
static void test_weights(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.1), pluck('O', 2.0, 0.1, 0.2),
                         pluck('F', 4.0, 3.0, 0.3)};
    const sb_interval r = combine(plucks, 3);
    assert_within(r.error_cents, 2.98, 1e-9);
    assert_within(r.open_std_error_cents, sqrt(1.0 / 125.0), 1e-9);
    assert_within(r.std_error_cents, sqrt(1.0 / 125.0 + 0.09), 1e-9);
}

/* A pair 2 cents apart: half-difference 1. Both kinds together have 2 degrees of freedom
 * for a sum of squares of 2, so the fretted plucks, though alike, are given a variance of
 * 1 each, 1/2 for the mean. */
static void test_a_pair_gets_its_half_difference(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, -1.0, 0.1), pluck('O', 0.0, 1.0, 0.1),
                         pluck('F', 0.0, 5.0, 0.1), pluck('F', 0.0, 5.0, 0.1)};
    const sb_interval r = combine(plucks, 4);
    assert_within(r.error_cents, 5.0, 1e-9);
    assert_within(r.open_std_error_cents, 1.0, 1e-6);
    assert_within(r.fretted_std_error_cents, sqrt(0.5), 1e-6);
    assert_within(r.std_error_cents, sqrt(1.5), 1e-6);
}

/* A pair of which one claims a hundred times the accuracy. For two points the scatter is
 * (d^2 - v1 - v2)/2 = 0.4949995; mean (v1+s)/(v1+v2+2s), variance (v1+s)(v2+s)/1. */
static void test_a_bold_claim_does_not_win(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.001), pluck('O', 0.0, 1.0, 0.1),
                         pluck('F', 0.0, 5.0, 0.1)};
    const sb_interval r = combine(plucks, 3);
    assert_within(r.error_cents, 5.0 - 0.4950005, 1e-6);
    assert_within(r.open_std_error_cents, sqrt(0.4950005 * 0.5049995), 1e-6);
    /* The single fretted pluck is taken to scatter like the open ones. */
    assert_within(r.fretted_std_error_cents, sqrt(0.01 + 0.4949995), 1e-6);
}

static void test_standard_errors_of_any_size(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 7.0, 1e-9), pluck('O', 1.0, 0.0, 1e300),
                         pluck('F', 2.0, 9.0, 1e-300), pluck('F', 3.0, 500.0, 1e9)};
    const sb_interval r = combine(plucks, 4);
    assert_within(r.error_cents, 2.0, 1e-3);
    assert_true(r.std_error_cents > 0.0 && r.std_error_cents < 1e-3);
    sb_pluck vague[] = {pluck('O', 0.0, 7.0, 1e300), pluck('F', 2.0, 9.0, 1e300)};
    assert_true(combine(vague, 2).std_error_cents > 1e5);
}

/* --- outliers ---------------------------------------------------------------------------- */

static void test_three_to_one(void **state) {
    (void)state;
    for (size_t bad = 0; bad < 4; bad++) {
        for (double by = -30.0; by <= 30.0; by += 6.0) {
            sb_pluck plucks[] = {pluck('O', 0.0, 0.00, 0.05), pluck('O', 3.0, 0.05, 0.05),
                                 pluck('O', 6.0, -0.04, 0.05), pluck('O', 9.0, 0.01, 0.05),
                                 pluck('F', 12.0, 4.6, 0.05)};
            plucks[bad].hz *= exp2(by / 1200.0);
            const sb_interval r = combine(plucks, 5);
            const bool off = by != 0.0;
            assert_int_equal(outliers(plucks, 5), off ? 1 : 0);
            assert_int_equal(plucks[bad].outlier, off);
            assert_int_equal(r.n_open, off ? 3 : 4);
            assert_within(r.error_cents, 4.6, 0.06);
            assert_true(r.std_error_cents < 0.1);
        }
    }
}

static void test_one_of_three(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.05),  pluck('O', 3.0, 0.05, 0.05),
                         pluck('O', 6.0, 0.02, 0.05), pluck('F', 9.0, 4.6, 0.05),
                         pluck('F', 12.0, 8.6, 0.05), pluck('F', 15.0, 4.65, 0.05)};
    const sb_interval r = combine(plucks, 6);
    assert_int_equal(outliers(plucks, 6), 1);
    assert_true(plucks[4].outlier);
    assert_int_equal(r.n_fretted, 2);
    assert_within(r.error_cents, 4.6, 0.06);
}

/* Of two that disagree neither is the outlier: the standard error says so instead. */
static void test_two_cannot_outvote_each_other(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.05), pluck('O', 3.0, 20.0, 0.05),
                         pluck('F', 6.0, 4.6, 0.05)};
    const sb_interval r = combine(plucks, 3);
    assert_int_equal(outliers(plucks, 3), 0);
    assert_within(r.open_std_error_cents, 10.0, 1e-3);
    assert_true(r.std_error_cents > 10.0);
}

/* Within a cent, or within four of its own standard errors, nothing is an outlier. */
static void test_what_is_excused(void **state) {
    (void)state;
    sb_pluck near_by[] = {pluck('O', 0.0, 0.0, 0.01), pluck('O', 0.0, 0.0, 0.01),
                          pluck('O', 0.0, 0.0, 0.01), pluck('O', 0.0, 0.99, 0.01),
                          pluck('F', 0.0, 0.0, 0.01)};
    (void)combine(near_by, 5);
    assert_int_equal(outliers(near_by, 5), 0);
    near_by[3] = pluck('O', 0.0, 1.01, 0.01);
    (void)combine(near_by, 5);
    assert_true(near_by[3].outlier && outliers(near_by, 5) == 1);
    near_by[3] = pluck('O', 0.0, 7.9, 2.0);
    (void)combine(near_by, 5);
    assert_int_equal(outliers(near_by, 5), 0);
    near_by[3] = pluck('O', 0.0, 8.1, 2.0);
    (void)combine(near_by, 5);
    assert_true(near_by[3].outlier && outliers(near_by, 5) == 1);
}

/* A steady kind beside a wild one: the wild one keeps its middle, the answer its width. */
static void test_a_wild_kind_is_not_voted_out(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, -30.0, 0.05), pluck('O', 0.0, -9.0, 0.05),
                         pluck('O', 0.0, 11.0, 0.05),  pluck('O', 0.0, 28.0, 0.05),
                         pluck('F', 0.0, 4.60, 0.05),  pluck('F', 0.0, 4.61, 0.05),
                         pluck('F', 0.0, 4.59, 0.05),  pluck('F', 0.0, 4.60, 0.05)};
    const sb_interval r = combine(plucks, 8);
    assert_int_equal(outliers(plucks, 8), 0);
    assert_true(r.std_error_cents > 10.0);
}

/* --- drift -------------------------------------------------------------------------------- */

/* Plucks every 3 s in the order of the letters, the string falling by 6 cents a minute. */
static size_t drifting_take(const char *order, double error_cents, sb_pluck plucks[]) {
    const size_t n = strlen(order);
    for (size_t i = 0; i < n; i++) {
        const double time_s = 3.0 * (double)i;
        plucks[i] =
            pluck(order[i], time_s, -0.1 * time_s + (order[i] == 'F' ? error_cents : 0.0), 0.05);
    }
    return n;
}

static void test_drift_is_taken_out(void **state) {
    (void)state;
    const char *orders[] = {"OFOF",  "OFFO",   "FOOF",    "OOFFO",
                            "OFFFO", "OOFFOO", "OOOFFFO", "FOFOFO"};
    for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
        sb_pluck plucks[SB_MAX_PLUCKS];
        const size_t n = drifting_take(orders[i], 4.6, plucks);
        const sb_interval r = combine(plucks, n);
        assert_int_equal(outliers(plucks, n), 0);
        assert_true(r.drift_fitted && r.drift_significant);
        assert_within(r.drift_cents_per_min, -6.0, 1e-6);
        assert_within(r.error_cents, 4.6, 1e-7);
        assert_true(r.std_error_cents < 0.11);
        assert_within(1200.0 * log2(r.fretted_hz / r.open_hz) - 1200.0, 4.6, 1e-7);
    }
}

/* The fit by hand: O at 0 and 10 s, F at 5 and 15 s, all 0.1. Within-kind squares of time
 * 2 * 2 * 25 = 100, so slope variance 0.01/100; means 5 s apart: error variance
 * 0.01/2 + 0.01/2 + 25 * 0.0001 = 0.0125. */
static void test_drift_fit_by_hand(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.1), pluck('F', 5.0, 5.0, 0.1),
                         pluck('O', 10.0, 2.0, 0.1), pluck('F', 15.0, 7.0, 0.1)};
    const sb_interval r = combine(plucks, 4);
    assert_within(r.drift_cents_per_min, 12.0, 1e-6);
    assert_within(r.drift_std_error, 60.0 * 0.01, 1e-9);
    assert_within(r.error_cents, 4.0, 1e-7);
    assert_within(r.std_error_cents, sqrt(0.0125), 1e-9);
    /* Levels at the mean time, 7.5 s: the open string stands at 1.5 cents there. */
    assert_within(1200.0 * log2(r.open_hz / OPEN_HZ), 1.5, 1e-7);
    assert_within(r.open_std_error_cents, sqrt(0.005 + 6.25e-4), 1e-9);
}

/* Open, fretted, open: no degree of freedom is left. */
static void test_one_fretted_between_two_open(void **state) {
    (void)state;
    sb_pluck calm[] = {pluck('O', 0.0, 0.0, 0.05), pluck('F', 10.0, 4.6, 0.05),
                       pluck('O', 20.0, -0.2, 0.05)};
    const sb_interval r = combine(calm, 3);
    assert_true(r.drift_fitted);
    assert_false(r.drift_significant); /* a hand's scatter, for all one can tell */
    assert_within(r.error_cents, 4.7, 1e-7);
    assert_within(r.open_std_error_cents, 0.1, 1e-6); /* half-difference */
    assert_within(r.drift_cents_per_min, -0.6, 1e-7);

    /* Four cents are drift, though not beyond doubt: a quarter of them is held to be
     * scatter, variance ((16/2 - 0.0025)/8 + 0.0025) = 1.0021875 a pluck. */
    sb_pluck falling[] = {pluck('O', 0.0, 0.0, 0.05), pluck('F', 10.0, 2.6, 0.05),
                          pluck('O', 20.0, -4.0, 0.05)};
    const sb_interval f = combine(falling, 3);
    assert_true(f.drift_significant);
    assert_within(f.drift_cents_per_min, -12.0, 1e-7);
    assert_within(f.drift_std_error, 60.0 * sqrt(1.0021875 / 200.0), 1e-6);
    assert_within(f.error_cents, 4.6, 1e-7);
    assert_within(f.std_error_cents, sqrt(1.5 * 1.0021875), 1e-6);
}

/* Open notes all before the fretted ones: drift and interval cannot be told apart. The
 * levels are -0.5 and 0.5, each pair's half-difference 0.5; the plain fall of 0.1 a second
 * comes to 2 cents over the 20 s between the means. The truth, 3 cents, is within that. */
static void test_order_that_does_not_tell_drift(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.01), pluck('O', 10.0, -1.0, 0.01),
                         pluck('F', 20.0, 1.0, 0.01), pluck('F', 30.0, 0.0, 0.01)};
    const sb_interval r = combine(plucks, 4);
    assert_false(r.drift_fitted || r.drift_significant);
    assert_within(r.drift_cents_per_min, 0.0, 0.0);
    assert_within(r.drift_std_error, 0.0, 0.0);
    assert_within(r.error_cents, 1.0, 1e-6);
    assert_within(r.std_error_cents, sqrt(0.5 + 4.0), 1e-4);
    /* Without spread in time nothing shows of a drift, and nothing is widened for it. */
    plucks[1].time_s = 0.0;
    plucks[3].time_s = 20.0;
    assert_within(combine(plucks, 4).std_error_cents, sqrt(0.5), 1e-4);
}

/* A synthetic note may be known to a hundred-thousandth of a cent: that is its error, not more. */
static void test_errors_as_small_as_told(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 3e-5), pluck('F', 5.0, 4.6, 4e-5)};
    assert_within(combine(plucks, 2).std_error_cents, 5e-5, 1e-9);
}

static void test_all_at_one_time(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 9.0, 0.0, 0.1), pluck('F', 9.0, 5.0, 0.1),
                         pluck('O', 9.0, 0.1, 0.1), pluck('F', 9.0, 5.1, 0.1)};
    const sb_interval r = combine(plucks, 4);
    assert_false(r.drift_fitted);
    assert_within(r.error_cents, 5.0, 1e-7);
    assert_within(r.std_error_cents, 0.1, 1e-9);
}

/* Chance slopes are no drift: the same scatter whichever way, the levels' mean is used. */
static void test_scatter_is_not_called_drift(void **state) {
    (void)state;
    sb_pluck plucks[] = {pluck('O', 0.0, 0.4, 0.05), pluck('F', 3.0, 4.2, 0.05),
                         pluck('O', 6.0, -0.5, 0.05), pluck('F', 9.0, 4.9, 0.05)};
    const sb_interval r = combine(plucks, 4);
    assert_true(r.drift_fitted);
    assert_false(r.drift_significant);
    assert_within(r.error_cents, 4.55 - -0.05, 1e-6);
}

/* The last open pluck is far off: the string fell, when the others fall too; else a bad
 * pluck. */
static void test_a_far_pluck_or_a_drift(void **state) {
    (void)state;
    const char *order = "OOOFFFO";
    sb_pluck plucks[SB_MAX_PLUCKS];
    const size_t n = drifting_take(order, 4.6, plucks);
    plucks[n - 1] = pluck('O', 50.0, -5.0, 0.05); /* the same fall, after a pause */
    sb_interval r = combine(plucks, n);
    assert_int_equal(outliers(plucks, n), 0);
    assert_within(r.error_cents, 4.6, 1e-6);

    for (size_t i = 0; i + 1 < n; i++)
        plucks[i] = pluck(order[i], 3.0 * (double)i, order[i] == 'F' ? 4.6 : 0.0, 0.05);
    r = combine(plucks, n);
    assert_int_equal(outliers(plucks, n), 1);
    assert_true(plucks[n - 1].outlier);
    assert_within(r.error_cents, 4.6, 1e-6);
    assert_false(r.drift_fitted); /* without it the order does not tell */
}

/* --- against a solver of another make ------------------------------------------------------ */

typedef struct {
    double open, error, slope, chi2;
    double var_error, var_slope;
} solution;

/* Solves a symmetric 3 x 3 system by elimination and returns its inverse with it. */
static void solve3(double a[3][3], double b[3], double inverse[3][3]) {
    double m[3][7];
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            m[i][j] = a[i][j];
            m[i][4 + j] = i == j ? 1.0 : 0.0;
        }
        m[i][3] = b[i];
    }
    for (int p = 0; p < 3; p++) {
        const double pivot = m[p][p];
        for (int j = 0; j < 7; j++)
            m[p][j] /= pivot;
        for (int i = 0; i < 3; i++) {
            const double factor = m[i][p];
            for (int j = 0; i != p && j < 7; j++)
                m[i][j] -= factor * m[p][j];
        }
    }
    for (int i = 0; i < 3; i++) {
        b[i] = m[i][3];
        for (int j = 0; j < 3; j++)
            inverse[i][j] = m[i][4 + j];
    }
}

/* Normal equations of cents = open + [fretted] error + slope t, variances v_i + extra. */
static solution solve_take(const sb_pluck plucks[], const double cents[], size_t n, double extra) {
    double a[3][3] = {{0.0}}, b[3] = {0.0}, inverse[3][3];
    solution s = {.chi2 = 0.0};
    for (size_t i = 0; i < n; i++) {
        const double row[3] = {1.0, plucks[i].fretted ? 1.0 : 0.0, plucks[i].time_s};
        const double w = 1.0 / (pow(plucks[i].std_error_cents, 2.0) + extra);
        for (int r = 0; r < 3; r++) {
            b[r] += w * row[r] * cents[i];
            for (int c = 0; c < 3; c++)
                a[r][c] += w * row[r] * row[c];
        }
    }
    solve3(a, b, inverse);
    for (size_t i = 0; i < n; i++) {
        const double fit = b[0] + (plucks[i].fretted ? b[1] : 0.0) + b[2] * plucks[i].time_s;
        s.chi2 += pow(cents[i] - fit, 2.0) / (pow(plucks[i].std_error_cents, 2.0) + extra);
    }
    s.open = b[0];
    s.error = b[1];
    s.slope = b[2];
    s.var_error = inverse[1][1];
    s.var_slope = inverse[2][2];
    return s;
}

/* The added variance that brings chi-squared down to the degrees of freedom. */
static double solve_scatter(const sb_pluck plucks[], const double cents[], size_t n) {
    const double dof = (double)n - 3.0;
    double step = 1000.0, extra = 0.0;
    if (solve_take(plucks, cents, n, 0.0).chi2 <= dof)
        return 0.0;
    for (; step > 1e-12; step *= 0.5)
        if (solve_take(plucks, cents, n, extra + step).chi2 > dof)
            extra += step;
    return extra;
}

static void test_drift_fit_against_normal_equations(void **state) {
    (void)state;
    prng rng = prng_seeded(11);
    size_t compared = 0;
    for (int k = 0; k < 2000; k++) {
        sb_pluck plucks[16];
        double cents[16];
        const size_t n = 5 + (size_t)prng_uniform(&rng, 0.0, 11.0);
        const double error = prng_uniform(&rng, -20.0, 20.0);
        const double slope = prng_uniform(&rng, -0.5, 0.5);
        const double scatter = prng_uniform(&rng, 0.0, 0.4);
        for (size_t i = 0; i < n; i++) {
            const char kind = i % 2 == 0 ? 'O' : 'F';
            const double time_s = 3.0 * (double)i + prng_uniform(&rng, 0.0, 2.0);
            const double sigma = prng_uniform(&rng, 0.02, 0.3);
            cents[i] = (kind == 'F' ? error : 0.0) + slope * time_s +
                       hypot(sigma, scatter) * prng_normal(&rng);
            plucks[i] = pluck(kind, time_s, cents[i], sigma);
        }
        const sb_interval r = combine(plucks, n);
        if (outliers(plucks, n) > 0 || !r.drift_significant)
            continue;
        const solution s = solve_take(plucks, cents, n, solve_scatter(plucks, cents, n));
        assert_within(r.error_cents, s.error, 1e-6);
        assert_within(r.std_error_cents, sqrt(s.var_error), 1e-6);
        assert_within(r.drift_cents_per_min, 60.0 * s.slope, 1e-5);
        assert_within(r.drift_std_error, 60.0 * sqrt(s.var_slope), 1e-5);
        compared++;
    }
    assert_true(compared > 1000);
}

/* --- properties ------------------------------------------------------------------------------ */

/* A take of `order` with scatter, drift, and true error 4. */
static size_t random_take(prng *rng, const char *order, double scatter, double drift_per_min,
                          sb_pluck plucks[]) {
    const size_t n = strlen(order);
    for (size_t i = 0; i < n; i++) {
        const double time_s = 3.0 * (double)i;
        const double sigma = 0.05 * exp(0.5 * prng_normal(rng));
        const double cents = (order[i] == 'F' ? 4.0 : 0.0) + drift_per_min * time_s / 60.0 +
                             hypot(sigma, scatter) * prng_normal(rng);
        plucks[i] = pluck(order[i], time_s, cents, sigma);
    }
    return n;
}

/* The share of takes whose error lies within one standard error is 0.68 for a known normal
 * scatter; for one learned from few plucks it is Student's, 0.58 (two) to 0.65 (six degrees
 * of freedom). Not held to be beyond 0.85 either: too wide is no honesty. */
static void test_standard_error_is_honest(void **state) {
    (void)state;
    const struct {
        const char *order;
        double scatter, drift_per_min, least;
    } rows[] = {
        {"OF", 0.0, 0.0, 0.64},       {"OOFF", 0.0, 0.0, 0.64},     {"OOFF", 0.3, 0.0, 0.58},
        {"OOFF", 2.0, 0.0, 0.58},     {"OOOFFF", 0.3, 0.0, 0.60},   {"OOFFOO", 0.3, 0.0, 0.60},
        {"OOFFOO", 0.0, -6.0, 0.64},  {"OOFFOO", 0.3, -6.0, 0.58},  {"OOFFOO", 0.3, -20.0, 0.55},
        {"OFOFOFOF", 0.3, 0.0, 0.60}, {"OFOFOFOF", 0.3, 9.0, 0.58}, {"OFOFOFOF", 1.0, 0.0, 0.58},
    };
    prng rng = prng_seeded(12);
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        const int takes = 1000;
        int inside = 0;
        for (int i = 0; i < takes; i++) {
            sb_pluck plucks[SB_MAX_PLUCKS];
            const size_t n =
                random_take(&rng, rows[k].order, rows[k].scatter, rows[k].drift_per_min, plucks);
            const sb_interval r = combine(plucks, n);
            inside += fabs(r.error_cents - 4.0) <= r.std_error_cents ? 1 : 0;
        }
        const double share = (double)inside / takes;
        if (!(share >= rows[k].least && share <= 0.85))
            fail_msg("%s, scatter %g, drift %g: %.3f inside", rows[k].order, rows[k].scatter,
                     rows[k].drift_per_min, share);
    }
}

static void test_sound_plucks_are_seldom_lost(void **state) {
    (void)state;
    const char *orders[] = {"OOOF", "OOOFF", "OOOFFF", "OFOFOF", "OOFFOO", "OOOOFFFF"};
    prng rng = prng_seeded(13);
    for (size_t k = 0; k < sizeof orders / sizeof orders[0]; k++) {
        size_t steady = 0, wild = 0;
        for (int i = 0; i < 1000; i++) {
            sb_pluck plucks[SB_MAX_PLUCKS];
            size_t n = random_take(&rng, orders[k], 0.3, 0.0, plucks);
            (void)combine(plucks, n);
            steady += outliers(plucks, n) > 0 ? 1U : 0U;
            n = random_take(&rng, orders[k], 2.0, 0.0, plucks);
            (void)combine(plucks, n);
            wild += outliers(plucks, n) > 0 ? 1U : 0U;
        }
        if (steady > 10 || wild > 200)
            fail_msg("%s: %zu and %zu of 1000 takes lost a pluck", orders[k], steady, wild);
    }
}

static void test_drift_is_seldom_imagined(void **state) {
    (void)state;
    const struct {
        const char *order;
        double scatter;
        size_t most; /* of 1000 driftless takes */
    } rows[] = {
        {"OFOF", 0.0, 50},  {"OFOF", 0.3, 150},  {"OFFO", 0.3, 150},   {"OOFFO", 0.3, 60},
        {"OFOF", 2.0, 220}, {"OOFFOO", 0.3, 60}, {"OOFFOO", 2.0, 180}, {"OOOFFFO", 0.3, 60},
    };
    prng rng = prng_seeded(16);
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        size_t imagined = 0;
        for (int i = 0; i < 1000; i++) {
            sb_pluck plucks[SB_MAX_PLUCKS];
            const size_t n = random_take(&rng, rows[k].order, rows[k].scatter, 0.0, plucks);
            imagined += combine(plucks, n).drift_significant ? 1U : 0U;
        }
        if (imagined > rows[k].most)
            fail_msg("%s, scatter %g: drift in %zu of 1000", rows[k].order, rows[k].scatter,
                     imagined);
    }
}

static void test_order_and_origin_do_not_matter(void **state) {
    (void)state;
    prng rng = prng_seeded(14);
    for (int k = 0; k < 300; k++) {
        sb_pluck plucks[SB_MAX_PLUCKS], shuffled[SB_MAX_PLUCKS];
        const size_t n = random_take(&rng, "OOFFOFOO", 0.5, 3.0, plucks);
        memcpy(shuffled, plucks, n * sizeof plucks[0]);
        for (size_t i = n - 1; i > 0; i--) {
            const size_t j = (size_t)prng_uniform(&rng, 0.0, (double)i + 1.0);
            const sb_pluck swap = shuffled[i];
            shuffled[i] = shuffled[j];
            shuffled[j] = swap;
        }
        for (size_t i = 0; i < n; i++)
            shuffled[i].time_s += 1048576.0;
        const sb_interval a = combine(plucks, n), b = combine(shuffled, n);
        assert_within(a.error_cents, b.error_cents, 1e-7);
        assert_within(a.std_error_cents, b.std_error_cents, 1e-7);
        assert_within(a.drift_cents_per_min, b.drift_cents_per_min, 1e-6);
        assert_within(a.open_hz, b.open_hz, 1e-7);
        assert_int_equal(outliers(plucks, n), outliers(shuffled, n));
    }
}

/* Whatever comes: numbers out, at least half of each kind kept. */
static void test_any_take_gives_numbers(void **state) {
    (void)state;
    prng rng = prng_seeded(15);
    for (int k = 0; k < 1000; k++) {
        sb_pluck plucks[SB_MAX_PLUCKS];
        const size_t n = 2 + (size_t)prng_uniform(&rng, 0.0, 63.0);
        size_t open = 0;
        for (size_t i = 0; i < n; i++) {
            const bool fretted = i == 1 || (i > 1 && prng_uniform(&rng, 0.0, 1.0) < 0.5);
            const double size = exp(prng_uniform(&rng, -12.0, 6.0));
            plucks[i] = pluck(fretted ? 'F' : 'O', floor(prng_uniform(&rng, 0.0, 5.0)),
                              size * prng_normal(&rng), exp(prng_uniform(&rng, -30.0, 30.0)));
            open += fretted ? 0U : 1U;
        }
        const sb_interval r = combine(plucks, n);
        assert_true(isfinite(r.error_cents) && isfinite(r.open_hz) && isfinite(r.fretted_hz));
        assert_true(isfinite(r.std_error_cents) && r.std_error_cents > 0.0);
        assert_true(isfinite(r.open_std_error_cents) && isfinite(r.fretted_std_error_cents));
        assert_true(isfinite(r.drift_cents_per_min) && isfinite(r.drift_std_error));
        assert_true(2 * r.n_open >= open && 2 * r.n_fretted >= n - open);
        assert_int_equal(r.n_open + r.n_fretted + outliers(plucks, n), n);
    }
}

/* --- refusals --------------------------------------------------------------------------------- */

static void assert_refused(sb_pluck plucks[], size_t n, const sb_interval_options *options,
                           sb_status want) {
    sb_pluck before[SB_MAX_PLUCKS + 1];
    sb_interval r;
    memset(&r, 0x55, sizeof r);
    const sb_interval untouched = r;
    memcpy(before, plucks, n * sizeof plucks[0]);
    assert_int_equal(sb_interval_combine(plucks, n, options, &r), want);
    assert_true(r.error_cents == untouched.error_cents && r.n_open == untouched.n_open);
    for (size_t i = 0; i < n; i++)
        assert_int_equal(plucks[i].outlier, before[i].outlier);
}

static void test_a_kind_is_missing(void **state) {
    (void)state;
    sb_pluck open[] = {pluck('O', 0.0, 0.0, 0.1), pluck('O', 1.0, 0.0, 0.1)};
    sb_pluck fretted[] = {pluck('F', 0.0, 0.0, 0.1)};
    assert_refused(open, 2, &octave, SB_E_TOO_SHORT);
    assert_refused(fretted, 1, &octave, SB_E_TOO_SHORT);
    assert_refused(open, 0, &octave, SB_E_TOO_SHORT);
}

static void test_values_outside_their_domain(void **state) {
    (void)state;
    const double nan = (double)NAN, inf = (double)INFINITY;
    const double bad_hz[] = {nan, inf, 0.0, -82.0, 1e-300, 1e300};
    const double bad_sigma[] = {nan, inf, 0.0, -0.1, -inf, -nan};
    const double bad_time[] = {nan, inf, -inf, 1e200, -1e200, 1e10};
    for (size_t place = 0; place < 3; place++) {
        for (size_t i = 0; i < 6; i++) {
            for (int field = 0; field < 3; field++) {
                sb_pluck plucks[] = {pluck('O', 0.0, 0.0, 0.1), pluck('F', 1.0, 0.0, 0.1),
                                     pluck('O', 2.0, 0.0, 0.1)};
                double *const value[] = {&plucks[place].hz, &plucks[place].std_error_cents,
                                         &plucks[place].time_s};
                *value[field] = (field == 0 ? bad_hz : field == 1 ? bad_sigma : bad_time)[i];
                assert_refused(plucks, 3, &octave, SB_E_RANGE);
            }
        }
    }
    sb_pluck good[] = {pluck('O', 0.0, 0.0, 0.1), pluck('F', 1.0, 0.0, 0.1)};
    const sb_interval_options bad[] = {{nan, 0.0},     {inf, 0.0},    {1e6, 0.0},   {1200.0, nan},
                                       {1200.0, -0.1}, {1200.0, inf}, {1200.0, 1e9}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_refused(good, 2, &bad[i], SB_E_RANGE);
}

static void test_too_many_plucks(void **state) {
    (void)state;
    sb_pluck plucks[SB_MAX_PLUCKS + 1];
    for (size_t i = 0; i <= SB_MAX_PLUCKS; i++)
        plucks[i] = pluck(i % 2 ? 'F' : 'O', (double)i, i % 2 ? 4.6 : 0.0, 0.1);
    assert_refused(plucks, SB_MAX_PLUCKS + 1, &octave, SB_E_RANGE);
    const sb_interval r = combine(plucks, SB_MAX_PLUCKS);
    assert_within(r.error_cents, 4.6, 1e-7);
    assert_within(r.std_error_cents, 0.1 * sqrt(2.0 / 32.0), 1e-4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_of_each),
        cmocka_unit_test(test_common_errors_do_not_average_out),
        cmocka_unit_test(test_other_frets),
        cmocka_unit_test(test_hand_scatter_is_added),
        cmocka_unit_test(test_weights),
        cmocka_unit_test(test_a_pair_gets_its_half_difference),
        cmocka_unit_test(test_a_bold_claim_does_not_win),
        cmocka_unit_test(test_standard_errors_of_any_size),
        cmocka_unit_test(test_three_to_one),
        cmocka_unit_test(test_one_of_three),
        cmocka_unit_test(test_two_cannot_outvote_each_other),
        cmocka_unit_test(test_what_is_excused),
        cmocka_unit_test(test_a_wild_kind_is_not_voted_out),
        cmocka_unit_test(test_drift_is_taken_out),
        cmocka_unit_test(test_drift_fit_by_hand),
        cmocka_unit_test(test_one_fretted_between_two_open),
        cmocka_unit_test(test_order_that_does_not_tell_drift),
        cmocka_unit_test(test_errors_as_small_as_told),
        cmocka_unit_test(test_all_at_one_time),
        cmocka_unit_test(test_scatter_is_not_called_drift),
        cmocka_unit_test(test_a_far_pluck_or_a_drift),
        cmocka_unit_test(test_drift_fit_against_normal_equations),
        cmocka_unit_test(test_standard_error_is_honest),
        cmocka_unit_test(test_sound_plucks_are_seldom_lost),
        cmocka_unit_test(test_drift_is_seldom_imagined),
        cmocka_unit_test(test_order_and_origin_do_not_matter),
        cmocka_unit_test(test_any_take_gives_numbers),
        cmocka_unit_test(test_a_kind_is_missing),
        cmocka_unit_test(test_values_outside_their_domain),
        cmocka_unit_test(test_too_many_plucks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
