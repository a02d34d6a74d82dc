/* The simulated instrument and the hands at it: that they do what they claim. */
#include <math.h>

#include "tests/support/hands.h"
#include "tests/support/specimen.h"
#include "tests/support/within.h"

static specimen any(specimen_kind kind, uint64_t seed) {
    prng rng = prng_seeded(seed);
    return specimen_random(kind, &rng);
}

/* --- saddles --------------------------------------------------------------------------------- */

/* A screw with 0.2 mm of play: turned back and forth the saddle lags half of it behind. */
static void test_play(void **state) {
    (void)state;
    specimen f = any(SPECIMEN_ELECTRIC, 1);
    saddle_end *e = &f.saddles[2].ends[0];
    e->play_mm = 0.2;
    e->screw_mm = e->place_mm = 0.0;
    const double turns[] = {0.05, 1.0, -0.1, -0.1, -0.5, 0.3};
    const double places[] = {0.0, 0.95, 0.95, 0.95, 0.45, 0.55};
    for (size_t i = 0; i < 6; i++) {
        specimen_move(&f, 2, 0, turns[i]);
        assert_within(e->place_mm, places[i], 1e-12);
        assert_within(f.strings[2].saddle.x_mm, f.origin_mm[2] + places[i], 1e-12);
    }
}

/* A bar on two screws: the strings between get their share. */
static void test_slanting_bar(void **state) {
    (void)state;
    specimen f = any(SPECIMEN_BAR, 2);
    double before[SPECIMEN_STRINGS];
    for (size_t end = 0; end < 2; end++)
        f.saddles[0].ends[end].play_mm = 0.0;
    for (size_t i = 0; i < 6; i++)
        before[i] = f.strings[i].saddle.x_mm;
    specimen_move(&f, 0, 1, 1.36);
    const double width = 5 * f.spacing_mm + 16.0; /* screws 8 mm outside the strings */
    for (size_t i = 0; i < 6; i++)
        assert_within(f.strings[i].saddle.x_mm - before[i],
                      1.36 * (8.0 + (double)i * f.spacing_mm) / width, 0.16);
}

static void test_every_kind_is_sound(void **state) {
    (void)state;
    for (int kind = 0; kind < SPECIMEN_KINDS; kind++) {
        for (uint64_t seed = 0; seed < 20; seed++) {
            const specimen f = any((specimen_kind)kind, 50 + seed);
            size_t carried = 0;
            for (size_t k = 0; k < f.n_saddles; k++) {
                assert_int_equal(f.saddles[k].first, carried);
                carried += f.saddles[k].count;
            }
            assert_int_equal(carried, f.n_strings);
            for (size_t i = 0; i < f.n_strings; i++) {
                assert_within(strung_hz(&f.strings[i], 0, 1) / f.open_hz[i], 1.0, 1e-9);
                const double tension = strung_tension_n(&f.strings[i], 0);
                assert_true(tension > 40.0 && tension < 250.0);
                assert_true(fabs(specimen_error_cents(&f, i)) < 40.0);
                assert_within(specimen_error_cents(&f, i), strung_error_cents(&f.strings[i], 12),
                              1e-9);
            }
        }
    }
}

/* Two strings on a flat saddle: the largest error is least where both are as large, one
 * sharp, one flat. */
static void test_best_place_of_a_pair(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 10; seed++) {
        const specimen f = any(SPECIMEN_PAIRS, 80 + seed);
        double place[2];
        const double best = specimen_best_places(&f, 1, place);
        assert_within(specimen_error_at(&f, 2, place), -specimen_error_at(&f, 3, place), 1e-3);
        assert_within(fabs(specimen_error_at(&f, 2, place)), best, 1e-3);
    }
}

/* Six on a bar: three of the errors are as large as the largest, with signs in turn (Chebyshev;
 * the errors fall all but linearly with both places). */
static void test_best_places_of_a_bar(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 4; seed++) {
        const specimen f = any(SPECIMEN_BAR, 90 + seed);
        double places[2], last = 0.0;
        const double best = specimen_best_places(&f, 0, places);
        int in_turn = 0;
        for (size_t i = 0; i < 6; i++) {
            const double error = specimen_error_at(&f, i, places);
            if (fabs(error) > best - 0.01) {
                in_turn += error * last <= 0.0 ? 1 : 0;
                last = error;
            }
        }
        assert_true(in_turn >= 3);
    }
}

/* --- hands --------------------------------------------------------------------------------------
 */

/* Means and standard deviations over many tries are those that were set. */
static void test_hands_err_as_told(void **state) {
    (void)state;
    enum { TRIES = 4000 };
    hands h = hands_usual(3);
    const specimen f = any(SPECIMEN_ELECTRIC, 4);
    double pluck = 0.0, pluck2 = 0.0, move = 0.0, move2 = 0.0;
    for (int i = 0; i < TRIES; i++) {
        hands_note notes[2];
        hands_pluck(&h, &f, 0, 1, notes);
        const double cents = 1200.0 * log2(notes[1].hz / notes[0].hz) - 1200.0;
        const double off = cents - strung_error_cents(&f.strings[0], 12);
        pluck += off / TRIES;
        pluck2 += off * off / TRIES;
        specimen g = f;
        g.saddles[0].ends[0].play_mm = 0.0;
        g.saddles[0].ends[0].screw_mm = g.saddles[0].ends[0].place_mm = 0.0;
        const double missed = hands_move(&h, &g, 0, 0, 1.0) - g.saddles[0].ends[0].place_mm;
        move += missed / TRIES;
        move2 += missed * missed / TRIES;
    }
    assert_within(pluck, 0.0, 0.03);
    assert_within(sqrt(pluck2), 0.3 * sqrt(2.0), 0.02);
    assert_within(move, 0.0, 0.006);
    assert_within(sqrt(move2), 0.1, 0.005);
}

/* What the repairer believes: whole eighths of a turn of 4-40, tenths of a millimetre. */
static void test_hands_move_in_steps(void **state) {
    (void)state;
    hands h = hands_usual(5);
    specimen f = any(SPECIMEN_ELECTRIC, 6), n = any(SPECIMEN_NYLON_FLAT, 6);
    assert_within(hands_move(&h, &f, 0, 0, 1.0), 13.0 * 0.635 / 8.0, 1e-12);
    assert_within(hands_move(&h, &f, 0, 0, -0.03), 0.0, 0.0);
    assert_within(hands_move(&h, &n, 0, 0, -1.26), -1.3, 1e-12);
    h.move_mm = 0.0;
    assert_within(hands_move(&h, &n, 0, 0, 0.0123), 0.0123, 0.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_play),
        cmocka_unit_test(test_slanting_bar),
        cmocka_unit_test(test_every_kind_is_sound),
        cmocka_unit_test(test_best_place_of_a_pair),
        cmocka_unit_test(test_best_places_of_a_bar),
        cmocka_unit_test(test_hands_err_as_told),
        cmocka_unit_test(test_hands_move_in_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
