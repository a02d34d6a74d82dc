/* How far a set-up has come: scenes at an invented bench. Places of shared saddles by the
 * closed forms for two strings (the midpoint), moves by bisection of the retuned calculus. */
#include <math.h>
#include <string.h>

#include "core/progress.h"
#include "tests/support/within.h"

static sb_progress *bench_of(const char *saddles) {
    static sb_progress p;
    sb_instrument it;
    sb_progress_options options = sb_progress_default();
    sb_kind_instrument(sb_kind_named("electric"), &it);
    const sb_saddle like = it.saddles[0];
    sb_saddle read[SB_STRINGS_MAX];
    assert_int_equal(sb_saddles_parse(saddles, 6, read, &it.n_saddles), SB_OK);
    for (size_t i = 0; i < it.n_saddles; i++) {
        it.saddles[i] = like;
        it.saddles[i].first = read[i].first;
        it.saddles[i].last = read[i].last;
    }
    sb_progress_begin(&p, &it, &options);
    sb_progress_judge(&p);
    return &p;
}

static void measured(sb_progress *p, size_t string, double cents) {
    sb_progress_read(p, string, (sb_error_reading){cents, 0.1}, true);
    sb_progress_judge(p);
}

static void moved(sb_progress *p, size_t string, double mm) {
    sb_progress_move(p, string, mm, mm, SB_HAND_MM);
    sb_progress_judge(p);
}

static void changed(sb_progress *p, size_t string, sb_change change) {
    sb_progress_change(p, string, change);
    sb_progress_judge(p);
}

#define assert_state(p, string, wanted)                                                            \
    assert_string_equal(sb_string_state_text((p)->strings[(string)-1].state), wanted)

static void test_a_string_alone(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    assert_state(p, 6, "not yet");
    measured(p, 6, 4.6);
    assert_state(p, 6, "move due");
    assert_within(p->saddles[5].move_mm, 1.7096823095543527, 1e-6);
    moved(p, 6, 1.7);
    assert_state(p, 6, "moved");
    measured(p, 6, 0.2);
    assert_state(p, 6, "true");
    assert_state(p, 5, "not yet");
    measured(p, 5, 0.4);
    assert_state(p, 5, "true");
}

static void test_an_unsaid_move_is_seen(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    measured(p, 6, 4.6);
    measured(p, 6, 0.2);
    assert_state(p, 6, "true");
    assert_within(p->saddles[5].moved_mm, 1.635064438836082, 1e-6);
}

static void test_before_is_the_first_round_whole(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    measured(p, 6, 4.6);
    sb_progress_read(p, 6, (sb_error_reading){4.4, 0.05}, false);
    assert_within(p->strings[5].first.cents, 4.4, 0);
    assert_true(p->strings[5].first_round);
    moved(p, 6, 1.6);
    measured(p, 6, 0.3);
    sb_progress_read(p, 6, (sb_error_reading){0.2, 0.05}, false);
    assert_within(p->strings[5].first.cents, 4.4, 0);
    assert_false(p->strings[5].first_round);
}

static void test_moves_count_from_the_visit(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    changed(p, 0, SB_CHANGE_VISIT);
    measured(p, 6, 4.6);
    moved(p, 6, 1.0);
    moved(p, 6, 0.5);
    assert_within(p->saddles[5].visit_mm, 1.5, 1e-12);
    sb_progress_leave(p);
    assert_within(p->saddles[5].visit_mm, 1.5, 1e-12);
    changed(p, 0, SB_CHANGE_VISIT);
    assert_within(p->saddles[5].visit_mm, 0, 0);
    assert_within(p->saddles[5].moved_mm, 1.5, 1e-12);
}

/* 2 and 6 cents need 0.7461 and 2.2256 mm by bisection; the middle of them is 1.4859. */
static void test_two_strings_on_a_saddle(void **state) {
    (void)state;
    sb_progress *p = bench_of("pairs");
    measured(p, 5, 2.0);
    assert_state(p, 5, "measured");
    assert_false(p->saddles[2].ready);
    measured(p, 6, 6.0);
    assert_true(p->saddles[2].ready);
    assert_state(p, 5, "move due");
    assert_state(p, 6, "move due");
    assert_within(p->saddles[2].move_mm, 1.4858538, 0.005);
    assert_within(p->saddles[2].remaining_cents[0], -p->saddles[2].remaining_cents[1], 1e-9);
    assert_within(p->saddles[2].remaining_cents[1], 1.98, 0.02);
    moved(p, 6, p->saddles[2].move_mm);
    assert_state(p, 5, "moved");
    measured(p, 5, -1.9);
    measured(p, 6, 2.0);
    assert_state(p, 5, "compromise");
    assert_state(p, 6, "compromise");
    assert_false(p->saddles[2].due);
}

static void test_an_unsaid_move_of_a_shared_saddle(void **state) {
    (void)state;
    sb_progress *p = bench_of("pairs");
    measured(p, 5, 2.0);
    measured(p, 6, 6.0);
    measured(p, 6, 2.0);
    assert_state(p, 6, "measured");
    assert_state(p, 5, "moved");
    measured(p, 5, -2.0);
    assert_int_equal(p->strings[4].learner.stray, SB_STRAY_NONE);
    assert_state(p, 5, "compromise");
    assert_state(p, 6, "compromise");
}

static void test_later_changes_spoil_readings(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    measured(p, 6, 0.2);
    measured(p, 5, 4.0);
    changed(p, 5, SB_CHANGE_STRINGS);
    assert_state(p, 5, "stale");
    assert_state(p, 6, "true");
    assert_state(p, 4, "not yet");
    changed(p, 0, SB_CHANGE_RELIEF);
    assert_state(p, 6, "stale");
    assert_int_equal(p->strings[5].spoiled_by, SB_CHANGE_RELIEF);
    assert_int_equal(p->strings[4].spoiled_by, SB_CHANGE_STRINGS);
    assert_true(p->seen[SB_CHANGE_RELIEF]);
    measured(p, 6, 0.4);
    assert_state(p, 6, "true");
    assert_within(p->strings[5].first.cents, 0.2, 0);
    changed(p, 0, SB_CHANGE_VISIT);
    assert_state(p, 6, "stale");
    measured(p, 6, 1.5);
    assert_within(p->strings[5].first.cents, 1.5, 0);
}

/* A move that came with a stale reading does not make it good. */
static void test_a_stale_string_stays_stale_when_moved(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    measured(p, 6, 4.6);
    changed(p, 0, SB_CHANGE_ACTION);
    moved(p, 6, 1.7);
    assert_state(p, 6, "stale");
    measured(p, 6, 0.0);
    assert_state(p, 6, "true");
}

static void test_a_new_description(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    for (size_t i = 1; i <= 6; i++)
        measured(p, i, 0.1);
    sb_instrument it = p->instrument;
    it.strings[5].semitone -= 2;
    it.strings[0].gauge_mm = 0.2286;
    it.saddles[2].thread_mm = 0.5;
    sb_progress_describe(p, &it);
    sb_progress_judge(p);
    assert_state(p, 6, "stale");
    assert_int_equal(p->strings[5].spoiled_by, SB_CHANGE_TUNING);
    assert_state(p, 1, "stale");
    assert_int_equal(p->strings[0].spoiled_by, SB_CHANGE_STRINGS);
    assert_state(p, 3, "true");
    it.n_strings = it.n_saddles = 5;
    sb_progress_describe(p, &it);
    sb_progress_judge(p);
    assert_state(p, 3, "not yet");
}

static void test_travel_runs_out(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    sb_instrument it = p->instrument;
    for (size_t i = 0; i < 6; i++)
        it.saddles[i].limited = true, it.saddles[i].back_mm = 2, it.saddles[i].forward_mm = 0.1;
    sb_progress_describe(p, &it);
    measured(p, 6, 8.0); /* wants 2.96 mm */
    assert_state(p, 6, "move due");
    assert_within(p->saddles[5].move_mm, 2.0, 1e-9);
    assert_true(p->saddles[5].at_limit);
    assert_within(p->saddles[5].remaining_cents[0], 2.55, 0.05);
    moved(p, 6, 2.0);
    measured(p, 6, 2.6);
    assert_state(p, 6, "out of travel");
    assert_within(p->saddles[5].move_mm, 0, 1e-9);
    measured(p, 5, -3.0);
    assert_state(p, 5, "out of travel");
}

static void test_a_fixed_saddle(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    sb_instrument it = p->instrument;
    for (size_t i = 0; i < 6; i++)
        it.saddles[i].way = SB_WAY_FIXED;
    sb_progress_describe(p, &it);
    measured(p, 6, 8.0);
    assert_state(p, 6, "out of travel");
    assert_within(p->strings[5].plan.move_mm, 2.96, 0.02);
    measured(p, 5, 0.2);
    assert_state(p, 5, "true");
}

static void test_what_comes_next(void **state) {
    (void)state;
    sb_progress *p = bench_of("each");
    assert_int_equal(sb_progress_next(p, 0), 1);
    assert_int_equal(sb_progress_next(p, 6), 1);
    for (size_t i = 1; i <= 6; i++)
        measured(p, i, 0.1);
    assert_int_equal(sb_progress_next(p, 3), 0);
    changed(p, 2, SB_CHANGE_NUT);
    assert_int_equal(sb_progress_next(p, 3), 2);
}

static void test_words_round_trip(void **state) {
    (void)state;
    for (int i = 0; i < SB_CHANGES; i++) {
        sb_change change = SB_CHANGES;
        assert_true(sb_change_named(sb_change_text((sb_change)i), &change));
        assert_int_equal(change, i);
    }
    sb_change change;
    assert_false(sb_change_named("weather", &change));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_string_alone),
        cmocka_unit_test(test_an_unsaid_move_is_seen),
        cmocka_unit_test(test_before_is_the_first_round_whole),
        cmocka_unit_test(test_moves_count_from_the_visit),
        cmocka_unit_test(test_two_strings_on_a_saddle),
        cmocka_unit_test(test_an_unsaid_move_of_a_shared_saddle),
        cmocka_unit_test(test_later_changes_spoil_readings),
        cmocka_unit_test(test_a_stale_string_stays_stale_when_moved),
        cmocka_unit_test(test_a_new_description),
        cmocka_unit_test(test_travel_runs_out),
        cmocka_unit_test(test_a_fixed_saddle),
        cmocka_unit_test(test_what_comes_next),
        cmocka_unit_test(test_words_round_trip),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
