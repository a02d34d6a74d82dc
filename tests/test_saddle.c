/* The saddle move against figures computed elsewhere with 30 digits from the model of
 * Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683 (2024), against a full elastic
 * string written out here, and by its own properties. */
#include <math.h>

#include "core/saddle.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define PI           3.14159265358979323846
#define CENTS_PER_LN 1731.2340490667561

static sb_move move_for(double scale_mm, double speaking_mm, int fret, double error_cents) {
    const sb_geometry geometry = {scale_mm, speaking_mm, fret};
    sb_move move = {0};
    assert_int_equal(sb_saddle_move(&geometry, error_cents, 1.0, &move), SB_OK);
    return move;
}

/* ln(L'/(g(L'-a))) + ln G L^2(L-a)/(L'^2(L'-a)) = 0, the open string retuned: the root to
 * 9 digits at fret 12, beside the bench rule S e ln2/1200. c is L - S. */
static void test_worked_moves_at_the_octave(void **state) {
    (void)state;
    const struct {
        double scale_mm, c_mm, error_cents, rule_mm, move_mm;
    } rows[] = {
        {647.7, 0.0, 1.0, 0.37412619, 0.373587321},   {647.7, 0.0, 5.0, 1.8706310, 1.85729598},
        {647.7, 0.0, -5.0, -1.8706310, -1.88431450},  {647.7, 0.0, 12.0, 4.4895143, 4.41403733},
        {647.7, 0.0, -12.0, -4.4895143, -4.56981642}, {647.7, 0.0, 20.0, 7.4825238, 7.27690814},
        {647.7, 2.0, 5.0, 1.8706310, 1.85184133},     {647.7, 2.0, -5.0, -1.8706310, -1.87841754},
        {647.7, 2.0, 12.0, 4.4895143, 4.40163219},    {647.7, 3.5, -12.0, -4.4895143, -4.54399608},
        {628.65, 0.0, 5.0, 1.8156124, 1.80266963},    {628.65, 0.0, 12.0, 4.3574698, 4.28421270},
        {650.0, 0.0, 5.0, 1.8772736, 1.86389129},     {650.0, 0.0, -5.0, -1.8772736, -1.89100575},
        {650.0, 0.0, 12.0, 4.5054567, 4.42971169},    {650.0, 2.0, 12.0, 4.5054567, 4.41730575},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double speaking = rows[i].c_mm == 0.0 ? 0.0 : rows[i].scale_mm + rows[i].c_mm;
        const sb_move move = move_for(rows[i].scale_mm, speaking, 12, rows[i].error_cents);
        assert_within(move.move_mm, rows[i].move_mm, 6e-9);
        assert_within(move.rule_of_thumb_mm, rows[i].rule_mm, 6e-8);
        const sb_geometry geometry = {rows[i].scale_mm, speaking, 12};
        double all_mm = 0.0, none_mm = 1.0;
        assert_int_equal(
            sb_saddle_move_taking(&geometry, rows[i].error_cents, rows[i].error_cents, &all_mm),
            SB_OK);
        assert_within(all_mm, rows[i].move_mm, 6e-9);
        assert_int_equal(sb_saddle_move_taking(&geometry, rows[i].error_cents, 0.0, &none_mm),
                         SB_OK);
        assert_within(none_mm, 0.0, 0.0);
        assert_int_equal(sb_saddle_move_taking(&geometry, 101.0, 101.0, &all_mm), SB_E_RANGE);
        assert_within(all_mm, rows[i].move_mm, 6e-9);
    }
}

/* The same root at other frets and for large errors, with the derivatives of the root by
 * the error and of the error by the move, taken numerically at 30 digits. */
static void test_worked_moves_with_derivatives(void **state) {
    (void)state;
    const struct {
        double scale_mm, c_mm;
        int fret;
        double error_cents, move_mm, mm_per_cent, cents_per_mm;
    } rows[] = {
        {647.7, 0.0, 12, 1.0, 0.373587320776, 0.373049835912, 2.67907063311},
        {647.7, 2.0, 12, 5.0, 1.85184133096, 0.367777208473, 2.71175824821},
        {647.7, 0.0, 12, 40.0, 14.1798849636, 0.336630932169, 2.91992287952},
        {647.7, 0.0, 5, 5.0, 5.48549821136, 1.07750438605, 0.920735457456},
        {647.7, 0.0, 7, 5.0, 3.70612923928, 0.731869852302, 1.35892807436},
        {647.7, 0.0, 19, 5.0, 0.932870481625, 0.18577427439, 5.37531183665},
        {863.6, 3.0, 7, -6.0, -6.08082706685, 1.02975031573, 0.978162618366},
        {355.0, 0.0, 5, 9.0, 5.33635601229, 0.574516703122, 1.71746398651},
        {650.0, 2.5, 15, -8.0, -2.19042237482, 0.276283805126, 3.63158853816},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double speaking = rows[i].scale_mm + rows[i].c_mm;
        const sb_move move =
            move_for(rows[i].scale_mm, speaking, rows[i].fret, rows[i].error_cents);
        assert_within(move.move_mm, rows[i].move_mm, 1e-9);
        assert_within(move.std_error_mm, rows[i].mm_per_cent, 1e-10);
        assert_within(move.cents_per_mm, rows[i].cents_per_mm, 1e-9);
    }
}

/* --- the full elastic string, independent of core ------------------------------------- */

/* SI units. One end pinned, one clamped: f = sqrt(T/mu)/(2 l) (1 + b), b = sqrt(EI/T)/l,
 * to first order in b (Anderson & Beausoleil, hybrid ends). */
typedef struct {
    double modulus, area, inertia, unit_mass, open_hz, scale, height;
} wire;

/* A plain G3 of 0.017 in at 25.5 in: 29 442 660.76 psi and 0.00006402 lb/in from string
 * makers' published data; 1.6 mm over the 12th fret. */
static wire plain_g(void) {
    const double d = 0.017 * 0.0254;
    return (wire){
        .modulus = 29442660.76 * 6894.757293168361,
        .area = PI * d * d / 4.0,
        .inertia = PI * d * d * d * d / 64.0,
        .unit_mass = 0.00006402 * 17.857967322834646,
        .open_hz = 440.0 * exp2(-14.0 / 12.0),
        .scale = 0.6477,
        .height = 0.0016,
    };
}

static double sounding_hz(const wire *w, double tension, double unit_mass, double length) {
    const double b = sqrt(w->modulus * w->inertia / tension) / length;
    return sqrt(tension / unit_mass) / (2.0 * length) * (1.0 + b);
}

/* The tension that gives the open note, by fixed point from the ideal string's. */
static double tuned_tension(const wire *w, double length) {
    double tension = w->unit_mass * pow(2.0 * length * w->open_hz, 2.0);
    for (int i = 0; i < 50; i++) {
        tension *= pow(w->open_hz / sounding_hz(w, tension, w->unit_mass, length), 2.0);
    }
    return tension;
}

/* Error of the note fretted at `fret`, the string tuned open, two straight pieces over
 * the fret, the strain raising tension and thinning the string. */
static double full_error_cents(const wire *w, double length, int fret) {
    const double a = w->scale * (1.0 - exp2(-fret / 12.0));
    const double open_tension = tuned_tension(w, length);
    const double sounding = hypot(length - a, w->height);
    const double strain = (hypot(a, w->height) + sounding - length) / length;
    const double tension = open_tension + w->modulus * w->area * strain;
    const double hz = sounding_hz(w, tension, w->unit_mass / (1.0 + strain), sounding);
    return 1200.0 * log2(hz / w->open_hz) - 100.0 * fret;
}

static void test_full_string_model_is_as_worked(void **state) {
    (void)state;
    const wire w = plain_g();
    /* The same model at 30 digits elsewhere. */
    assert_within(full_error_cents(&w, 0.6477, 12), 10.0254178, 2e-7);
    assert_within(full_error_cents(&w, 0.6497, 12), 4.58188013, 2e-7);
    assert_within(full_error_cents(&w, 0.6477 + 0.00369809816, 12), 0.0, 1e-7);
}

/* A string measured, its saddle moved by core's answer, retuned and measured again. */
static void test_the_move_cures_a_full_string(void **state) {
    (void)state;
    const wire w = plain_g();
    const double starts_mm[] = {647.7, 649.7, 653.0};
    const double remaining_cents[] = {0.0008, 0.0004, 0.0004};
    for (size_t i = 0; i < 3; i++) {
        const double error = full_error_cents(&w, starts_mm[i] / 1000.0, 12);
        const sb_move move = move_for(647.7, starts_mm[i], 12, error);
        const double after = full_error_cents(&w, (starts_mm[i] + move.move_mm) / 1000.0, 12);
        const double by_rule =
            full_error_cents(&w, (starts_mm[i] + move.rule_of_thumb_mm) / 1000.0, 12);
        assert_within(after, 0.0, remaining_cents[i]);
        assert_true(fabs(by_rule) > 10.0 * fabs(after)); /* what the calculus is for */
    }
}

/* The full string as judge of the derivative: one move of a tenth of a millimetre. */
static void test_cents_per_mm_is_what_a_string_does(void **state) {
    (void)state;
    const wire w = plain_g();
    for (int fret = 5; fret <= 19; fret += 2) {
        const double error = full_error_cents(&w, 0.6477, fret);
        const double lower = full_error_cents(&w, 0.6477 - 0.00005, fret);
        const double upper = full_error_cents(&w, 0.6477 + 0.00005, fret);
        const sb_move move = move_for(647.7, 0.0, fret, error);
        assert_within(move.cents_per_mm, (lower - upper) / 0.1, 3e-3 * move.cents_per_mm);
    }
}

/* --- properties ------------------------------------------------------------------------ */

static sb_geometry random_geometry(prng *rng) {
    const double scale = prng_uniform(rng, 300.0, 900.0);
    return (sb_geometry){scale, scale + prng_uniform(rng, -2.0, 8.0),
                         (int)prng_uniform(rng, 5.0, 25.0)};
}

static void test_the_move_undoes_the_error(void **state) {
    (void)state;
    prng rng = prng_seeded(4);
    for (int i = 0; i < 20000; i++) {
        const sb_geometry geometry = random_geometry(&rng);
        const double error = prng_uniform(&rng, -30.0, 60.0);
        sb_move move = {0};
        double after = 1.0;
        assert_int_equal(sb_saddle_move(&geometry, error, 0.1, &move), SB_OK);
        assert_int_equal(sb_saddle_error_after(&geometry, error, move.move_mm, &after), SB_OK);
        assert_within(after, 0.0, 1e-9);
        assert_true(error > 0.0 ? move.move_mm > 0.0 : move.move_mm < 0.0);
        assert_true(move.std_error_mm > 0.0 && move.cents_per_mm > 0.0);
    }
}

/* Moving part of the way and measuring again must ask for the rest of the way. */
static void test_moves_add_up(void **state) {
    (void)state;
    prng rng = prng_seeded(5);
    for (int i = 0; i < 5000; i++) {
        const sb_geometry geometry = random_geometry(&rng);
        sb_geometry moved = geometry;
        sb_move whole = {0}, rest = {0};
        double error = prng_uniform(&rng, -25.0, 25.0), between = 0.0;
        assert_int_equal(sb_saddle_move(&geometry, error, 0.1, &whole), SB_OK);
        const double part = prng_uniform(&rng, -0.2, 1.2) * whole.move_mm;
        assert_int_equal(sb_saddle_error_after(&geometry, error, part, &between), SB_OK);
        moved.speaking_mm += part;
        assert_int_equal(sb_saddle_move(&moved, between, 0.1, &rest), SB_OK);
        assert_within(part + rest.move_mm, whole.move_mm, 1e-8);
    }
}

static void test_no_error_no_move(void **state) {
    (void)state;
    prng rng = prng_seeded(6);
    for (int i = 0; i < 1000; i++) {
        const sb_geometry geometry = random_geometry(&rng);
        sb_move move = {0};
        double after = 1.0;
        assert_int_equal(sb_saddle_move(&geometry, 0.0, 0.0, &move), SB_OK);
        assert_within(move.move_mm, 0.0, 0.0);
        assert_within(move.std_error_mm, 0.0, 0.0);
        assert_within(move.rule_of_thumb_mm, 0.0, 0.0);
        assert_int_equal(sb_saddle_error_after(&geometry, 3.7, 0.0, &after), SB_OK);
        assert_within(after, 3.7, 1e-12);
    }
}

static void test_speaking_length_defaults_to_scale(void **state) {
    (void)state;
    const sb_move given = move_for(647.7, 647.7, 12, 7.0);
    const sb_move taken = move_for(647.7, 0.0, 12, 7.0);
    assert_within(given.move_mm, taken.move_mm, 0.0);
}

static void test_large_errors(void **state) {
    (void)state;
    const double errors[] = {-SB_MAX_ERROR_CENTS, -60.0, 60.0, SB_MAX_ERROR_CENTS};
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        const sb_geometry geometry = {647.7, 0.0, 12};
        sb_move move = {0};
        double after = 1.0;
        assert_int_equal(sb_saddle_move(&geometry, errors[i], 0.1, &move), SB_OK);
        assert_int_equal(sb_saddle_error_after(&geometry, errors[i], move.move_mm, &after), SB_OK);
        assert_within(after, 0.0, 1e-9);
    }
}

static void test_refused_geometry(void **state) {
    (void)state;
    const sb_geometry bad[] = {
        {99.9, 0.0, 12},          {2000.1, 0.0, 12},
        {0.0, 0.0, 12},           {-647.7, 0.0, 12},
        {(double)NAN, 0.0, 12},   {(double)INFINITY, 0.0, 12},
        {647.7, 0.0, 0},          {647.7, 0.0, 37},
        {647.7, 0.0, -3},         {647.7, 323.85, 12},
        {647.7, 100.0, 12},       {647.7, -647.7, 12},
        {647.7, (double)NAN, 12}, {647.7, (double)INFINITY, 12},
        {647.7, 1295.5, 12},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        sb_move move = {.move_mm = 77.0};
        double after = 77.0;
        assert_int_equal(sb_saddle_move(&bad[i], 5.0, 0.1, &move), SB_E_RANGE);
        assert_int_equal(sb_saddle_error_after(&bad[i], 5.0, 0.1, &after), SB_E_RANGE);
        assert_within(move.move_mm, 77.0, 0.0);
        assert_within(after, 77.0, 0.0);
    }
}

static void test_refused_errors(void **state) {
    (void)state;
    const sb_geometry geometry = {647.7, 0.0, 12};
    const double bad[][2] = {
        {(double)NAN, 0.1}, {(double)INFINITY, 0.1}, {100.001, 0.1},         {-100.001, 0.1},
        {5.0, -0.1},        {5.0, (double)NAN},      {5.0, (double)INFINITY}};
    sb_move move = {.move_mm = 77.0};
    double after = 77.0;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(sb_saddle_move(&geometry, bad[i][0], bad[i][1], &move), SB_E_RANGE);
    }
    assert_int_equal(sb_saddle_error_after(&geometry, 5.0, -323.85, &after), SB_E_RANGE);
    assert_int_equal(sb_saddle_error_after(&geometry, 5.0, -400.0, &after), SB_E_RANGE);
    assert_int_equal(sb_saddle_error_after(&geometry, 5.0, (double)NAN, &after), SB_E_RANGE);
    assert_within(move.move_mm, 77.0, 0.0);
    assert_within(after, 77.0, 0.0);
}

/* At the first fret a flat note leaves nothing for a saddle to cure: no answer, not any. */
static void test_no_saddle_cures_a_flat_first_fret(void **state) {
    (void)state;
    const sb_geometry geometry = {647.7, 0.0, 1};
    sb_move move = {.move_mm = 77.0};
    assert_int_equal(sb_saddle_move(&geometry, -60.0, 0.1, &move), SB_E_RANGE);
    assert_int_equal(sb_saddle_move(&geometry, -20.0, 0.1, &move), SB_E_RANGE);
    assert_within(move.move_mm, 77.0, 0.0);
}

/* Whatever the input, an answer is a number, short of the fret, and undoes the error. */
static void test_any_answer_is_a_good_one(void **state) {
    (void)state;
    prng rng = prng_seeded(7);
    size_t answers = 0;
    for (int i = 0; i < 20000; i++) {
        const double scale = prng_uniform(&rng, 100.0, 2000.0);
        const sb_geometry geometry = {scale, scale * prng_uniform(&rng, 0.1, 2.0),
                                      (int)prng_uniform(&rng, 1.0, 37.0)};
        const double error = prng_uniform(&rng, -100.0, 100.0);
        sb_move move = {0};
        double after = 1.0;
        if (sb_saddle_move(&geometry, error, 1.0, &move) == SB_OK) {
            assert_int_equal(sb_saddle_error_after(&geometry, error, move.move_mm, &after), SB_OK);
            assert_within(after, 0.0, 1e-8);
            assert_true(move.std_error_mm > 0.0 && isfinite(move.std_error_mm));
            assert_true(fabs(move.move_mm) < 2.0 * scale);
            answers++;
        }
    }
    assert_true(answers > 5000);
}

/* Equal-temperament places from the nut, S (1 - 2^(-n/12)) (Byers, American Lutherie 47,
 * 1996, gives the rule); figures at 30 digits. */
static void test_fret_places(void **state) {
    (void)state;
    const struct {
        double scale_mm;
        int fret;
        double mm;
    } rows[] = {
        {647.7, 1, 36.3526076761},  {647.7, 5, 162.473253153}, {647.7, 12, 323.85},
        {647.7, 19, 431.556056614}, {647.7, 24, 485.775},      {628.65, 1, 35.2834133327},
        {628.65, 7, 209.076462838}, {628.65, 12, 314.325},     {650.0, 5, 163.050200015},
        {650.0, 19, 433.088523697}, {650.0, 24, 487.5},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_within(sb_fret_position_mm(rows[i].scale_mm, rows[i].fret), rows[i].mm, 6e-10);
    }
    assert_within(sb_fret_position_mm(647.7, 0), 0.0, 0.0);
}

static void test_verdicts(void **state) {
    (void)state;
    const struct {
        double error, std_error, tolerance;
        sb_verdict verdict;
    } rows[] = {
        {0.0, 0.0, 1.0, SB_VERDICT_LEAVE},
        {1.0, 0.1, 1.0, SB_VERDICT_LEAVE},
        {-1.0, 0.1, 1.0, SB_VERDICT_LEAVE},
        {1.001, 0.1, 1.0, SB_VERDICT_MOVE},
        {-1.001, 0.1, 1.0, SB_VERDICT_MOVE},
        {4.0, 4.0, 1.0, SB_VERDICT_LEAVE},
        {-4.0, 4.5, 1.0, SB_VERDICT_LEAVE},
        {4.0, 3.9, 1.0, SB_VERDICT_MOVE},
        {2.0, 0.1, 3.0, SB_VERDICT_LEAVE},
        {2.0, 0.1, 0.0, SB_VERDICT_MOVE},
        {100.0, 5.0, 1.0, SB_VERDICT_MOVE},
        {100.1, 0.1, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {-100.1, 0.1, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {0.0, 5.1, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {0.0, (double)NAN, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {0.0, (double)INFINITY, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {(double)NAN, 0.1, 1.0, SB_VERDICT_MEASURE_AGAIN},
        {(double)INFINITY, 0.1, 1.0, SB_VERDICT_MEASURE_AGAIN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(sb_verdict_for(rows[i].error, rows[i].std_error, rows[i].tolerance),
                         rows[i].verdict);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_moves_at_the_octave),
        cmocka_unit_test(test_worked_moves_with_derivatives),
        cmocka_unit_test(test_full_string_model_is_as_worked),
        cmocka_unit_test(test_the_move_cures_a_full_string),
        cmocka_unit_test(test_cents_per_mm_is_what_a_string_does),
        cmocka_unit_test(test_the_move_undoes_the_error),
        cmocka_unit_test(test_moves_add_up),
        cmocka_unit_test(test_no_error_no_move),
        cmocka_unit_test(test_speaking_length_defaults_to_scale),
        cmocka_unit_test(test_large_errors),
        cmocka_unit_test(test_refused_geometry),
        cmocka_unit_test(test_refused_errors),
        cmocka_unit_test(test_no_saddle_cures_a_flat_first_fret),
        cmocka_unit_test(test_any_answer_is_a_good_one),
        cmocka_unit_test(test_fret_places),
        cmocka_unit_test(test_verdicts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
