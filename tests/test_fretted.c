/* The pitch of fretted strings: published figures, and solvers of another make: finite elements
 * for the vibration and the shape, natural lengths for the stretch. */
#include <math.h>
#include <string.h>

#include "core/fretted.h"
#include "tests/support/beam.h"
#include "tests/support/published.h"
#include "tests/support/within.h"

#define PI       3.14159265358979323846
#define K        1731.2340490667561 /* cents per unit of ln */
#define INCH_MM  25.4
#define SCALE_MM 647.7

static double error_of(const sb_neck *neck, const sb_tuned *s, int fret, double saddle_mm,
                       double nut_mm) {
    double cents = (double)NAN;
    assert_int_equal(sb_fretted_error(neck, s, fret, saddle_mm, nut_mm, &cents), SB_OK);
    return cents;
}

/* A string with a given EA/T and b whose tension over the open length is that of the ideal
 * string times (1 + what its stiffness and length change it by), as sb_fretted_error has it. */
static sb_tuned string_of(double tension_n, double over_pull, double bend, double ends,
                          double open_mm) {
    const double hz = 200.0, speed = 2e-3 * open_mm * hz;
    const double pitch =
        sqrt(1.0 + PI * PI * bend * bend) + ends * bend + ends * ends * bend * bend;
    const double stiff = bend * open_mm * 1e-3;
    return (sb_tuned){.hz = hz,
                      .ends = ends,
                      .wire = {.unit_mass_kg_m = tension_n * pitch * pitch / (speed * speed),
                               .stretch_n = over_pull * tension_n,
                               .bending_nm2 = stiff * stiff * tension_n}};
}

/* Anderson & Beausoleil 2024, the model of their prototype: X0 650, nut 1 and saddle 5 mm over the
 * crowns, finger on the fret, EA/T 51, b0 0.00236; figures computed elsewhere from their e_n, to
 * 1e-4 cent. */
static void test_prototype(void **state) {
    (void)state;
    static const double want[12] = {1.7270, 1.6090, 1.8174, 2.1237, 2.4835, 2.8825,
                                    3.3159, 3.7816, 4.2796, 4.8104, 5.3752, 5.9752};
    const sb_neck neck = {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0};
    const double open_mm = hypot(650.0, 4.0);
    const sb_tuned s = string_of(60.0, 51.0, 0.00236 * 650.0 / open_mm, SB_ENDS_HYBRID, open_mm);
    for (int fret = 1; fret <= 12; fret++)
        assert_within(error_of(&neck, &s, fret, 0.0, 0.0), want[fret - 1], 2e-4);
}

/* The same with dS = 1.8, dN = -0.38: published to be below 1 cent everywhere, the figures again
 * from elsewhere. Those hold tension and b0 at the open string's; here it is retuned, which takes
 * 0.44 % of T and twice that of the stiffness: under 0.03 cent. */
static void test_prototype_compensated(void **state) {
    (void)state;
    static const struct {
        int fret;
        double cents;
    } want[] = {{1, 0.4344}, {2, 0.0074}, {5, -0.1409}, {12, 0.1481}};
    const sb_neck neck = {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0};
    const double open_mm = hypot(650.0, 4.0);
    const sb_tuned s = string_of(60.0, 51.0, 0.00236 * 650.0 / open_mm, SB_ENDS_HYBRID, open_mm);
    for (size_t i = 0; i < sizeof want / sizeof *want; i++)
        assert_within(error_of(&neck, &s, want[i].fret, 1.8, -0.38), want[i].cents, 0.03);
}

/* What stiffness alone does to an exactly halved string: nothing stretches (EA = 0), the crown on
 * the line of the string but for 1e-6 mm. Figures computed elsewhere, for B 1e-5 to 5e-4. */
static void test_stiffness_alone(void **state) {
    (void)state;
    static const struct {
        double inharmonicity, cents[3]; /* pinned, hybrid, clamped */
    } want[] = {{1e-5, {0.0260, 1.771, 3.522}},  {2e-5, {0.0519, 2.522, 5.001}},
                {4e-5, {0.1039, 3.599, 7.115}},  {5e-5, {0.1298, 4.039, 7.974}},
                {1e-4, {0.2596, 5.795, 11.380}}, {1.3e-4, {0.3375, 6.652, 13.032}},
                {2e-4, {0.5191, 8.359, 16.300}}, {5e-4, {1.2968, 13.727, 26.402}}};
    const double ends[3] = {SB_ENDS_PINNED, SB_ENDS_HYBRID, SB_ENDS_CLAMPED};
    const sb_neck neck = {.scale_mm = 650.0, .nut_height_mm = 1e-6};
    for (size_t i = 0; i < sizeof want / sizeof *want; i++)
        for (size_t e = 0; e < 3; e++) {
            const double bend = sqrt(want[i].inharmonicity) / PI;
            const sb_tuned s = string_of(70.0, 0.0, bend, ends[e], 650.0);
            assert_within(error_of(&neck, &s, 12, 0.0, 0.0), want[i].cents[e], 0.005);
        }
}

static sb_neck steel_neck(double action_12_mm) {
    /* Any nut height with that action; a low saddle keeps the string nearly level. */
    const sb_action a = {.fret = 12, .action_mm = action_12_mm, .first_fret_mm = action_12_mm};
    sb_neck neck;
    assert_int_equal(sb_neck_from_action(SCALE_MM, &a, &neck), SB_OK);
    return neck;
}

static sb_tuned steel_string(const published_steel *p, double ends) {
    const sb_wire_data d = {.wound = p->wound,
                            .gauge_mm = INCH_MM * p->gauge_in,
                            .core_mm = INCH_MM * p->core_in,
                            .unit_mass_kg_m = LB_PER_IN * p->lb_per_in,
                            .modulus_pa = 203e9};
    sb_tuned s = {.hz = published_hz(p->note), .ends = ends};
    assert_int_equal(sb_wire_make(&d, SCALE_MM, s.hz, NULL, &s.wire), SB_OK);
    return s;
}

/* What the terms in b^2 add at fret 12: the published steel figures have P = 1 + a b alone. */
static double second_order(double bend, double ends) {
    const double c = ends * ends + PI * PI / 2.0;
    const double full = log((1.0 + 2.0 * ends * bend + 4.0 * c * bend * bend) /
                            (1.0 + ends * bend + c * bend * bend));
    return K * (full - log((1.0 + 2.0 * ends * bend) / (1.0 + ends * bend)));
}

/* A steel set at 25.5 in, computed elsewhere: the octave errors for an action of 1.6, 2.0 and
 * 2.5 mm. Their model leaves out the b^2 terms of the stiffness, which add 0.04 (E4) to 0.35 cents
 * (G3); with those added both agree to 0.02 cent. That difference is the table's. */
static void test_steel_octave_errors(void **state) {
    (void)state;
    static const double action[3] = {1.6, 2.0, 2.5};
    for (size_t i = 0; i < PUBLISHED_STEEL; i++) {
        const published_steel *p = &published_steels[i];
        for (size_t h = 0; h < 3; h++) {
            const sb_neck neck = steel_neck(action[h]);
            const sb_tuned s = steel_string(p, SB_ENDS_HYBRID);
            assert_within(error_of(&neck, &s, 12, 0.0, 0.0),
                          p->hybrid_cents[h] + second_order(p->bend, 1.0), 0.02);
        }
        const sb_neck neck = steel_neck(1.6);
        const sb_tuned s = steel_string(p, SB_ENDS_CLAMPED);
        assert_within(error_of(&neck, &s, 12, 0.0, 0.0),
                      p->clamped_cents + second_order(p->bend, 2.0), 0.02);
    }
}

/* The same model for the plain G3 at 1.6 mm with the saddle 2 mm back: 4.58188. */
static void test_steel_octave_error_moved(void **state) {
    (void)state;
    const published_steel *p = &published_steels[2];
    const sb_neck neck = steel_neck(1.6);
    const sb_tuned s = steel_string(p, SB_ENDS_HYBRID);
    const double bend = p->bend * pow(SCALE_MM / (SCALE_MM + 2.0), 2.0);
    assert_within(error_of(&neck, &s, 12, 2.0, 0.0), 4.58188 + second_order(bend, 1.0), 0.02);
}

/* --- other solvers -------------------------------------------------------------------- */

typedef enum { END_PINNED, END_CLAMPED, END_GOES_ON } end;

#define BEHIND_MM 300.0 /* what lies behind an end that goes on */

static void lay(beam *b, const sb_tuned *s, double tension, double mass, double length_mm,
                const end ends[2]) {
    beam_begin(b, tension, s->wire.bending_nm2, mass);
    if (ends[0] == END_GOES_ON)
        beam_add(b, 1e-3 * BEHIND_MM, 600, true);
    b->clamped[0] = ends[0] != END_PINNED;
    b->clamped[b->n - 1] = ends[0] == END_CLAMPED;
    beam_add(b, 1e-3 * length_mm, 1300, true);
    if (ends[1] == END_GOES_ON)
        beam_add(b, 1e-3 * BEHIND_MM, 600, true);
    b->clamped[b->n - 1] = ends[1] != END_PINNED;
}

static double first_hz(const sb_tuned *s, double tension, double mass, double length_mm,
                       const end ends[2]) {
    static beam b;
    lay(&b, s, tension, mass, length_mm, ends);
    return beam_first_hz(&b);
}

static double tension_of(const sb_tuned *s, double length_mm, const end ends[2]) {
    const double speed = 2e-3 * length_mm * s->hz;
    double tension = s->wire.unit_mass_kg_m * speed * speed;
    for (int i = 0; i < 5; i++) {
        const double off = s->hz / first_hz(s, tension, s->wire.unit_mass_kg_m, length_mm, ends);
        tension *= off * off;
    }
    return tension;
}

/* Pressing down, as a beam pulled aside by crown and, where it is not there, finger: how much
 * longer it is. */
static double pressed_growth_mm(const sb_neck *neck, const sb_tuned *s, double tension,
                                double crown_mm) {
    static beam b;
    const double beyond = neck->scale_mm - crown_mm, h = neck->nut_height_mm;
    beam_begin(&b, tension, s->wire.bending_nm2, s->wire.unit_mass_kg_m);
    if (neck->finger_mm > 0.0) {
        beam_add(&b, 1e-3 * (crown_mm - neck->finger_mm), 1000, true);
        b.aside[b.n - 1] = 1e-3 * h * (1.0 + neck->finger_mm / beyond);
        beam_add(&b, 1e-3 * neck->finger_mm, 30, true);
    } else {
        beam_add(&b, 1e-3 * crown_mm, 1000, true);
    }
    b.aside[b.n - 1] = 1e-3 * h;
    beam_add(&b, 1e-3 * beyond, 1000, true);
    return 1e3 * beam_growth_m(&b);
}

/* The octave or other error by finite elements alone, the saddle at its nominal place, the string
 * level over the crowns. */
static double element_error(const sb_neck *neck, const sb_tuned *s, int fret, const end open[2],
                            const end fretted[2]) {
    const double crown = neck->scale_mm * (1.0 - pow(2.0, -fret / 12.0));
    const double beyond = neck->scale_mm - crown, h = neck->nut_height_mm;
    const double tension = tension_of(s, neck->scale_mm, open);
    const double growth = pressed_growth_mm(neck, s, tension, crown) / neck->scale_mm;
    const double hz = first_hz(s, tension + s->wire.stretch_n * growth,
                               s->wire.unit_mass_kg_m / (1.0 + growth), hypot(beyond, h), fretted);
    return K * log(hz / (s->hz * pow(2.0, fret / 12.0)));
}

static sb_tuned nylon_string(const published_string *p, double ends) {
    const sb_wire_data d = {.material = SB_MATERIAL_NYLON,
                            .core_mm = 2.0 * p->radius_mm,
                            .unit_mass_kg_m = 1e-3 * p->unit_mass_g_m,
                            .modulus_pa = 1e9 * p->modulus_gpa};
    sb_tuned s = {.hz = published_hz(p->note), .ends = ends};
    assert_int_equal(sb_wire_make(&d, 650.0, s.hz, NULL, &s.wire), SB_OK);
    return s;
}

/* The first mode of pinned, hybrid and clamped strings against the finite elements: the closed
 * form's P(b) leaves out b^3 and beyond. Exact for pinned ends. */
static void test_first_mode(void **state) {
    (void)state;
    static const struct {
        double a;
        end ends[2];
        double tolerance_cents;
    } kinds[] = {{SB_ENDS_PINNED, {END_PINNED, END_PINNED}, 1e-4},
                 {SB_ENDS_HYBRID, {END_CLAMPED, END_PINNED}, 0.005},
                 {SB_ENDS_CLAMPED, {END_CLAMPED, END_CLAMPED}, 0.02}};
    for (size_t k = 0; k < 3; k++)
        for (size_t i = 0; i < 2; i++) {
            const double bend = i ? 0.003 : 0.0065; /* a plain G3, open and at fret 12 */
            const sb_tuned s = string_of(70.0, 0.0, bend, kinds[k].a, 650.0);
            const double hz = first_hz(&s, 70.0, s.wire.unit_mass_kg_m, 650.0, kinds[k].ends);
            assert_within(K * log(hz / s.hz), 0.0, kinds[k].tolerance_cents);
        }
}

/* A string that goes on behind both its ends: each counts for half a clamped one, so two for the
 * default a = 1. */
static void test_two_ends_that_go_on_are_one_clamped(void **state) {
    (void)state;
    static const end both[2] = {END_GOES_ON, END_GOES_ON};
    for (size_t i = 0; i < 2; i++) {
        const double bend = i ? 0.003 : 0.0065;
        const sb_tuned s = string_of(70.0, 0.0, bend, SB_ENDS_HYBRID, 650.0);
        const double hz = first_hz(&s, 70.0, s.wire.unit_mass_kg_m, 650.0, both);
        assert_within(K * log(hz / s.hz) / (K * bend), 0.0, 0.02);
    }
}

/* Whole errors by finite elements: a stiff string bends round crown and finger where the model has
 * corners, which makes its way longer by 1 to 2 % of its growth; 0.05 cent on a plain G3. */
static void test_against_elements(void **state) {
    (void)state;
    static const int frets[] = {1, 5, 12, 17};
    static const end clamped_pinned[2] = {END_CLAMPED, END_PINNED};
    for (size_t i = 0; i < 6; i++) {
        const sb_tuned s = i < 3 ? steel_string(&published_steels[2 * i], SB_ENDS_HYBRID)
                                 : nylon_string(&published_strings[i], SB_ENDS_HYBRID);
        for (size_t k = 0; k < 4; k++) {
            const double h = frets[k] == 1 ? 0.6 : 2.0;
            const sb_neck neck = {.scale_mm = i < 3 ? SCALE_MM : 650.0,
                                  .nut_height_mm = h,
                                  .finger_mm = k == 2 ? 8.0 : 0.0};
            const double got = error_of(&neck, &s, frets[k], 0.0, 0.0);
            const double want = element_error(&neck, &s, frets[k], clamped_pinned, clamped_pinned);
            assert_within(got, want, 0.05);
        }
    }
}

/* A flexible elastic string in the plane, by its natural length: unstretched l0, T = k (l/l0 - 1),
 * the same mass on whatever length; points as coordinates. */
static double natural_error(const sb_neck *neck, const sb_tuned *s, int fret, double saddle_mm,
                            double nut_mm) {
    const double crown_x = neck->scale_mm * (1.0 - pow(2.0, -fret / 12.0));
    const double nut[2] = {-nut_mm, neck->nut_height_mm};
    const double saddle[2] = {neck->scale_mm + saddle_mm, neck->nut_height_mm + neck->rise_mm};
    const double down = saddle[1] / (saddle[0] - crown_x);
    const double finger[2] = {crown_x - neck->finger_mm, -down * neck->finger_mm};
    const double open = hypot(saddle[0] - nut[0], saddle[1] - nut[1]);
    const double sounding = hypot(saddle[0] - crown_x, saddle[1]);
    const double way = sounding + hypot(crown_x - finger[0], finger[1]) +
                       hypot(finger[0] - nut[0], finger[1] - nut[1]);
    const double mass = s->wire.unit_mass_kg_m * open;
    const double tension = 4e-6 * s->wire.unit_mass_kg_m * open * open * s->hz * s->hz;
    /* The stiffness at the open tension is EA: k = EA - T of the natural string. */
    const double k = s->wire.stretch_n - tension, natural = open / (1.0 + tension / k);
    const double hz = 1e3 * sqrt(k * (way / natural - 1.0) * way / mass) / (2.0 * sounding);
    return K * log(hz / (s->hz * pow(2.0, fret / 12.0)));
}

static void test_against_natural_lengths(void **state) {
    (void)state;
    const sb_neck necks[] = {
        {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0},
        {.scale_mm = 650.0, .nut_height_mm = 0.8, .rise_mm = 9.0, .finger_mm = 10.0},
        {.scale_mm = 863.6, .nut_height_mm = 0.7, .rise_mm = 3.0, .finger_mm = 5.0},
    };
    for (size_t i = 0; i < 3; i++) {
        sb_tuned s = {.hz = 196.0, .wire = {.unit_mass_kg_m = 1.1e-3, .stretch_n = 2.5e4}};
        for (int fret = 1; fret <= 20; fret++)
            assert_within(error_of(&necks[i], &s, fret, 2.2, -0.4),
                          natural_error(&necks[i], &s, fret, 2.2, -0.4), 1e-9);
    }
}

/* --- the neck ------------------------------------------------------------------------- */

/* Stretch from action alone: Q = h^2/(2 a (L - a)), derived from the published geometry; worked
 * elsewhere: h 1.6, S 647.7: E4 .010 1.5068 cents, plain G3 4.2613, to first order in T. Raising h
 * to 2.0 adds 2.40. */
static void test_stretch_from_action(void **state) {
    (void)state;
    static const double want[2] = {1.5068, 4.2613};
    for (size_t i = 0; i < 2; i++) {
        sb_tuned s = steel_string(&published_steels[2 * i], SB_ENDS_PINNED);
        const sb_neck low = steel_neck(1.6), high = steel_neck(2.0);
        double cents = error_of(&low, &s, 12, 0.0, 0.0);
        double raised = error_of(&high, &s, 12, 0.0, 0.0);
        s.wire.stretch_n = 0.0;
        cents -= error_of(&low, &s, 12, 0.0, 0.0);
        raised -= error_of(&high, &s, 12, 0.0, 0.0);
        assert_within(cents, K / 2.0 * log1p(2.0 * want[i] / K), 0.002);
        if (i == 1)
            assert_within(raised - cents, 2.40, 0.02);
    }
}

/* An action is where it was measured, relief and all; between, the bow is part of it. */
static void test_neck_from_action(void **state) {
    (void)state;
    const double a1 = SCALE_MM * (1.0 - pow(2.0, -1.0 / 12.0));
    const double a17 = SCALE_MM * (1.0 - pow(2.0, -17.0 / 12.0));
    for (int fret = 5; fret <= 22; fret += 7) {
        const sb_action a = {.fret = fret,
                             .action_mm = 1.8,
                             .first_fret_mm = 0.5,
                             .relief_mm = 0.25,
                             .relief_to = 17};
        sb_neck neck;
        assert_int_equal(sb_neck_from_action(SCALE_MM, &a, &neck), SB_OK);
        assert_within(sb_neck_height_mm(&neck, fret), 1.8, 1e-12);
        assert_within(sb_neck_height_mm(&neck, 1), 0.5, 1e-12);
    }
    /* Bowed by 0.25 mm halfway between frets 1 and 17, so by nearly that at fret 7. */
    const sb_action bowed = {
        .fret = 17, .action_mm = 1.8, .first_fret_mm = 0.5, .relief_mm = 0.25, .relief_to = 17};
    const double a7 = SCALE_MM * (1.0 - pow(2.0, -7.0 / 12.0));
    sb_neck neck;
    assert_int_equal(sb_neck_from_action(SCALE_MM, &bowed, &neck), SB_OK);
    const double line = 0.5 + 1.3 * (a7 - a1) / (a17 - a1);
    assert_within(sb_neck_height_mm(&neck, 7) - line, 0.25, 0.004);
    assert_within(sb_neck_height_mm(&neck, 19),
                  1.8 + 1.3 * (SCALE_MM * (pow(2.0, -17.0 / 12.0) - pow(2.0, -19.0 / 12.0))) /
                            (a17 - a1),
                  1e-9);
}

static void test_refusals(void **state) {
    (void)state;
    const double nan = (double)NAN;
    const sb_neck good = {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0};
    const sb_neck bad[] = {
        {.scale_mm = 50.0, .nut_height_mm = 1.0},
        {.scale_mm = 650.0, .nut_height_mm = -1.0},
        {.scale_mm = 650.0, .nut_height_mm = nan},
        {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = nan},
        {.scale_mm = 650.0, .nut_height_mm = 1.0, .finger_mm = 40.0}, /* behind the nut */
        {.scale_mm = 650.0, .nut_height_mm = 1.0, .relief_mm = 0.2},  /* between no frets */
        {.scale_mm = 650.0, .nut_height_mm = 1.0, .slope = nan},
    };
    const sb_tuned s = steel_string(&published_steels[0], SB_ENDS_HYBRID);
    double cents = 77.0;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_int_equal(sb_fretted_error(&bad[i], &s, 1, 0.0, 0.0, &cents), SB_E_RANGE);
    assert_int_equal(sb_fretted_error(&good, &s, 0, 0.0, 0.0, &cents), SB_E_RANGE);
    assert_int_equal(sb_fretted_error(&good, &s, 37, 0.0, 0.0, &cents), SB_E_RANGE);
    assert_int_equal(sb_fretted_error(&good, &s, 1, nan, 0.0, &cents), SB_E_RANGE);
    sb_tuned wild = s;
    wild.wire.bending_nm2 = 1.0;
    assert_int_equal(sb_fretted_error(&good, &wild, 1, 0.0, 0.0, &cents), SB_E_RANGE);
    wild = s;
    wild.hz = nan;
    assert_int_equal(sb_fretted_error(&good, &wild, 1, 0.0, 0.0, &cents), SB_E_RANGE);
    const sb_action actions[] = {{.fret = 1, .action_mm = 2.0},
                                 {.fret = 12, .action_mm = nan},
                                 {.fret = 12, .action_mm = 2.0, .relief_mm = 0.2}};
    sb_neck neck = good;
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(sb_neck_from_action(650.0, &actions[i], &neck), SB_E_RANGE);
    assert_within(cents, 77.0, 0.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_prototype),
        cmocka_unit_test(test_prototype_compensated),
        cmocka_unit_test(test_stiffness_alone),
        cmocka_unit_test(test_steel_octave_errors),
        cmocka_unit_test(test_steel_octave_error_moved),
        cmocka_unit_test(test_first_mode),
        cmocka_unit_test(test_two_ends_that_go_on_are_one_clamped),
        cmocka_unit_test(test_against_elements),
        cmocka_unit_test(test_against_natural_lengths),
        cmocka_unit_test(test_stretch_from_action),
        cmocka_unit_test(test_neck_from_action),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
