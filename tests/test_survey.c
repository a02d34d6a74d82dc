/* The survey against worked figures, and on necks of tests/support/necks.h, a whole elastic
 * string of another make with known faults. tests/bench/bench_survey.c prints the rates over
 * more of them; these are few and their bounds are wide. */
#include <math.h>

#include "core/survey.h"
#include "tests/support/necks.h"
#include "tests/support/within.h"

enum { READINGS = SB_SURVEY_MAX };

static sb_survey_options usual(double scale_mm) {
    return (sb_survey_options){.neck = {scale_mm, SB_GOOD_SLOT_MM, 3.35},
                               .kappa = sb_kappa_unknown(SB_MATERIAL_STEEL),
                               .tolerance_cents = 1.0};
}

static sb_survey_reading reading(int fret, double cents, double std_error) {
    return (sb_survey_reading){fret, 100.0 * fret, cents, std_error, 1.0};
}

static sb_survey survey(const sb_survey_reading r[], size_t n, const sb_survey_options *o) {
    sb_survey out;
    assert_int_equal(sb_survey_string(r, n, o, &out), SB_OK);
    return out;
}

/* --- worked figures ---------------------------------------------------------------------- */

static const int six_frets[] = {1, 3, 5, 7, 9, 12};

/* S = 650 mm, nut 0.50 mm too far back, saddle 1.20 too near: 1200 log2 of the exact lengths,
 * computed elsewhere with 25 digits. By the first-order formula these come out as +1.203398 and
 * -0.500535; on exact lengths as they were put in. */
static void test_exact_lengths(void **state) {
    (void)state;
    const double cents[] = {1.524081, 1.939622, 2.406169, 2.930001, 3.518171, 4.538668};
    sb_survey_reading r[6];
    for (int i = 0; i < 6; i++)
        r[i] = reading(six_frets[i], cents[i], 0.2);
    const sb_survey_options o = usual(650.0);
    const sb_survey s = survey(r, 6, &o);
    assert_within(-s.excess_mm[SB_PART_SADDLE], 1.2, 2e-6);
    assert_within(-s.excess_mm[SB_PART_NUT], -0.5, 2e-6);
    assert_within(s.excess_mm[SB_PART_SLOT], 0.0, 0.0);
    assert_true(s.adequate);
    assert_int_equal(s.verdict, SB_SURVEY_SADDLE);
    assert_true(s.fault[SB_PART_SADDLE] && s.fault[SB_PART_NUT] && !s.fault[SB_PART_SLOT]);
}

/* The same frets at 1 cent each: standard errors 0.4881 and 0.2721 mm, correlation 0.826, from
 * the two-by-two normal equations (g - 1 and 1 as columns). */
static void test_errors_of_the_estimate(void **state) {
    (void)state;
    sb_survey_reading r[6];
    for (int i = 0; i < 6; i++)
        r[i] = reading(six_frets[i], 0.0, 1.0);
    const sb_survey_options o = usual(650.0);
    const sb_survey s = survey(r, 6, &o);
    assert_within(s.std_error_mm[SB_PART_SADDLE], 0.4881, 6e-4);
    assert_within(s.std_error_mm[SB_PART_NUT], 0.2721, 3e-4);
    assert_within(s.correlation[SB_PART_SADDLE][SB_PART_NUT], 0.826, 6e-4);
    const sb_faults none = {.kappa = 250.0};
    double bound[SB_PARTS];
    assert_int_equal(sb_survey_bound(r, 6, &o, &none, 3U, bound), SB_OK);
    assert_within(bound[SB_PART_SADDLE], 0.4881, 6e-4);
    assert_within(bound[SB_PART_NUT], 0.2721, 3e-4);
}

/* To first order the best move of the saddle alone is S sum (w x e)/(K sum (w x^2)), x = g - 1. */
static void test_saddle_alone(void **state) {
    (void)state;
    const double cents[] = {0.4, 0.9, -0.2, 0.7, 1.4, 1.1}, weights[] = {3, 3, 2, 1, 0.5, 0};
    sb_survey_reading r[6];
    double xe = 0.0, xx = 0.0;
    for (int i = 0; i < 6; i++) {
        const double x = exp2(six_frets[i] / 12.0) - 1.0;
        r[i] = reading(six_frets[i], cents[i], 0.5);
        r[i].weight = weights[i];
        xe += weights[i] * x * cents[i];
        xx += weights[i] * x * x;
    }
    const sb_survey_options o = usual(650.0);
    const sb_survey s = survey(r, 6, &o);
    const double first_order = 650.0 * xe / xx / 1731.2340490667561;
    assert_within(s.saddle_only_mm, first_order, 0.01 * fabs(first_order));
    assert_true(s.saddle_only_cents[0] < cents[0]); /* back flattens */
}

/* A reading of the open string shifts all frets and adds its error to the nut's. */
static void test_open_reading(void **state) {
    (void)state;
    sb_survey_reading r[7];
    const double cents[] = {1.524081, 1.939622, 2.406169, 2.930001, 3.518171, 4.538668};
    r[0] = reading(0, 2.0, 0.3);
    for (int i = 0; i < 6; i++)
        r[i + 1] = reading(six_frets[i], 2.0 + cents[i], 0.2);
    const sb_survey_options o = usual(650.0);
    const sb_survey with = survey(r, 7, &o);
    const sb_survey without = survey(r + 1, 6, &o);
    assert_within(-with.excess_mm[SB_PART_SADDLE], 1.2, 2e-6);
    assert_within(-with.excess_mm[SB_PART_NUT], -0.5, 2e-6);
    const double open_mm = 0.3 * 649.3 / 1731.2340490667561;
    assert_within(with.std_error_mm[SB_PART_NUT], hypot(without.std_error_mm[SB_PART_NUT], open_mm),
                  1e-3);
    assert_within(with.fitted_cents[1], cents[0], 1e-5);
    assert_within(with.saddle_only_cents[0], 0.0, 0.0);
}

/* --- necks --------------------------------------------------------------------------------- */

typedef struct {
    double cents, std_error; /* scatter, and what is told of it (0 = nothing) */
    int fret_from;           /* the first fret of the usual ones that is played */
    bool string_known, measured;
} conditions;

static const conditions plain = {0.2, 0.2, 1, false, false};

static sb_survey survey_neck(const neck_string *s, const neck_fault *f, const conditions *c,
                             prng *rng) {
    sb_survey_reading r[NECKS_DEFAULT_FRETS];
    size_t n = 0;
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++) {
        const int fret = necks_default_frets[i];
        const double heard = necks_error_cents(s, f, fret) + c->cents * prng_normal(rng);
        if (fret >= c->fret_from)
            r[n++] = reading(fret, heard, c->std_error);
    }
    sb_survey_options o = usual(s->scale_mm);
    if (c->string_known) {
        o.kappa = (sb_kappa){s->kappa, 1.05};
        o.neck = (sb_straight_neck){s->scale_mm, s->slot_mm, s->saddle_height_mm};
    }
    if (c->measured) {
        o.slot_std_error_mm = 0.015;
        o.slot_mm = fmax(f->slot_mm + 0.015 * prng_normal(rng), -0.9 * s->slot_mm);
    }
    return survey(r, n, &o);
}

static double either(prng *rng, double low, double high) {
    const double size = prng_uniform(rng, low, high);
    return prng_next(rng) % 2 ? size : -size;
}

typedef struct {
    int necks, near[SB_PARTS], verdict[SB_SURVEY_UNDECIDED + 1], with_bad, found, adequate;
} rates;

static void count(rates *t, const sb_survey *s, const neck_fault *f) {
    const double truth[] = {f->saddle_mm, f->nut_mm, f->slot_mm};
    const double wanted[] = {0.1, 0.1, 0.03};
    bool any = false;
    t->necks++;
    for (int p = 0; p < SB_PARTS; p++)
        t->near[p] += fabs(s->excess_mm[p] - truth[p]) <= wanted[p];
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++) {
        any = any || s->bad[i];
        t->found += s->bad[i] && necks_default_frets[i] == f->bad_fret;
    }
    t->with_bad += any;
    t->verdict[s->verdict]++;
    t->adequate += s->adequate;
}

/* At least so many of 100. */
static void at_least(const char *what, int n, const rates *t, double percent) {
    const double got = 100.0 * n / t->necks;
    if (got < percent)
        print_message("%s: %.1f %% of %d\n", what, got, t->necks);
    assert_true(got >= percent);
}

static void test_sound_necks(void **state) {
    (void)state;
    prng rng = prng_seeded(31);
    rates t = {0};
    for (int i = 0; i < 150; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault none = {0};
        const sb_survey got = survey_neck(&s, &none, &plain, &rng);
        count(&t, &got, &none);
    }
    at_least("true", t.verdict[SB_SURVEY_TRUE], &t, 97);
    at_least("adequate", t.adequate, &t, 96);
    at_least("without a bad fret", t.necks - t.with_bad, &t, 98);
}

static void test_one_part_out(void **state) {
    (void)state;
    prng rng = prng_seeded(32);
    rates saddle = {0}, nut = {0}, slot = {0};
    for (int i = 0; i < 120; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault by_saddle = {.saddle_mm = either(&rng, 0.5, 3.0)};
        const neck_fault by_nut = {.nut_mm = either(&rng, 0.5, 1.2)};
        const neck_fault by_slot = {.slot_mm = prng_uniform(&rng, 0.4, 0.8)};
        sb_survey got = survey_neck(&s, &by_saddle, &plain, &rng);
        count(&saddle, &got, &by_saddle);
        got = survey_neck(&s, &by_nut, &plain, &rng);
        count(&nut, &got, &by_nut);
        got = survey_neck(&s, &by_slot, &plain, &rng);
        count(&slot, &got, &by_slot);
    }
    at_least("saddle", saddle.verdict[SB_SURVEY_SADDLE], &saddle, 98);
    at_least("saddle within 0.1 mm", saddle.near[SB_PART_SADDLE], &saddle, 93);
    at_least("nut", nut.verdict[SB_SURVEY_NUT], &nut, 97);
    at_least("nut within 0.1 mm", nut.near[SB_PART_NUT], &nut, 93);
    at_least("slot", slot.verdict[SB_SURVEY_SLOT], &slot, 93);
}

/* The slot's height needs to be measured to be known to 0.03 mm; then the nut is known too. */
static void test_all_parts_out_with_the_slot_measured(void **state) {
    (void)state;
    prng rng = prng_seeded(33);
    rates t = {0};
    const conditions measured = {0.2, 0.2, 1, true, true};
    for (int i = 0; i < 120; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault f = {.saddle_mm = either(&rng, 0.5, 3.0),
                              .nut_mm = either(&rng, 0.2, 1.0),
                              .slot_mm = prng_uniform(&rng, 0.1, 0.6)};
        const sb_survey got = survey_neck(&s, &f, &measured, &rng);
        count(&t, &got, &f);
    }
    at_least("saddle within 0.1 mm", t.near[SB_PART_SADDLE], &t, 92);
    at_least("nut within 0.1 mm", t.near[SB_PART_NUT], &t, 85);
    at_least("slot within 0.03 mm", t.near[SB_PART_SLOT], &t, 92);
}

static void test_a_bad_fret(void **state) {
    (void)state;
    prng rng = prng_seeded(34);
    rates t = {0}, untold = {0};
    const conditions nothing_told = {0.2, 0.0, 1, false, false};
    for (int i = 0; i < 120; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault f = {.saddle_mm = either(&rng, 0.0, 0.5),
                              .bad_fret = necks_default_frets[i % NECKS_DEFAULT_FRETS],
                              .bad_cents = i % 2 ? 3.0 : -3.0};
        sb_survey got = survey_neck(&s, &f, &plain, &rng);
        count(&t, &got, &f);
        got = survey_neck(&s, &f, &nothing_told, &rng);
        count(&untold, &got, &f);
    }
    at_least("bad fret found", t.found, &t, 97);
    at_least("fret", t.verdict[SB_SURVEY_FRET], &t, 95);
    at_least("bad fret found, errors not told", untold.found, &untold, 80);
}

/* Two bad frets do not hide each other. */
static void test_two_bad_frets(void **state) {
    (void)state;
    prng rng = prng_seeded(35);
    const neck_string s = necks_random(&rng);
    const neck_fault none = {0};
    sb_survey_reading r[12];
    for (int i = 0; i < 12; i++)
        r[i] = reading(i + 1, necks_error_cents(&s, &none, i + 1) + 0.1 * prng_normal(&rng), 0.1);
    r[4].error_cents += 4.0;
    r[6].error_cents += 4.0;
    const sb_survey_options o = usual(s.scale_mm);
    const sb_survey got = survey(r, 12, &o);
    for (int i = 0; i < 12; i++)
        assert_int_equal(got.bad[i], i == 4 || i == 6);
    assert_int_equal(got.verdict, SB_SURVEY_FRET);
}

/* --- what cannot be told --------------------------------------------------------------------- */

static void test_few_frets(void **state) {
    (void)state;
    const sb_survey_options o = usual(650.0);
    const sb_survey_reading two[] = {reading(5, 2.0, 0.2), reading(12, 5.0, 0.2)};
    sb_survey s = survey(two, 2, &o);
    assert_int_equal(s.verdict, SB_SURVEY_UNDECIDED);
    assert_int_equal(s.doubt, SB_DOUBT_FEW);
    s = survey(two + 1, 1, &o);
    assert_int_equal(s.doubt, SB_DOUBT_FEW);
    assert_within(s.saddle_only_mm, 1.869, 0.01); /* 5 cents at the octave; the bench rule 1.877 */
    assert_true(isnan(s.std_error_mm[SB_PART_NUT]));
}

/* Without the first frets a slot and a nut look the same; with them they do not. */
static void test_slot_or_nut_without_the_first_frets(void **state) {
    (void)state;
    prng rng = prng_seeded(36);
    const conditions late = {0.2, 0.2, 7, false, false};
    int undecided = 0, decided = 0, early = 0;
    for (int i = 0; i < 60; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault f = {.slot_mm = 0.7};
        sb_survey got = survey_neck(&s, &f, &late, &rng);
        undecided += got.between[0] == SB_PART_SLOT || got.between[1] == SB_PART_SLOT;
        decided += got.fault[SB_PART_NUT];
        got = survey_neck(&s, &f, &plain, &rng);
        early += got.verdict == SB_SURVEY_SLOT;
    }
    print_message("%d undecided, %d decided, of 60; %d with frets 1 to 5\n", undecided, decided,
                  early);
    assert_true(undecided >= 33); /* most of the rest are within a cent */
    assert_true(decided <= 3);
    assert_true(early >= 58);
}

static void test_uncertain_and_uneven_readings(void **state) {
    (void)state;
    prng rng = prng_seeded(37);
    int loose = 0, misfit = 0, never = 0;
    const conditions rough = {4.0, 4.0, 1, false, false}, uneven = {6.0, 0.2, 1, false, false};
    for (int i = 0; i < 40; i++) {
        const neck_string s = necks_random(&rng);
        const neck_fault f = {0};
        sb_survey got = survey_neck(&s, &f, &rough, &rng);
        loose += got.doubt == SB_DOUBT_LOOSE;
        got = survey_neck(&s, &f, &uneven, &rng);
        misfit += got.doubt == SB_DOUBT_MISFIT;
        never += got.adequate;
    }
    assert_true(loose >= 30);
    assert_true(misfit >= 30);
    assert_int_equal(never, 0);
}

static void test_what_is_refused(void **state) {
    (void)state;
    sb_survey_options o = usual(650.0);
    sb_survey_reading r[] = {reading(1, 0.0, 0.2), reading(12, 1.0, 0.2)};
    sb_survey s = {.dof = 77};
    const sb_survey_reading open = reading(0, 0.0, 0.1);
    assert_int_equal(sb_survey_string(&open, 1, &o, &s), SB_E_TOO_SHORT);
    assert_int_equal(sb_survey_string(r, 0, &o, &s), SB_E_TOO_SHORT);
    assert_int_equal(sb_survey_string(r, SB_SURVEY_MAX + 1, &o, &s), SB_E_RANGE);
    const double bad[] = {(double)NAN, (double)INFINITY, 101.0, -101.0};
    for (int i = 0; i < 4; i++) {
        r[1].error_cents = bad[i];
        assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    }
    r[1] = reading(1, 1.0, 0.2); /* twice */
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    r[1] = reading(2, 1.0, 0.2);
    r[1].fret_cents = 90.0; /* below the fret before */
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    r[1] = reading(12, 1.0, -0.1);
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    r[1] = reading(37, 1.0, 0.1);
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    r[1] = reading(12, 1.0, 0.1);
    o.kappa.factor = 1.0;
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    o = usual((double)NAN);
    assert_int_equal(sb_survey_string(r, 2, &o, &s), SB_E_RANGE);
    assert_int_equal(s.dof, 77);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exact_lengths),
        cmocka_unit_test(test_errors_of_the_estimate),
        cmocka_unit_test(test_saddle_alone),
        cmocka_unit_test(test_open_reading),
        cmocka_unit_test(test_sound_necks),
        cmocka_unit_test(test_one_part_out),
        cmocka_unit_test(test_all_parts_out_with_the_slot_measured),
        cmocka_unit_test(test_a_bad_fret),
        cmocka_unit_test(test_two_bad_frets),
        cmocka_unit_test(test_few_frets),
        cmocka_unit_test(test_slot_or_nut_without_the_first_frets),
        cmocka_unit_test(test_uncertain_and_uneven_readings),
        cmocka_unit_test(test_what_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
