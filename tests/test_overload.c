/* Notes that overload the input: what is skipped, what is filled in, and what is refused. The
 * notes are the corpus' (tests/support/corpus.h), made apart from the ear and with known pitch. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "audio/clip.h"
#include "audio/listener.h"
#include "tests/support/cents.h"
#include "tests/support/corpus.h"
#include "tests/support/ears.h"
#include "tests/support/tally.h"

enum { SEED = 31, NOTES = 12, STEP = 7 };

/* Wanted of a clipped note over 0.4 s: 0.08 cent. These begin louder, since the attack is in. */
static const double MOST_CENTS = 0.3;

/* The only reading of n samples. */
static sb_reading read_alone(const float samples[], size_t n, double rate_hz) {
    sb_listener_options options = {.rate_hz = rate_hz};
    sb_listener *listener;
    sb_reading reading, more;
    assert_int_equal(sb_listener_new(&options, &listener), SB_OK);
    assert_int_equal(sb_listener_push(listener, samples, n), SB_OK);
    assert_int_equal(sb_listener_finish(listener), SB_OK);
    assert_true(sb_listener_next(listener, &reading));
    assert_false(sb_listener_next(listener, &more));
    sb_listener_free(listener);
    return reading;
}

static sb_reading read_start(const corpus_note *note, double seconds) {
    return read_alone(note->samples, note->n_room + (size_t)(seconds * note->rate_hz),
                      note->rate_hz);
}

/* Half a second of each, most of it overloaded: measured, and as true as is told. */
static void test_overloaded_throughout(void **state) {
    (void)state;
    size_t mended = 0, beyond_two = 0;
    double squares = 0;
    for (size_t i = 0; i < NOTES; i++) {
        corpus_note note = corpus_make(CORPUS_CLIPPED, SEED, i * STEP);
        sb_reading r = read_start(&note, 0.5);
        double error = cents(note.truth_hz, r.hz);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        mended += r.mended;
        beyond_two += fabs(error) > 2.0 * r.std_error_cents;
        squares += error * error;
        corpus_free(&note);
    }
    assert_true(mended >= NOTES / 2);
    assert_true(beyond_two <= 1);
    assert_true(sqrt(squares / NOTES) < MOST_CENTS);
}

static void assert_clean(const corpus_note *note, const sb_reading *r) {
    assert_int_equal(r->fault, SB_PLUCK_GOOD);
    assert_false(r->mended);
    assert_true(fabs(cents(note->truth_hz, r->hz)) < 0.01);
}

/* The same notes, rung for two seconds, are clean long enough: nothing is filled in. */
static void test_overloaded_at_first(void **state) {
    (void)state;
    for (size_t i = 0; i < NOTES; i += 3) {
        corpus_note note = corpus_make(CORPUS_CLIPPED, SEED, i * STEP);
        sb_reading r = read_start(&note, 2.0);
        assert_clean(&note, &r);
        corpus_free(&note);
    }
}

/* Two thirds of two seconds overloaded: the last third says more than all of it filled in, which
 * was off by half a cent. */
static void test_a_clean_rest_is_enough(void **state) {
    (void)state;
    corpus_note note = corpus_make(CORPUS_CLIPPED, 2001, 259);
    sb_reading r = ears_read_note(&note, 2.0);
    assert_clean(&note, &r);
    corpus_free(&note);
}

struct pluck {
    uint64_t seed;
    size_t i;
};

/* Those of a corpus' notes, all of them filled in. */
static tally read_mended(corpus_condition condition, const struct pluck plucks[], size_t n,
                         double seconds) {
    tally got = {0};
    for (size_t k = 0; k < n; k++) {
        corpus_note note = corpus_make(condition, plucks[k].seed, plucks[k].i);
        sb_reading r = ears_read_note(&note, seconds);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        assert_true(r.mended);
        tally_add(&got, cents(note.truth_hz, r.hz), r.std_error_cents, 0.0);
        corpus_free(&note);
    }
    print_message("RMS %.4f\n", tally_rms(&got));
    assert_int_equal(got.gross, 0);
    return got;
}

/* Low notes, nearly all of 0.4 s overloaded: filled in and measured three times, as most need, the
 * RMS of these is 0.21. Of the lowest, that hold twelve and sixteen periods, it stays a cent or
 * two, and they say so: their standard error is more. */
static void test_low_notes_take_more_turns(void **state) {
    (void)state;
    static const struct pluck plucks[] = {{207, 561}, {31, 968}},
                              lowest[] = {{207, 110}, {207, 528}};
    const tally got = read_mended(CORPUS_CLIPPED, plucks, 2, 0.4);
    assert_int_equal(got.inside_2, 2);
    assert_true(tally_rms(&got) < 0.04);
    assert_int_equal(read_mended(CORPUS_CLIPPED, lowest, 2, 0.4).inside_2, 2);
}

/* What is overloaded holds most of the glide: without it the RMS of these is 0.41. */
static void test_a_glide_under_an_overload(void **state) {
    (void)state;
    static const struct pluck plucks[] = {
        {2001, 21}, {5002, 77}, {5002, 98}, {5002, 224}, {5002, 315}};
    const tally got = read_mended(CORPUS_ALL, plucks, sizeof plucks / sizeof *plucks, 2.0);
    assert_true(tally_rms(&got) < 0.15);
}

/* All but square waves: refused, or told as doubtful as they are. */
static void test_square(void **state) {
    (void)state;
    for (size_t i = 0; i < NOTES; i += 2) {
        corpus_note note = corpus_make(CORPUS_CLEAN, SEED, i * STEP);
        float top = 0;
        for (size_t k = 0; k < note.n; k++)
            top = fmaxf(top, fabsf(note.samples[k]));
        for (size_t k = 0; k < note.n; k++)
            note.samples[k] = fmaxf(fminf(note.samples[k], 0.03f * top), -0.03f * top);
        sb_reading r = read_start(&note, 0.6);
        double error = fabs(cents(note.truth_hz, r.hz));
        assert_true(r.fault != SB_PLUCK_GOOD || error < 4.0 * r.std_error_cents || error < 0.1);
        corpus_free(&note);
    }
}

static void test_limits(void **state) {
    (void)state;
    float x[400];
    for (size_t k = 0; k < 400; k++)
        x[k] = fminf(0.5f, sinf(0.1f * (float)k));
    sb_clip_limits limits = sb_clip_limits_of(x, 400);
    assert_true(limits.high <= 0.5 && limits.high > 0.4999);
    assert_true(isinf(limits.low) && limits.low < 0); /* it was not held from below */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_overloaded_throughout),
        cmocka_unit_test(test_overloaded_at_first),
        cmocka_unit_test(test_a_clean_rest_is_enough),
        cmocka_unit_test(test_low_notes_take_more_turns),
        cmocka_unit_test(test_a_glide_under_an_overload),
        cmocka_unit_test(test_square),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
