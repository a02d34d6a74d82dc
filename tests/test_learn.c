/* What moves teach: expected values from normal equations over all readings at once, solved
 * outside this project (plain Python, three unknowns: error before, gain, slip of the hand),
 * with d(m) by bisection of the retuned calculus; and closed forms of a pooled mean. */
#include <math.h>

#include "core/learn.h"
#include "core/settle.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

static sb_learner learner_of(double scale_mm) {
    const sb_geometry geometry = {.scale_mm = scale_mm, .fret = 12};
    sb_learner l;
    sb_learner_begin(&l, &geometry);
    return l;
}

static void read_fresh(sb_learner *l, double cents, double std_error) {
    sb_learner_read(l, (sb_error_reading){cents, std_error}, true);
}

static void test_nothing_is_known_at_first(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    const sb_plan plan = sb_learner_plan(&l, 1.0);
    assert_int_equal(plan.kind, SB_PLAN_UNKNOWN);
    assert_within(plan.move_mm, 0, 0);
    assert_true(isnan(sb_learner_error_after(&l, 1.0)));
}

/* The first move is the calculus alone: roots by bisection of the retuned form. */
static void test_first_plan_is_the_calculus(void **state) {
    (void)state;
    const double worked[][2] = {
        {4.6, 1.7096823095543527}, {12, 4.414037325450693}, {-5, -1.884314499092568}};
    for (size_t i = 0; i < 3; i++) {
        sb_learner l = learner_of(647.7);
        read_fresh(&l, worked[i][0], 0.1);
        const sb_plan plan = sb_learner_plan(&l, 1.0);
        assert_int_equal(plan.kind, SB_PLAN_MOVE);
        assert_within(plan.move_mm, worked[i][1], 1e-9);
    }
}

/* 12 +- 0.2 cents, a move of 4.4 mm entered to 0.1 mm, then 0.9 +- 0.2: the gain falls to
 * 0.9496 +- 0.0274, the error is 0.8326 +- 0.1920, the next move 0.3255 mm. */
static void test_a_move_teaches_the_gain(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 12.0, 0.2);
    sb_learner_move(&l, 4.4, 0.1);
    assert_int_equal(sb_learner_plan(&l, 1.0).kind, SB_PLAN_UNKNOWN);
    read_fresh(&l, 0.9, 0.2);
    assert_int_equal(l.stray, SB_STRAY_NONE);
    assert_within(l.now.gain, 0.9496032068785691, 1e-9);
    assert_within(sqrt(l.now.gain_var), 0.02742336077586809, 1e-9);
    assert_within(l.now.error_cents, 0.8325921169487482, 1e-9);
    assert_within(sqrt(l.now.error_var), 0.19202307978163421, 1e-9);
    assert_within(sb_learner_plan(&l, 0.2).move_mm, 0.3255188047837123, 1e-6);
    assert_within(l.answered, (12.0 - 0.9) / 11.96223132137004, 1e-9);
}

/* Inverse-variance mean of 4.6 +- 0.3 and 4.2 +- 0.2. */
static void test_rounds_without_a_move_are_pooled(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 4.6, 0.3);
    read_fresh(&l, 4.2, 0.2);
    assert_within(l.now.error_cents, 4.323076923076923, 1e-12);
    assert_within(sqrt(l.now.error_var), 0.16641005886756874, 1e-12);
}

static void test_later_readings_of_a_round_replace_it(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7), once = learner_of(647.7);
    read_fresh(&l, 12.0, 0.2);
    sb_learner_move(&l, 4.4, 0.1);
    once = l;
    read_fresh(&l, 1.6, 0.4);
    sb_learner_read(&l, (sb_error_reading){0.7, 0.3}, false);
    sb_learner_read(&l, (sb_error_reading){0.9, 0.2}, false);
    read_fresh(&once, 0.9, 0.2);
    assert_within(l.now.gain, once.now.gain, 0);
    assert_within(l.now.error_cents, once.now.error_cents, 0);
    assert_within(l.now.error_var, once.now.error_var, 0);
    assert_int_equal(l.moves, 1);
}

/* 4.6 was asked to be moved by 1.71 mm and reads 0.2: by bisection 1.6351 mm were made. */
static void test_a_move_is_inferred(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 4.6, 0.1);
    sb_learner_ask(&l, sb_learner_plan(&l, 1.0).move_mm);
    read_fresh(&l, 0.2, 0.1);
    assert_within(l.inferred_mm, 1.635064438836082, 1e-6);
    assert_within(l.now.error_cents, 0.2, 1e-12);
    assert_within(l.geometry.speaking_mm, 647.7 + 1.635064438836082, 1e-6);
    /* Inferring again within the round does not move it twice. */
    sb_learner_read(&l, (sb_error_reading){0.2, 0.08}, false);
    assert_within(l.geometry.speaking_mm, 647.7 + 1.635064438836082, 1e-6);
    assert_int_equal(l.moves, 1);
}

/* A reading that nothing explains is not believed alone; two that agree are. */
static void test_an_odd_reading_needs_a_second(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 0.3, 0.1);
    read_fresh(&l, 4.0, 0.1);
    assert_int_equal(l.stray, SB_STRAY_UNSURE);
    assert_within(l.now.error_cents, 0.3, 0);
    assert_int_equal(sb_learner_plan(&l, 1.0).kind, SB_PLAN_AGAIN);
    sb_learner forgiven = l;
    read_fresh(&forgiven, 0.2, 0.1);
    assert_int_equal(forgiven.stray, SB_STRAY_NONE);
    assert_within(forgiven.now.error_cents, 0.25, 1e-12);
    read_fresh(&l, 4.1, 0.1);
    assert_true(l.inferred_mm < -1.0);
    assert_within(l.now.error_cents, 4.05, 1e-12);
}

typedef struct {
    double move_mm, reads;
    sb_stray stray;
} answer;

/* 6 cents sharp (2.23 mm back), read 0.1 exactly. */
static void test_strings_that_do_not_answer(void **state) {
    (void)state;
    const answer answers[] = {
        {2.2, 0.1, SB_STRAY_NONE},      {2.2, 6.1, SB_STRAY_UNMOVED}, {2.2, 5.5, SB_STRAY_UNMOVED},
        {2.2, 11.8, SB_STRAY_REVERSED}, {2.2, 3.2, SB_STRAY_LESS},    {2.2, -4.0, SB_STRAY_MORE},
        {0.3, 5.2, SB_STRAY_NONE},
    };
    for (size_t i = 0; i < sizeof answers / sizeof *answers; i++) {
        sb_learner l = learner_of(647.7);
        read_fresh(&l, 6.0, 0.1);
        sb_learner_move(&l, answers[i].move_mm, SB_HAND_MM);
        read_fresh(&l, answers[i].reads, 0.1);
        assert_int_equal(l.stray, answers[i].stray);
    }
}

/* A mechanism that moves three quarters of what is thought: 12 +- 0.2 cents, 4.4 mm, then 3.0
 * +- 0.2. With the wide prior of 0.2 the normal equations give a gain of 0.7589 +- 0.0324 and
 * an error of 2.9798 +- 0.1993. */
static void test_another_gain_is_learned_at_once(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 12.0, 0.2);
    sb_learner_move(&l, 4.4, 0.1);
    read_fresh(&l, 3.0, 0.2);
    assert_int_equal(l.stray, SB_STRAY_NONE);
    assert_within(l.answered, 0.7523679954192045, 1e-9);
    assert_within(l.now.gain, 0.7588524421610021, 1e-9);
    assert_within(sqrt(l.now.gain_var), 0.03236406560417836, 1e-9);
    assert_within(l.now.error_cents, 2.9798409217009323, 1e-9);
    assert_within(sqrt(l.now.error_var), 0.19931830128021438, 1e-9);
}

static void test_a_stray_opens_the_gain_and_two_are_false(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 6.0, 0.1);
    sb_learner_move(&l, 2.2, SB_HAND_MM);
    read_fresh(&l, 6.1, 0.1);
    assert_within(l.now.gain, 1.0, 0);
    assert_within(sqrt(l.now.gain_var), SB_GAIN_SPREAD_WIDE, 1e-12);
    assert_within(l.now.error_cents, 6.1, 0);
    sb_learner_move(&l, 2.2, SB_HAND_MM);
    read_fresh(&l, -6.0, 0.1);
    assert_int_equal(l.stray, SB_STRAY_FALSE);
}

typedef struct {
    double cents, std_error;
    sb_plan_kind kind;
} judged;

static void test_verdicts(void **state) {
    (void)state;
    const judged cases[] = {
        {0.5, 0.2, SB_PLAN_TRUE},    {-0.5, 0.2, SB_PLAN_TRUE},
        {0.7, 0.2, SB_PLAN_TRUE}, /* 0.067 outside, by the normal table */
        {0.9, 0.2, SB_PLAN_MOVE}, /* 0.309 outside */
        {1.2, 0.2, SB_PLAN_MOVE},    {-1.2, 0.2, SB_PLAN_MOVE},
        {1.2, 1.5, SB_PLAN_SCATTER}, {0.3, 1.5, SB_PLAN_SCATTER},
        {5.0, 3.0, SB_PLAN_MOVE},    {5.0, 6.0, SB_PLAN_AGAIN},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sb_learner l = learner_of(647.7);
        read_fresh(&l, cases[i].cents, cases[i].std_error);
        assert_int_equal(sb_learner_plan(&l, 1.0).kind, cases[i].kind);
    }
}

/* Below what a hand can set, moves are pointless however small the tolerance. */
static void test_the_hand_sets_the_limit(void **state) {
    (void)state;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, 0.2, 0.01);
    assert_int_equal(sb_learner_plan(&l, 0.05).kind, SB_PLAN_SCATTER);
}

static void test_nonsense_is_passed_over(void **state) {
    (void)state;
    const double nan_value = (double)NAN;
    sb_learner l = learner_of(647.7);
    read_fresh(&l, nan_value, 0.1);
    read_fresh(&l, 1.0, 0.0);
    read_fresh(&l, 1.0, nan_value);
    assert_false(l.known);
    read_fresh(&l, 4.0, 0.1);
    sb_learner_move(&l, -1000.0, 0.1);
    assert_false(l.known);
    read_fresh(&l, 4.0, 0.1);
    sb_learner_move(&l, nan_value, 0.1);
    read_fresh(&l, 2.0, 0.1);
    assert_within(l.now.error_cents, 2.0, 0);
    assert_within(l.geometry.speaking_mm, 647.7, 0);
}

/* Random benches whose mechanisms answer by another gain: the belief's own error bars hold,
 * and the second move, planned with what was learned, leaves less than one without. */
static void test_calibrated_over_many_benches(void **state) {
    (void)state;
    prng random = prng_seeded(41);
    const int n = 2000;
    int inside = 0;
    double learned = 0, plain = 0;
    for (int i = 0; i < n; i++) {
        const double gain = 1 + SB_GAIN_SPREAD * prng_normal(&random);
        const double truth = prng_uniform(&random, -25, 25);
        sb_learner l = learner_of(647.7);
        read_fresh(&l, truth + 0.2 * prng_normal(&random), 0.2);
        double made = l.now.error_cents > 0 ? 4.0 : -4.0, after = 0;
        const sb_geometry geometry = {.scale_mm = 647.7, .fret = 12};
        sb_learner_move(&l, made, SB_HAND_MM);
        made += SB_HAND_MM * prng_normal(&random);
        assert_int_equal(sb_saddle_error_after(&geometry, truth, made, &after), SB_OK);
        after = truth - gain * (truth - after);
        const double reads = after + 0.2 * prng_normal(&random);
        read_fresh(&l, reads, 0.2);
        inside += fabs(l.now.gain - gain) <= sqrt(l.now.gain_var);
        const sb_plan plan = sb_learner_plan(&l, 1.0);
        const double taken = 2.67289493 * plan.move_mm; /* rule of thumb's slope at 647.7 mm */
        learned += pow(after - gain * taken, 2);
        plain += pow(after - gain * reads, 2);
    }
    assert_within((double)inside / n, 0.683, 0.03);
    assert_true(learned < 0.85 * plain);
}

/* A line through six plucks: -7.857 cents a minute; its standard error from the assumed
 * scatter is 0.359 (0.239 per 0.1 cent). By Python, and by any table of sums. */
static void test_settling(void **state) {
    (void)state;
    const double t[] = {0, 6, 12, 18, 24, 30};
    const double falling[] = {0, -0.9, -1.6, -2.5, -3.1, -4.0};
    const double steady[] = {0.1, -0.1, 0.05, 0.0, -0.05, 0.1};
    const double retuned[] = {0, -2, -4, 1.5, 1.4, 1.3};
    sb_settling s = sb_settle_judge(t, falling, 6);
    assert_int_equal(s.kind, SB_SETTLE_STRETCH);
    assert_within(s.drift_cents_per_min, -7.857142857142858, 1e-9);
    assert_within(s.std_error, 1.5 * 0.23904572186687875, 1e-9);
    s = sb_settle_judge(t, steady, 6);
    assert_int_equal(s.kind, SB_SETTLE_SETTLED);
    assert_within(s.drift_cents_per_min, 0.028571428571428574, 1e-9);
    s = sb_settle_judge(t, retuned, 6);
    assert_int_equal(s.used, 3);
    assert_int_equal(s.kind, SB_SETTLE_UNKNOWN);
    assert_int_equal(sb_settle_judge(t, falling, 2).kind, SB_SETTLE_UNKNOWN);
    const double at_once[] = {3, 3, 3};
    assert_int_equal(sb_settle_judge(at_once, falling, 3).kind, SB_SETTLE_UNKNOWN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nothing_is_known_at_first),
        cmocka_unit_test(test_first_plan_is_the_calculus),
        cmocka_unit_test(test_a_move_teaches_the_gain),
        cmocka_unit_test(test_rounds_without_a_move_are_pooled),
        cmocka_unit_test(test_later_readings_of_a_round_replace_it),
        cmocka_unit_test(test_a_move_is_inferred),
        cmocka_unit_test(test_an_odd_reading_needs_a_second),
        cmocka_unit_test(test_strings_that_do_not_answer),
        cmocka_unit_test(test_another_gain_is_learned_at_once),
        cmocka_unit_test(test_a_stray_opens_the_gain_and_two_are_false),
        cmocka_unit_test(test_verdicts),
        cmocka_unit_test(test_the_hand_sets_the_limit),
        cmocka_unit_test(test_nonsense_is_passed_over),
        cmocka_unit_test(test_calibrated_over_many_benches),
        cmocka_unit_test(test_settling),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
