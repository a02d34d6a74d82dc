/* The program's planning against simulated instruments, by numbers: bounds that hold with a
 * wide margin for these seeds. tests/bench/bench_rounds.c has the figures. */
#include <math.h>
#include <string.h>

#include "tests/support/rounds.h"
#include "tests/support/within.h"

static rounds_result all_kinds(const rounds_setting *setting, bool single) {
    rounds_result out = {0};
    for (int kind = 0; kind < SPECIMEN_KINDS; kind++) {
        if (specimen_is_single((specimen_kind)kind) == single)
            rounds_run(setting, (specimen_kind)kind, &out);
    }
    return out;
}

static rounds_setting usual(rounds_planner planner) {
    return (rounds_setting){
        .planner = planner, .hands = hands_usual(0), .plucks = 3, .seed = 500, .instruments = 15};
}

static double share(size_t part, size_t whole) {
    return (double)part / (double)whole;
}

/* Hands within 0.1 mm, plucks within 0.3 cents: what no planner can beat is 99 % after one
 * move (see the bench). */
static void test_strings_come_true(void **state) {
    (void)state;
    const rounds_setting setting = usual(ROUNDS_PROGRAM);
    const rounds_result r = all_kinds(&setting, true);
    assert_int_equal(r.strings, 15 * 16);
    assert_true(share(r.true_after[0], r.strings) < 0.2);
    assert_true(share(r.true_after[1], r.strings) >= 0.94);
    assert_true(share(r.true_after[2], r.strings) >= 0.97);
    assert_true(share(r.moves, r.strings) < 1.3);
    assert_true(r.worst_cents < 2.0);
}

/* With the rule of thumb, which follows every cent that it reads, it takes more moves. */
static void test_fewer_moves_than_by_rule(void **state) {
    (void)state;
    const rounds_setting program = usual(ROUNDS_PROGRAM), rule = usual(ROUNDS_RULE);
    const rounds_result p = all_kinds(&program, true), r = all_kinds(&rule, true);
    assert_true((double)p.moves < 0.85 * (double)r.moves);
    assert_true(p.notes < r.notes);
    assert_true(p.true_after[1] >= r.true_after[1]);
}

/* Without any error of hand or ear one move is enough: what is left is what the calculus does
 * not know of the instrument. */
static void test_exact_hands_need_one_move(void **state) {
    (void)state;
    rounds_setting setting = usual(ROUNDS_PROGRAM);
    setting.hands = hands_exact();
    const rounds_result r = all_kinds(&setting, true);
    assert_int_equal(r.true_after[1], r.strings);
    assert_true(r.moves <= r.strings);
}

/* Screws that move their saddle 0.8 of what their thread says: seen, and made good for. */
static void test_a_screw_that_is_not_as_told(void **state) {
    (void)state;
    rounds_setting setting = usual(ROUNDS_PROGRAM);
    setting.hands.move_ratio = 0.8;
    const rounds_result r = all_kinds(&setting, true);
    assert_true(share(r.true_after[1], r.strings) < 0.7);
    assert_true(share(r.true_after[ROUNDS_MOST], r.strings) >= 0.85);
}

/* Where strings share a saddle it comes near to the best place, found by trying. */
static void test_shared_saddles_come_near_the_best(void **state) {
    (void)state;
    rounds_setting setting = usual(ROUNDS_PROGRAM);
    setting.instruments = 6;
    const rounds_result r = all_kinds(&setting, false);
    assert_int_equal(r.saddles, 6 * 7);
    assert_true(r.beyond[0] > 3.0 * (double)r.saddles);
    assert_true(r.beyond[2] < 0.45 * (double)r.saddles);
    assert_true(r.most_beyond[ROUNDS_MOST] < 1.6);
    assert_true(share(r.moves, r.saddles) < 1.6);
}

/* With exact hands and ears, moved again till nothing changes, the calculus ends at the best
 * place but for what the first order of core/compromise.h leaves. */
static void test_exact_hands_find_the_best_place(void **state) {
    (void)state;
    rounds_setting setting = usual(ROUNDS_CALCULUS);
    setting.instruments = 6;
    setting.hands = hands_exact();
    const rounds_result r = all_kinds(&setting, false);
    assert_true(r.most_beyond[1] < 0.6);
    assert_true(r.most_beyond[2] < 0.08);
    assert_true(share(r.near[2], r.saddles) >= 0.9);
}

static void test_the_same_seed_gives_the_same(void **state) {
    (void)state;
    rounds_setting setting = usual(ROUNDS_PROGRAM);
    setting.instruments = 2;
    rounds_result a = {0}, b = {0}, c = {0};
    rounds_run(&setting, SPECIMEN_ELECTRIC, &a);
    rounds_run(&setting, SPECIMEN_ELECTRIC, &b);
    setting.seed++;
    rounds_run(&setting, SPECIMEN_ELECTRIC, &c);
    assert_within(a.squares, b.squares, 0.0);
    assert_int_equal(a.moves, b.moves);
    assert_true(fabs(a.squares - c.squares) > 1e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_strings_come_true),
        cmocka_unit_test(test_fewer_moves_than_by_rule),
        cmocka_unit_test(test_exact_hands_need_one_move),
        cmocka_unit_test(test_a_screw_that_is_not_as_told),
        cmocka_unit_test(test_shared_saddles_come_near_the_best),
        cmocka_unit_test(test_exact_hands_find_the_best_place),
        cmocka_unit_test(test_the_same_seed_gives_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
