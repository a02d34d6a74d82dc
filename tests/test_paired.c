/* The octave error by pairs of partials, on partials written down by Fletcher's series with a
 * known error, and cases small enough to be worked by hand. */
#include <math.h>

#include "audio/series.h"
#include "core/paired.h"
#include "tests/support/within.h"

enum { MOST = 24 };

typedef struct {
    sb_paired_partial partials[MOST];
    sb_paired_note note;
} played;

static double raised(double hz, double cents) {
    return hz * pow(2.0, cents / 1200.0);
}

/* Partials 1..n of n f0 sqrt(1 + B n^2), f0 so that the sounding fundamental is at hz. */
static void play(played *p, double hz, double b, int n, double std_error_cents) {
    for (int k = 1; k <= n; k++)
        p->partials[k - 1] = (sb_paired_partial){
            .number = k,
            .hz = k * hz * sqrt((1.0 + b * k * k) / (1.0 + b)),
            .std_error_cents = std_error_cents,
        };
    p->note = (sb_paired_note){.partials = p->partials, .n = (size_t)n, .inharmonicity = b};
}

static void pull(played *p, int number, double cents) {
    p->partials[number - 1].hz = raised(p->partials[number - 1].hz, cents);
}

static sb_paired measured(const played *open, const played *fretted) {
    sb_paired out = {0};
    assert_int_equal(sb_paired_error(&open->note, &fretted->note, &out), SB_OK);
    return out;
}

/* Two notes of 82.5 Hz and twice that, +4 cents; ten and five partials. */
static void an_e_string(played *open, played *fretted, double std_error_cents) {
    play(open, 82.5, 1e-4, 10, std_error_cents);
    play(fretted, raised(165.0, 4.0), 4e-4, 5, std_error_cents);
}

static void test_exact_strings_give_the_exact_error(void **state) {
    (void)state;
    const struct {
        double error_cents, open_b, fretted_b;
    } rows[] = {{0.0, 0.0, 0.0},
                {4.6, 1e-4, 4e-4},
                {-7.25, 3e-5, 1.4e-4},
                {12.0, 1e-3, 4e-3},
                {-0.03, 6e-5, 3.1e-4}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        played open, fretted;
        play(&open, 110.0, rows[i].open_b, 20, 0.01);
        play(&fretted, raised(220.0, rows[i].error_cents), rows[i].fretted_b, 12, 0.01);
        const sb_paired got = measured(&open, &fretted);
        assert_int_equal(got.pairs, 10);
        assert_int_equal(got.left_out, 0);
        assert_within(got.error_cents, rows[i].error_cents, 1e-9);
        assert_within(got.scatter_cents, 0.0, 0.0);
        /* ten pairs of two partials each: 0.01 sqrt(2/10) */
        assert_within(got.std_error_cents, 0.01 * sqrt(0.2), 1e-12);
    }
}

static void test_order_and_gaps_do_not_matter(void **state) {
    (void)state;
    played open, fretted;
    an_e_string(&open, &fretted, 0.01);
    const sb_paired_partial first = open.partials[1];
    open.partials[1] = open.partials[9];
    open.partials[9] = first;
    open.partials[5].std_error_cents = (double)INFINITY; /* partial 6, so pair 3 */
    const sb_paired got = measured(&open, &fretted);
    assert_int_equal(got.pairs, 4);
    assert_within(got.error_cents, 4.0, 1e-9);
}

/* --- scatter ------------------------------------------------------------------------- */

/* e_k = 1, 2, 3 of equal small errors: mean 2; Paule and Mandel's variance is that of the
 * sample, 1, less the pairs' own, 2 x 0.1^2, so the mean's is 1/3; and two standard errors of
 * Student's distribution with 2 degrees of freedom that leave 4.55 % outside are 4.5266 (the
 * tail 1 - t/sqrt(2 + t^2), solved for t, is sqrt(2) (1 - p)/sqrt(1 - (1 - p)^2)). */
static void test_scatter_enters_the_error(void **state) {
    (void)state;
    const double inside = 1.0 - 0.0455002638963584;
    const double student = sqrt(2.0) * inside / sqrt(1.0 - inside * inside);
    played open, fretted;
    play(&open, 100.0, 0.0, 6, 0.1);
    play(&fretted, 200.0, 0.0, 3, 0.1);
    for (int k = 1; k <= 3; k++)
        pull(&fretted, k, k);
    const sb_paired got = measured(&open, &fretted);
    assert_within(student, 4.5266, 1e-4);
    assert_within(got.error_cents, 2.0, 1e-9);
    assert_within(got.scatter_cents, sqrt(0.98), 1e-6);
    assert_within(got.std_error_cents, sqrt(1.0 / 3.0) * student / 2.0, 1e-6);
}

/* Weights 1/(0.3^2 + 0.4^2) = 4 twice and 1/(0.6^2 + 0.8^2) = 1 once; e_k 0, 0, 0.9. */
static void test_partials_count_by_their_errors(void **state) {
    (void)state;
    played open, fretted;
    play(&open, 100.0, 0.0, 6, 0.3);
    play(&fretted, 200.0, 0.0, 3, 0.4);
    open.partials[5].std_error_cents = 0.6;
    fretted.partials[2].std_error_cents = 0.8;
    pull(&fretted, 3, 0.9);
    const sb_paired got = measured(&open, &fretted);
    assert_within(got.error_cents, 0.1, 1e-9);
    assert_within(got.std_error_cents, 1.0 / 3.0, 1e-9);
}

/* An error of B_f shifts e_k by about 600/ln 2 (k^2 - 1) of it, all one way: of 1e-6 over
 * k = 1, 2, 3 with all but equal weights (0 + 3 + 8)/3 x 865.617 x 1e-6 cents. */
static void test_errors_of_b_enter_together(void **state) {
    (void)state;
    played open, fretted;
    play(&open, 100.0, 0.0, 6, 0.1);
    play(&fretted, 200.0, 0.0, 3, 0.1);
    const double alone = measured(&open, &fretted).std_error_cents;
    fretted.note.inharmonicity_std_error = 1e-6;
    const double with_b = measured(&open, &fretted).std_error_cents;
    assert_within(sqrt(with_b * with_b - alone * alone), 11.0 / 3.0 * 865.617e-6, 2e-5);
    fretted.note.inharmonicity_std_error = 0.0;
    open.note.inharmonicity_std_error = 1e-6; /* 4 k^2 - 1 = 3, 15, 35 */
    const double with_open_b = measured(&open, &fretted).std_error_cents;
    assert_within(sqrt(with_open_b * with_open_b - alone * alone), 53.0 / 3.0 * 865.617e-6, 2e-4);
}

/* --- resonances ---------------------------------------------------------------------- */

static double series_hz(const played *p, double std_cents) {
    sb_series_point points[MOST];
    sb_series_fit fit = {0};
    for (size_t i = 0; i < p->note.n; i++)
        points[i] = (sb_series_point){
            .number = p->partials[i].number, .hz = p->partials[i].hz, .std_cents = std_cents};
    assert_true(sb_series_solve(points, p->note.n, &fit));
    return fit.sounding_hz;
}

/* A body that pulls what is near 165 Hz by 6 cents pulls the fretted fundamental, one of five
 * partials, and the open string's second, one of ten: the series do not shift alike. */
static void test_a_shared_pull_drops_out(void **state) {
    (void)state;
    played open, fretted;
    an_e_string(&open, &fretted, 2.0);
    const double before = 1200.0 * log2(series_hz(&fretted, 2.0) / series_hz(&open, 2.0));
    pull(&open, 2, 6.0);
    pull(&fretted, 1, 6.0);
    const double after = 1200.0 * log2(series_hz(&fretted, 2.0) / series_hz(&open, 2.0));
    const sb_paired got = measured(&open, &fretted);
    assert_within(before, 1204.0, 0.15); /* the fit expects B = 1e-4: 0.10 cents at such errors */
    assert_true(after - before > 1.0);
    assert_int_equal(got.pairs, 5);
    assert_within(got.error_cents, 4.0, 1e-9);
}

/* A bridge pulls the half as long string twice as far (see the header): what is left is in one
 * pair, which either is left out, the others being sure, or is borne by the error. */
static void test_a_pull_at_the_bridge_is_left_out_or_borne(void **state) {
    (void)state;
    played open, fretted;
    an_e_string(&open, &fretted, 0.01);
    pull(&open, 2, 3.0);
    pull(&fretted, 1, 6.0);
    sb_paired got = measured(&open, &fretted);
    assert_int_equal(got.left_out, 1);
    assert_within(got.error_cents, 4.0, 1e-9);
    an_e_string(&open, &fretted, 1.0);
    pull(&open, 2, 3.0);
    pull(&fretted, 1, 6.0);
    got = measured(&open, &fretted);
    assert_within(got.error_cents, 4.0 + 3.0 / 5.0, 0.01);
    assert_true(got.std_error_cents > 3.0 / 5.0);
}

static void test_an_outlier_is_left_out(void **state) {
    (void)state;
    played open, fretted;
    an_e_string(&open, &fretted, 0.01);
    pull(&fretted, 4, -9.0);
    const sb_paired got = measured(&open, &fretted);
    assert_int_equal(got.pairs, 4);
    assert_int_equal(got.left_out, 1);
    assert_within(got.error_cents, 4.0, 1e-9);
}

/* --- what cannot be done ------------------------------------------------------------- */

static void test_too_few_pairs_are_not_known(void **state) {
    (void)state;
    played open, fretted;
    sb_paired out = {.pairs = 99};
    an_e_string(&open, &fretted, 0.01);
    open.note.n = 5; /* partials 2 and 4 only */
    assert_int_equal(sb_paired_error(&open.note, &fretted.note, &out), SB_E_TOO_SHORT);
    open.note.n = 7;
    assert_int_equal(measured(&open, &fretted).pairs, 3);
    pull(&fretted, 2, 40.0); /* of three, one far off: two are left */
    assert_int_equal(sb_paired_error(&open.note, &fretted.note, &out), SB_E_TOO_SHORT);
    fretted.note.n = 0;
    assert_int_equal(sb_paired_error(&open.note, &fretted.note, &out), SB_E_TOO_SHORT);
    assert_int_equal(out.pairs, 99);
}

static void test_nonsense_is_refused(void **state) {
    (void)state;
    sb_paired out;
    for (int what = 0; what < 5; what++) {
        played open, fretted;
        an_e_string(&open, &fretted, 0.01);
        switch (what) {
        case 0: open.partials[0].hz = 0.0; break;
        case 1: fretted.partials[0].hz = (double)NAN; break;
        case 2: fretted.partials[2].number = 0; break;
        case 3: open.note.inharmonicity = -1e-4; break;
        default: fretted.note.inharmonicity_std_error = (double)INFINITY; break;
        }
        assert_int_equal(sb_paired_error(&open.note, &fretted.note, &out), SB_E_RANGE);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exact_strings_give_the_exact_error),
        cmocka_unit_test(test_order_and_gaps_do_not_matter),
        cmocka_unit_test(test_scatter_enters_the_error),
        cmocka_unit_test(test_partials_count_by_their_errors),
        cmocka_unit_test(test_errors_of_b_enter_together),
        cmocka_unit_test(test_a_shared_pull_drops_out),
        cmocka_unit_test(test_a_pull_at_the_bridge_is_left_out_or_borne),
        cmocka_unit_test(test_an_outlier_is_left_out),
        cmocka_unit_test(test_too_few_pairs_are_not_known),
        cmocka_unit_test(test_nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
