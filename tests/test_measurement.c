/* From readings to a measurement, and every way in which there is none. Expected figures are
 * those that the readings were made from. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/measurement.h"
#include "tests/support/plucked.h"
#include "tests/support/within.h"

#define E2_HZ 82.41
#define E2    40 /* semitones of E2 and A2 */
#define A2    45

static sb_setting setting;
static sb_take *take, *other;
static sb_measurement *m;

static int set_up(void **state) {
    (void)state;
    setting = sb_setting_default();
    setting.scale_mm = 647.7;
    take = plucked_take();
    other = plucked_take();
    m = malloc(sizeof *m);
    return m ? 0 : -1;
}

static int tear_down(void **state) {
    (void)state;
    free(take);
    free(other);
    free(m);
    return 0;
}

static sb_task task_for(int note) {
    return (sb_task){.setting = &setting, .note = note, .a4_hz = 440};
}

static void add(sb_take *to, double start_s, double hz) {
    sb_reading r = plucked_good(start_s, hz, 0.05);
    sb_take_add(to, &r);
}

static void add_bad(sb_take *to, double start_s, sb_pluck_fault fault, double hz) {
    sb_reading r = plucked_bad(start_s, fault, hz);
    sb_take_add(to, &r);
}

static sb_outcome measure(int note) {
    sb_task task = task_for(note);
    return sb_measure_take(&task, take, m);
}

static sb_outcome measure_pair(int note) {
    sb_task task = task_for(note);
    return sb_measure_pair(&task, take, other, m);
}

static double fretted(double error_cents) {
    return plucked_raised(2 * E2_HZ, error_cents);
}

static void a_take_is_sorted_and_measured(void **state) {
    (void)state;
    add(take, 0, fretted(4.61));
    add(take, 3, E2_HZ);
    add(take, 6, fretted(4.61));
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_within(m->answer.error_cents, 4.61, 1e-6);
    assert_within(m->side[SB_OPEN].hz, E2_HZ, 1e-6);
    assert_int_equal(m->side[SB_OPEN].plucks, 1);
    assert_int_equal(m->side[SB_FRETTED].plucks, 2);
    assert_within(m->side[SB_OPEN].inharmonicity, 1e-4, 1e-12);
    assert_within(m->side[SB_OPEN].inharmonicity_std_error, 1e-6, 1e-15);
    assert_within(m->side[SB_FRETTED].inharmonicity_std_error, 1e-6 / sqrt(2.0), 1e-15);
    assert_within(m->side[SB_OPEN].level_dbfs, -21, 1e-12);
    assert_int_equal(m->answer.verdict, SB_VERDICT_MOVE);
    assert_string_equal(sb_answer_direction(&m->answer), "back");
}

static void the_harmonic_is_compared_at_the_12th_fret_only(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(take, 3, fretted(4.61));
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_true(m->has_harmonic);
    assert_within(m->harmonic_error_cents, 4.61 - 0.26, 1e-6);
    setting.fret = 7;
    sb_take_reset(take);
    add(take, 0, E2_HZ);
    add(take, 3, plucked_raised(E2_HZ, 700 + 3));
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_false(m->has_harmonic);
    assert_within(m->answer.error_cents, 3, 1e-6);
}

/* A note of six partials that all stand so far from its own series. */
static void add_with_partials(double start_s, double hz, double std_error_cents,
                              double departure_cents, unsigned flags) {
    sb_reading r = plucked_good(start_s, hz, std_error_cents);
    r.inharmonicity_std_error = 0;
    for (int n = 1; n <= 6; n++) {
        const double b = r.inharmonicity, on_series = n * hz * sqrt((1 + b * n * n) / (1 + b));
        r.partials[r.n_partials++] = (sb_partial){.number = n,
                                                  .hz = plucked_raised(on_series, departure_cents),
                                                  .std_error_cents = 0.01,
                                                  .flags = flags};
    }
    r.common_std_error_cents = 0.4 * std_error_cents;
    sb_take_add(take, &r);
}

static void two_estimates_that_agree_change_nothing(void **state) {
    (void)state;
    add_with_partials(0, E2_HZ, 0.03, 0, 0);
    add_with_partials(3, fretted(4.61), 0.04, 0.09, SB_PARTIAL_PULLED);
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_true(m->by_pairs.known);
    assert_false(m->by_pairs.disagrees);
    assert_int_equal(m->by_pairs.pairs, 3);
    assert_within(m->by_pairs.error_cents, 4.70, 1e-6);
    /* 0.01 sqrt(2/3), and 0.4 of 0.03 and 0.04 */
    assert_within(m->by_pairs.std_error_cents, hypot(0.01 * sqrt(2.0 / 3), 0.4 * 0.05), 1e-9);
    assert_within(m->answer.error_cents, 4.61, 1e-6);
    assert_within(m->answer.std_error_cents, 0.05, 1e-9);
}

static void two_estimates_that_disagree_widen_the_error(void **state) {
    (void)state;
    add_with_partials(0, E2_HZ, 0.03, 0, 0);
    add_with_partials(3, fretted(4.61), 0.04, -0.24, 0);
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_true(m->by_pairs.disagrees);
    assert_within(m->by_pairs.error_cents, 4.37, 1e-6);
    assert_within(m->answer.error_cents, 4.61, 1e-6);     /* the series' figure stays */
    assert_within(m->answer.std_error_cents, 0.13, 1e-6); /* 5-12-13 */
    assert_within(m->interval.std_error_cents, 0.05, 1e-9);
}

/* A string that sank by 2 cents between the plucks, played in turn, and a hand's scatter: both
 * estimates bear them alike. */
static void scatter_between_plucks_is_no_disagreement(void **state) {
    (void)state;
    add_with_partials(0, plucked_raised(E2_HZ, 1), 0.01, 0, 0);
    add_with_partials(3, fretted(4.61), 0.01, 0, 0);
    add_with_partials(6, plucked_raised(E2_HZ, -1), 0.01, 0, 0);
    add_with_partials(9, fretted(4.61 - 1.5), 0.01, 0, 0);
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_false(m->by_pairs.disagrees);
    assert_within(m->by_pairs.error_cents, m->interval.error_cents, 1e-6);
    assert_true(m->by_pairs.std_error_cents > 0.9 * m->interval.std_error_cents);
}

static void pairs_need_the_12th_fret_and_clean_partials(void **state) {
    (void)state;
    add_with_partials(0, E2_HZ, 0.03, 0, 0);
    add_with_partials(3, fretted(4.61), 0.04, 1, SB_PARTIAL_HUM);
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_false(m->by_pairs.known || m->by_pairs.disagrees);
    setting.fret = 7;
    sb_take_reset(take);
    add_with_partials(0, E2_HZ, 0.03, 0, 0);
    add_with_partials(3, plucked_raised(E2_HZ, 703), 0.04, 1, 0);
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_false(m->by_pairs.known || m->by_pairs.disagrees);
}

static void nothing_usable(void **state) {
    (void)state;
    assert_int_equal(measure(SB_NO_NOTE), SB_NO_PLUCK);
    add_bad(take, 0, SB_PLUCK_CLIPPED, E2_HZ);
    add_bad(take, 2, SB_PLUCK_TOO_SHORT, 0);
    assert_int_equal(measure(SB_NO_NOTE), SB_NO_PLUCK);
    add(other, 0, fretted(1));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_NO_PLUCK);
    assert_int_equal(m->fault_side, SB_OPEN);
    sb_take_reset(take);
    sb_take_reset(other);
    add(take, 0, E2_HZ);
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_NO_PLUCK);
    assert_int_equal(m->fault_side, SB_FRETTED);
}

static void one_note_where_two_are_needed(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(take, 3, E2_HZ);
    assert_int_equal(measure(SB_NO_NOTE), SB_ONE_NOTE);
    assert_within(m->heard_hz, E2_HZ, 1e-9);
    assert_int_equal(measure(E2), SB_NO_FRETTED);
    sb_take_reset(take);
    add(take, 0, fretted(2));
    assert_int_equal(measure(E2), SB_NO_OPEN);
}

static void another_string_is_noticed(void **state) {
    (void)state;
    add(take, 0, 110);
    add(take, 3, 220);
    assert_int_equal(measure(A2), SB_MEASURED);
    assert_int_equal(measure(E2), SB_WRONG_STRING);
    assert_within(m->heard_hz, 110, 1e-9);
    sb_take_reset(take);
    add(take, 0, 110);
    add(other, 0, 220);
    assert_int_equal(measure_pair(E2), SB_WRONG_STRING);
    assert_within(m->heard_hz, 110, 1e-9);
    assert_int_equal(m->fault_side, SB_OPEN);
}

static void a_string_out_of_tune_is_not_another(void **state) {
    (void)state;
    add(take, 0, plucked_raised(E2_HZ, -140));
    add(take, 3, fretted(-140 + 2));
    assert_int_equal(measure(E2), SB_MEASURED);
    assert_within(m->answer.error_cents, 2, 1e-6);
}

static void a_pair_that_is_no_pair(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(other, 0, plucked_raised(E2_HZ, 20));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_SAME_NOTE);
    sb_take_reset(other);
    add(other, 0, plucked_raised(E2_HZ, 700));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_WRONG_FRET);
    assert_within(m->heard_cents, 700, 1e-6);
    sb_take_reset(other);
    add(other, 0, plucked_raised(E2_HZ, -1195));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_SWAPPED);
}

static void an_error_beyond_a_semitone_is_the_wrong_fret(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(other, 0, fretted(99));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_MEASURED);
    sb_take_reset(other);
    add(other, 0, fretted(-101));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_WRONG_FRET);
    assert_within(m->heard_cents, 1099, 1e-6);
    sb_take_reset(take);
    add(take, 0, E2_HZ);
    add(take, 3, plucked_raised(E2_HZ, 900));
    assert_int_equal(measure(SB_NO_NOTE), SB_WRONG_FRET);
    assert_within(m->heard_cents, 900, 1e-6);
}

static void a_recording_of_one_note_may_hold_a_stray_one(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(take, 3, E2_HZ);
    add(take, 6, 110);
    add(other, 0, fretted(1));
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_MEASURED);
    assert_int_equal(m->side[SB_OPEN].plucks, 2);
    assert_string_equal(m->heard[2].left_out, "another note");
    add(take, 9, 110);
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_MIXED_NOTES);
    assert_int_equal(m->fault_side, SB_OPEN);
}

static void an_outlier_is_named(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++)
        add(take, 2 * i, plucked_raised(E2_HZ, 0.02 * i));
    add(take, 8, plucked_raised(E2_HZ, 9));
    add(take, 10, fretted(3));
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_int_equal(m->side[SB_OPEN].plucks, 4);
    assert_string_equal(m->heard[4].left_out, "+9.0 cents from the others");
    assert_int_equal(sb_measurement_left_out(m, SB_OPEN), 1);
    assert_within(m->answer.error_cents, 3 - 0.03, 1e-3);
}

static void a_rejected_pluck_goes_to_its_side(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    add(take, 3, fretted(3));
    add_bad(take, 6, SB_PLUCK_CLIPPED, plucked_raised(E2_HZ, 30));
    add_bad(take, 9, SB_PLUCK_UNSTEADY, fretted(-20));
    add_bad(take, 12, SB_PLUCK_NO_PITCH, 0);
    add_bad(take, 15, SB_PLUCK_TOO_QUIET, 147);
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_int_equal(m->heard[2].side, SB_OPEN);
    assert_int_equal(m->heard[3].side, SB_FRETTED);
    assert_int_equal(m->heard[4].side, SB_NEITHER);
    assert_int_equal(m->heard[5].side, SB_NEITHER);
    assert_string_equal(m->heard[2].left_out, sb_pluck_fault_text(SB_PLUCK_CLIPPED));
}

static void drift_is_taken_out_of_a_take_but_not_sought_in_a_pair(void **state) {
    (void)state;
    /* The string sinks by 6 cents a minute: 0.1 cent a second. */
    for (int i = 0; i < 8; i++)
        add(take, 4 * i, i % 2 ? fretted(3 - 0.4 * i) : plucked_raised(E2_HZ, -0.4 * i));
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_true(m->interval.drift_significant);
    assert_within(m->interval.drift_cents_per_min, -6, 1e-3);
    assert_within(m->answer.error_cents, 3, 1e-3);
    sb_take_reset(take);
    for (int i = 0; i < 4; i++) {
        add(take, 8 * i, plucked_raised(E2_HZ, -0.05 * i));
        add(other, 8 * i + 4, fretted(3 - 0.05 * i));
    }
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_MEASURED);
    assert_false(m->interval.drift_fitted);
    assert_within(m->answer.error_cents, 3, 1e-3);
}

static void more_plucks_than_can_be_combined(void **state) {
    (void)state;
    for (int i = 0; i < SB_TAKE_PLUCKS + 10; i++)
        add(take, i, i % 2 ? fretted(3) : E2_HZ);
    assert_int_equal(take->n, SB_TAKE_PLUCKS);
    assert_int_equal(take->beyond, 10);
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_int_equal(m->side[SB_OPEN].plucks + m->side[SB_FRETTED].plucks, SB_MAX_PLUCKS);
    memcpy(other, take, sizeof *other);
    for (size_t i = 0; i < take->n; i++) {
        take->readings[i].hz = E2_HZ;
        other->readings[i].hz = fretted(3);
    }
    assert_int_equal(measure_pair(SB_NO_NOTE), SB_MEASURED);
    assert_within(m->answer.error_cents, 3, 1e-6);
}

static void hours_of_noise_leave_room_for_a_string(void **state) {
    (void)state;
    add(take, 0, E2_HZ);
    for (int i = 1; i < 3 * SB_TAKE_PLUCKS; i++)
        add_bad(take, i, SB_PLUCK_NO_PITCH, 0);
    add(take, 1000, fretted(3));
    assert_int_equal(take->n, SB_TAKE_PLUCKS);
    assert_within(take->readings[0].hz, E2_HZ, 0);
    assert_within(take->readings[SB_TAKE_PLUCKS - 1].start_s, 1000, 0);
    assert_int_equal(measure(SB_NO_NOTE), SB_MEASURED);
    assert_within(m->answer.error_cents, 3, 1e-6);
}

static void the_verdict_follows_error_and_uncertainty(void **state) {
    (void)state;
    sb_answer a = sb_answer_for(&setting, 0.9, 0.1);
    assert_int_equal(a.verdict, SB_VERDICT_LEAVE);
    assert_string_equal(sb_answer_direction(&a), "none");
    a = sb_answer_for(&setting, -1.1, 0.1);
    assert_int_equal(a.verdict, SB_VERDICT_MOVE);
    assert_string_equal(sb_answer_direction(&a), "forward");
    a = sb_answer_for(&setting, 2, 3);
    assert_int_equal(a.verdict, SB_VERDICT_LEAVE);
    a = sb_answer_for(&setting, 20, 9);
    assert_int_equal(a.verdict, SB_VERDICT_MEASURE_AGAIN);
}

static void turns_are_told_only_for_a_move_with_a_known_screw(void **state) {
    (void)state;
    sb_answer a = sb_answer_for(&setting, 5, 0.1);
    assert_true(a.turns == 0 && a.turn == SB_TURN_NONE);
    setting.thread_mm = 0.5; /* 1.857 mm: 3.71 turns */
    a = sb_answer_for(&setting, 5, 0.1);
    assert_within(a.turns, 3.75, 1e-12);
    assert_int_equal(a.turn, SB_TURN_CLOCKWISE);
    setting.screw = SB_SCREW_PUSHES;
    a = sb_answer_for(&setting, 5, 0.1);
    assert_int_equal(a.turn, SB_TURN_ANTICLOCKWISE);
    a = sb_answer_for(&setting, 0.5, 0.1);
    assert_true(a.turns == 0 && a.turn == SB_TURN_NONE);
}

static void a_large_error_points_elsewhere(void **state) {
    (void)state;
    assert_false(sb_answer_for(&setting, 15, 0.1).doubtful);
    assert_true(sb_answer_for(&setting, 17, 0.1).doubtful); /* 6.2 mm */
    assert_true(sb_answer_for(&setting, -21, 0.1).doubtful);
    setting.scale_mm = 350; /* a mandolin: 20 cents are 4 mm */
    assert_false(sb_answer_for(&setting, 19, 0.1).doubtful);
    assert_true(sb_answer_for(&setting, 21, 0.1).doubtful);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(a_take_is_sorted_and_measured),
        TEST(the_harmonic_is_compared_at_the_12th_fret_only),
        TEST(two_estimates_that_agree_change_nothing),
        TEST(two_estimates_that_disagree_widen_the_error),
        TEST(scatter_between_plucks_is_no_disagreement),
        TEST(pairs_need_the_12th_fret_and_clean_partials),
        TEST(nothing_usable),
        TEST(one_note_where_two_are_needed),
        TEST(another_string_is_noticed),
        TEST(a_string_out_of_tune_is_not_another),
        TEST(a_pair_that_is_no_pair),
        TEST(an_error_beyond_a_semitone_is_the_wrong_fret),
        TEST(a_recording_of_one_note_may_hold_a_stray_one),
        TEST(an_outlier_is_named),
        TEST(a_rejected_pluck_goes_to_its_side),
        TEST(drift_is_taken_out_of_a_take_but_not_sought_in_a_pair),
        TEST(more_plucks_than_can_be_combined),
        TEST(hours_of_noise_leave_room_for_a_string),
        TEST(the_verdict_follows_error_and_uncertainty),
        TEST(turns_are_told_only_for_a_move_with_a_known_screw),
        TEST(a_large_error_points_elsewhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
