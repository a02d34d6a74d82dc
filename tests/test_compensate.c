/* Compensation: the published setbacks of 36 strings, the published octave-true moves of a steel
 * set, closed approximations, and an independent search for the least sum of squares. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/compensate.h"
#include "core/saddle.h"
#include "tests/support/published.h"
#include "tests/support/within.h"

#define K        1731.2340490667561 /* cents per unit of ln */
#define INCH_MM  25.4
#define SCALE_MM 647.7

static sb_compensation solve(const sb_compensation_task *t, const sb_wire_data *d) {
    sb_compensation c;
    memset(&c, 0x7f, sizeof c);
    assert_int_equal(sb_compensate(t, d, &c), SB_OK);
    return c;
}

/* The setting of the published tables: nut 1, saddle 5 mm over the crowns, finger on the fret,
 * frets 1 to 12. */
static sb_compensation_task published_task(const char *note, bool nut) {
    sb_compensation_task t = {
        .neck = {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0},
        .hz = published_hz(note),
        .ends = SB_ENDS_HYBRID,
        .ends_std_error = SB_ENDS_STD_ERROR,
        .n_frets = 12,
        .nut = nut,
    };
    for (int i = 0; i < 12; i++)
        t.frets[i] = i + 1;
    return t;
}

static sb_wire_data published_data(const published_string *s) {
    return (sb_wire_data){.material = SB_MATERIAL_NYLON,
                          .gauge_mm = 2.0 * s->radius_mm,
                          .core_mm = 2.0 * s->radius_mm,
                          .unit_mass_kg_m = 1e-3 * s->unit_mass_g_m,
                          .modulus_pa = 1e9 * s->modulus_gpa};
}

/* Anderson & Beausoleil 2024, the tables of all six sets: saddle +-0.05 mm, nut +-0.02 mm, what
 * remains +-0.01 cent. They solve the first order; the exact least squares lies 0.00 to 0.06 mm
 * nearer. One of the 36 thereby misses the saddle's 0.05 mm: the light set's G3, the stiffest of
 * all, printed 3.39, here 3.332 (with their linear formula below 3.373). It is held to what it
 * reaches. */
static void test_published_setbacks(void **state) {
    (void)state;
    for (size_t i = 0; i < PUBLISHED_STRINGS; i++) {
        const published_string *s = &published_strings[i];
        const sb_compensation_task t = published_task(s->note, true);
        const sb_wire_data d = published_data(s);
        const sb_compensation c = solve(&t, &d);
        const bool stiffest = i == 2;
        if (stiffest)
            print_message("claim missed: light G3 %.4f mm, printed %.2f +- 0.05\n", c.saddle_mm,
                          s->saddle_mm);
        assert_within(c.saddle_mm, s->saddle_mm, stiffest ? 0.058 : 0.05);
        assert_within(c.nut_mm, s->nut_mm, 0.02);
        assert_within(c.rms_cents, s->rms_cents, 0.01);
    }
}

/* The same tables by their own least squares, to first order, from the errors that core finds
 * with saddle and nut unmoved: all 36 within the tolerance, the light G3 too. */
static void test_published_first_order(void **state) {
    (void)state;
    for (size_t i = 0; i < PUBLISHED_STRINGS; i++) {
        const published_string *s = &published_strings[i];
        const sb_compensation_task t = published_task(s->note, true);
        const sb_wire_data d = published_data(s);
        const sb_compensation c = solve(&t, &d);
        double g1 = 0.0, g2 = 0.0, z0 = 0.0, z1 = 0.0;
        for (int n = 1; n <= 12; n++) {
            const double g = pow(2.0, n / 12.0) - 1.0, z = c.before_cents[n - 1] / K;
            g1 += g;
            g2 += g * g;
            z0 += z;
            z1 += g * z;
        }
        const double det = 12.0 * g2 - g1 * g1;
        assert_within(650.0 * (12.0 * z1 - g1 * z0) / det, s->saddle_mm, 0.05);
        assert_within(-650.0 * (g2 * z0 - g1 * z1) / det, s->nut_mm, 0.02);
    }
}

/* Their summary: over five sets 1.8 +- 0.4 mm at the saddle, -0.38 +- 0.03 at the nut; the setback
 * 4.4 +- 0.2 string radii. */
static void test_published_means(void **state) {
    (void)state;
    double saddle = 0.0, nut = 0.0, radii = 0.0;
    for (size_t i = 6; i < PUBLISHED_STRINGS; i++) {
        const published_string *s = &published_strings[i];
        const sb_compensation_task t = published_task(s->note, true);
        const sb_wire_data d = published_data(s);
        const sb_compensation c = solve(&t, &d);
        saddle += c.saddle_mm / 30.0;
        nut += c.nut_mm / 30.0;
        radii += c.saddle_mm / s->radius_mm / 30.0;
    }
    assert_within(saddle, 1.8, 0.05);
    assert_within(nut, -0.38, 0.01);
    assert_within(radii, 4.4, 0.2);
}

/* The steel set of test_fretted, true at fret 12 alone, for an action of 1.6, 2.0, 2.5 mm there.
 * The published moves leave out the stiffness's b^2 terms; each cent of these is worth
 * scale/K mm, to first order. 0.02 mm. */
static void test_steel_moves(void **state) {
    (void)state;
    static const double action[3] = {1.6, 2.0, 2.5};
    for (size_t i = 0; i < PUBLISHED_STEEL; i++)
        for (size_t h = 0; h < 4; h++) {
            const published_steel *s = &published_steels[i];
            const double a = h < 3 ? 1.0 : 2.0, c = a * a + 4.934802200544679, b = s->bend;
            const sb_action high = {
                .fret = 12, .action_mm = action[h % 3], .first_fret_mm = action[h % 3]};
            sb_compensation_task t = {
                .hz = published_hz(s->note), .ends = a, .frets = {12}, .n_frets = 1};
            assert_int_equal(sb_neck_from_action(SCALE_MM, &high, &t.neck), SB_OK);
            const sb_wire_data d = {.wound = s->wound,
                                    .gauge_mm = INCH_MM * s->gauge_in,
                                    .core_mm = INCH_MM * s->core_in,
                                    .unit_mass_kg_m = LB_PER_IN * s->lb_per_in,
                                    .modulus_pa = 203e9};
            const double left_out =
                log((1.0 + 2.0 * a * b + 4.0 * c * b * b) / (1.0 + 2.0 * a * b) * (1.0 + a * b) /
                    (1.0 + a * b + c * b * b));
            const double want = h < 3 ? s->hybrid_move_mm[h] : s->clamped_move_mm;
            const sb_compensation got = solve(&t, &d);
            assert_within(got.saddle_mm, want + SCALE_MM * left_out, 0.02);
            assert_within(got.cents[0], 0.0, 1e-6);
        }
}

/* What the prediction wants is what core/saddle makes of the error that it predicts: two
 * derivations of one move, exact and by one law for all the sharpening, agree to 0.002 mm.
 * Published for the plain G3 at 1.6 mm, without the b^2 terms that part them most: 0.0003 mm. */
static void test_agrees_with_the_saddle(void **state) {
    (void)state;
    for (size_t i = 0; i < PUBLISHED_STEEL; i++) {
        const published_steel *s = &published_steels[i];
        const sb_action high = {.fret = 12, .action_mm = 1.6, .first_fret_mm = 1.6};
        sb_compensation_task t = {
            .hz = published_hz(s->note), .ends = SB_ENDS_HYBRID, .frets = {12}, .n_frets = 1};
        assert_int_equal(sb_neck_from_action(SCALE_MM, &high, &t.neck), SB_OK);
        const sb_wire_data d = {.wound = s->wound, .gauge_mm = INCH_MM * s->gauge_in};
        const sb_compensation c = solve(&t, &d);
        const sb_geometry g = {.scale_mm = SCALE_MM, .fret = 12};
        sb_move move;
        assert_int_equal(sb_saddle_move(&g, c.before_cents[0], 0.0, &move), SB_OK);
        assert_within(c.saddle_mm, move.move_mm, 0.002);
    }
}

/* String that slides over nut and saddle shares the stretch: as if of so much less EA. */
static void test_string_behind(void **state) {
    (void)state;
    sb_compensation_task t = published_task("G3", true);
    const sb_wire_data d = {.gauge_mm = 1.0, .unit_mass_kg_m = 8e-4, .modulus_pa = 5e9};
    const sb_compensation held = solve(&t, &d);
    t.behind_mm = 130.0;
    const sb_compensation slides = solve(&t, &d);
    assert_within(slides.wire.stretch_n / held.wire.stretch_n, 650.0 / 780.0, 1e-12);
    assert_within(slides.wire.bending_nm2, held.wire.bending_nm2, 0.0);
    assert_within(slides.nut_mm / held.nut_mm, 650.0 / 780.0, 0.01);
    sb_compensation c;
    t.behind_mm = -1.0;
    assert_int_equal(sb_compensate(&t, &d, &c), SB_E_RANGE);
}

/* Their prototype string: the optimum worked elsewhere, 1.8072, -0.3775 and 0.1576 cent (tension
 * and b0 held; retuned it moves by 0.003 mm); their closed approximation, 1.8871 and -0.3531, is
 * 5 and 7 % off that. */
static void test_closed_approximation(void **state) {
    (void)state;
    const double over_pull = 51.0, bend = 0.00236, radius_mm = bend * 1300.0 / sqrt(over_pull);
    const sb_compensation_task t = published_task("G3", true);
    const double speed = 1.3 * t.hz, mass = 60.0 / (speed * speed);
    const double area_m2 = 3.14159265358979323846e-6 * radius_mm * radius_mm;
    const sb_wire_data d = {.core_mm = 2.0 * radius_mm,
                            .unit_mass_kg_m = mass,
                            .modulus_pa = over_pull * 60.0 / area_m2};
    const sb_compensation c = solve(&t, &d);
    assert_within(c.saddle_mm, 1.8072, 0.005);
    assert_within(c.nut_mm, -0.3775, 0.0005);
    assert_within(c.rms_cents, 0.1576, 0.0005);
    assert_within(c.saddle_mm, 1.8871, 0.05 * 1.8871);
    assert_within(c.nut_mm, -0.3531, 0.08 * 0.3531);
}

/* Byers 1996, strings 1 to 6, at 650 mm with clamped ends: nut -0.3 -0.7 -1.0 -0.5 -0.5 -0.5,
 * saddle 1.3 2.1 3.1 1.5 1.7 2.9. His heights, strings and frets are not known. The published
 * normal set in the published setting asks with hybrid ends for saddles within 0.2 mm of his on
 * E4, D3 and A2 and 0.4 to 0.8 mm less on B3, G3 and E2, and for nuts of -0.34 to -0.43; with the
 * clamped ends that he used, for 2.7 to 4.5 mm. The disagreement is reported, and only the order
 * is held: all nuts forward, all saddles back, clamped more than his. */
static void test_byers(void **state) {
    (void)state;
    for (size_t i = 0; i < PUBLISHED_BYERS; i++) {
        const published_string *s = &published_strings[6 + i];
        const published_byers *b = &published_byer[i];
        const sb_wire_data d = published_data(s);
        sb_compensation_task t = published_task(s->note, true);
        const sb_compensation hybrid = solve(&t, &d);
        t.ends = SB_ENDS_CLAMPED;
        const sb_compensation clamped = solve(&t, &d);
        print_message("Byers %s: nut %+.1f saddle %+.1f; hybrid %+.2f %+.2f, clamped %+.2f %+.2f\n",
                      b->note, b->nut_mm, b->saddle_mm, hybrid.nut_mm, hybrid.saddle_mm,
                      clamped.nut_mm, clamped.saddle_mm);
        assert_true(hybrid.nut_mm < 0.0 && clamped.nut_mm < 0.0);
        assert_true(hybrid.saddle_mm > 0.8 && b->saddle_mm < clamped.saddle_mm);
        assert_within(clamped.saddle_mm / hybrid.saddle_mm, 1.8, 0.1);
    }
}

/* --- the solution ---------------------------------------------------------------------- */

static sb_compensation_task guitar(double hz, bool nut) {
    sb_compensation_task t = {.hz = hz,
                              .ends = SB_ENDS_HYBRID,
                              .ends_std_error = SB_ENDS_STD_ERROR,
                              .frets = {1, 2, 3, 5, 7, 9, 12, 15, 17},
                              .n_frets = 9,
                              .nut = nut};
    const sb_action a = {.fret = 17,
                         .action_mm = 1.8,
                         .first_fret_mm = 0.5,
                         .relief_mm = 0.2,
                         .finger_mm = 8.0,
                         .relief_to = 17};
    assert_int_equal(sb_neck_from_action(SCALE_MM, &a, &t.neck), SB_OK);
    return t;
}

static double squares_at(const sb_compensation_task *t, const sb_wire *wire, double saddle,
                         double nut) {
    const sb_tuned s = {.wire = *wire, .hz = t->hz, .ends = t->ends};
    double sum = 0.0;
    for (size_t i = 0; i < t->n_frets; i++) {
        double cents = 0.0;
        assert_int_equal(sb_fretted_error(&t->neck, &s, t->frets[i], saddle, nut, &cents), SB_OK);
        sum += cents * cents;
    }
    return sum;
}

/* No place near the solution leaves less, to either side and across. */
static void test_is_the_least(void **state) {
    (void)state;
    const sb_wire_data strings[] = {
        {.gauge_mm = 0.254}, {.gauge_mm = 0.4318}, {.gauge_mm = 1.1684, .wound = true}};
    const double hz[] = {329.63, 196.0, 82.41};
    for (size_t i = 0; i < 6; i++) {
        const bool nut = i >= 3;
        const sb_compensation_task t = guitar(hz[i % 3], nut);
        const sb_compensation c = solve(&t, &strings[i % 3]);
        const double least = squares_at(&t, &c.wire, c.saddle_mm, c.nut_mm);
        assert_within(sqrt(least / 9.0), c.rms_cents, 1e-9);
        for (int a = -1; a <= 1; a++)
            for (int b = -1; b <= 1; b++)
                if ((a || b) && (nut || !b))
                    assert_true(squares_at(&t, &c.wire, c.saddle_mm + 0.01 * a,
                                           c.nut_mm + 0.01 * b) > least);
        assert_true(nut || !(fabs(c.nut_mm) > 0.0));
        assert_true(c.rms_cents < c.rms_before_cents);
    }
}

/* The stated error against what strings drawn at random from the stated uncertainties really
 * need: 400 draws, whose scatter is known to 3.5 %. */
static void test_error_is_the_scatter(void **state) {
    (void)state;
    const sb_wire_data d = {.gauge_mm = 1.1684, .wound = true};
    const sb_compensation_task t = guitar(82.41, true);
    const sb_compensation c = solve(&t, &d);
    double sum = 0.0, squares = 0.0, seed = 0.5;
    const size_t draws = 400;
    for (size_t k = 0; k < draws; k++) {
        double z[SB_UNSURES] = {0.0};
        for (size_t i = 0; i < SB_UNSURES; i++)
            for (int j = 0; j < 12; j++) { /* twelve uniform numbers make a normal one */
                seed = fmod(seed * 9301.0 + 49297.0, 233280.0);
                z[i] += seed / 233280.0 - 0.5;
            }
        sb_compensation_task u = t;
        sb_wire w;
        assert_int_equal(sb_wire_make(&d, SCALE_MM, t.hz, z, &w), SB_OK);
        u.ends += z[SB_UNSURE_ENDS] * t.ends_std_error;
        u.ends_std_error = 0.0;
        const sb_wire_data exact = {.gauge_mm = 1.1684,
                                    .wound = true,
                                    .core_mm = w.core_mm,
                                    .unit_mass_kg_m = w.unit_mass_kg_m,
                                    .modulus_pa = w.modulus_pa};
        const sb_compensation one = solve(&u, &exact);
        sum += one.saddle_mm / (double)draws;
        squares += one.saddle_mm * one.saddle_mm / (double)draws;
    }
    assert_within(sum, c.saddle_mm, 0.1 * c.saddle_std_error_mm + 0.05);
    assert_within(sqrt(squares - sum * sum) / c.saddle_std_error_mm, 1.0, 0.12);
}

/* A measured B is surer than the gauge's usual core. */
static void test_heard_is_surer(void **state) {
    (void)state;
    const sb_compensation_task t = guitar(82.41, false);
    sb_wire_data d = {.gauge_mm = 1.1684, .wound = true};
    const sb_compensation guessed = solve(&t, &d);
    d.inharmonicity = guessed.wire.inharmonicity;
    d.inharmonicity_std_error = 0.03 * d.inharmonicity;
    const sb_compensation heard = solve(&t, &d);
    assert_within(heard.saddle_mm, guessed.saddle_mm, 1e-6);
    assert_true(heard.saddle_std_error_mm < 0.8 * guessed.saddle_std_error_mm);
    assert_within(heard.inharmonicity_std_error / d.inharmonicity, 0.03, 1e-6);
}

/* What two strings are unsure of alike does not make their difference unsure. */
static void test_shift_error(void **state) {
    (void)state;
    const sb_compensation_task t = guitar(82.41, false);
    const sb_wire_data d = {.gauge_mm = 1.1684, .wound = true},
                       e = {.gauge_mm = 1.0668, .wound = true};
    const sb_compensation a = solve(&t, &d), b = solve(&t, &e);
    assert_within(sb_compensation_shift_error(&a, &a, true, true), 0.0, 0.0);
    const double apart = hypot(a.saddle_std_error_mm, b.saddle_std_error_mm);
    const double alike = sb_compensation_shift_error(&a, &b, true, false);
    assert_true(alike < apart && alike > 0.0);
    assert_true(alike < sb_compensation_shift_error(&a, &b, false, false));
}

static void test_refusals(void **state) {
    (void)state;
    const sb_wire_data good = {.gauge_mm = 0.254}, none = {.wound = true};
    sb_compensation c = {.saddle_mm = 77.0};
    sb_compensation_task t = guitar(329.63, true);
    assert_int_equal(sb_compensate(&t, &none, &c), SB_E_UNDETERMINED);
    t.n_frets = 1;
    assert_int_equal(sb_compensate(&t, &good, &c), SB_E_TOO_SHORT);
    t.n_frets = 2;
    t.frets[1] = t.frets[0];
    assert_int_equal(sb_compensate(&t, &good, &c), SB_E_UNDETERMINED);
    t.frets[1] = 40;
    assert_int_equal(sb_compensate(&t, &good, &c), SB_E_RANGE);
    t.n_frets = SB_FRETS_MAX + 1;
    assert_int_equal(sb_compensate(&t, &good, &c), SB_E_RANGE);
    t = guitar(329.63, false);
    t.n_frets = 0;
    assert_int_equal(sb_compensate(&t, &good, &c), SB_E_TOO_SHORT);
    assert_within(c.saddle_mm, 77.0, 0.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_setbacks),
        cmocka_unit_test(test_published_first_order),
        cmocka_unit_test(test_published_means),
        cmocka_unit_test(test_steel_moves),
        cmocka_unit_test(test_agrees_with_the_saddle),
        cmocka_unit_test(test_string_behind),
        cmocka_unit_test(test_closed_approximation),
        cmocka_unit_test(test_byers),
        cmocka_unit_test(test_is_the_least),
        cmocka_unit_test(test_error_is_the_scatter),
        cmocka_unit_test(test_heard_is_surer),
        cmocka_unit_test(test_shift_error),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
