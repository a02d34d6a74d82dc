/* Whose note: scenes made from an instrument's notes and detunings, the answer known. */
#include <math.h>

#include "core/pitch.h"
#include "core/whose.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define MAX_NOTES 200

typedef struct {
    size_t string;
    bool fretted;
} played;

typedef struct {
    sb_whose whose;
    sb_instrument instrument;
    played truth[MAX_NOTES];
    size_t n, right, wrong, unsure, none;
} scene;

static scene *scene_of(const char *kind) {
    static scene s;
    s = (scene){.n = 0};
    sb_kind_instrument(sb_kind_named(kind), &s.instrument);
    sb_whose_begin(&s.whose, &s.instrument, 12, 440.0);
    return &s;
}

static void collect(scene *s) {
    sb_whose_answer a;
    while (sb_whose_next(&s->whose, &a)) {
        const played *p = &s->truth[a.note];
        if (a.unsure)
            s->unsure++;
        else if (a.string == 0)
            s->none++;
        else if (a.string == p->string && a.fretted == p->fretted)
            s->right++;
        else
            s->wrong++;
    }
}

static void sound(scene *s, double semitone, double cents, played truth) {
    s->truth[s->n++] = truth;
    sb_whose_hear(&s->whose, sb_note_hz(0, 440.0) * sb_ratio_from_cents(100 * semitone + cents));
    collect(s);
}

static void pluck(scene *s, size_t string, bool fretted, double cents) {
    const double semitone = s->instrument.strings[string - 1].semitone + (fretted ? 12.0 : 0.0);
    sound(s, semitone, cents, (played){string, fretted});
}

static void finish(scene *s) {
    sb_whose_finish(&s->whose);
    collect(s);
}

static void test_in_tune_every_note_is_known_at_once(void **state) {
    (void)state;
    const char *const kinds[] = {"electric", "bass-5", "8-string", "ukulele", "tenor-banjo"};
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        scene *s = scene_of(kinds[k]);
        for (size_t i = 1; i <= s->instrument.n_strings; i++) {
            pluck(s, i, false, -4);
            pluck(s, i, true, 3);
            pluck(s, i, true, 2);
            pluck(s, i, false, -5);
        }
        assert_int_equal(s->wrong, 0);
        assert_int_equal(s->right, s->n);
    }
}

/* Any order: all open strings, then all fretted ones from the other end. */
static void test_in_any_order(void **state) {
    (void)state;
    scene *s = scene_of("electric");
    for (size_t i = 1; i <= 6; i++)
        pluck(s, i, false, 12.0 * (double)i - 30);
    for (size_t i = 6; i >= 1; i--)
        pluck(s, i, true, 12.0 * (double)i - 30 + 6);
    finish(s);
    assert_int_equal(s->right, 12);
}

/* A string 140 cents flat next to one in tune: 60 cents from another's note. D3 so tuned lies
 * 140 below D3 and 340 above A2 ... its octave decides. */
static void test_a_string_far_out_is_told_by_its_octave(void **state) {
    (void)state;
    for (int away = -140; away <= 140; away += 20) {
        for (size_t string = 1; string <= 6; string++) {
            scene *s = scene_of("electric");
            for (int i = 0; i < 2; i++) {
                pluck(s, string, false, away);
                pluck(s, string, true, away + 8);
            }
            finish(s);
            assert_int_equal(s->wrong, 0);
            assert_int_equal(s->right, s->n);
        }
    }
}

/* All strings a semitone down together, as many players tune. */
static void test_all_down_together(void **state) {
    (void)state;
    scene *s = scene_of("electric");
    for (size_t i = 6; i >= 1; i--)
        for (int k = 0; k < 2; k++) {
            pluck(s, i, false, -100 - 2.0 * (double)i);
            pluck(s, i, true, -95 - 2.0 * (double)i);
        }
    finish(s);
    assert_int_equal(s->wrong, 0);
    assert_int_equal(s->right, s->n);
}

/* Random instruments, each string out by up to 150 cents, strings in random order, a pair or
 * two of notes each: never many wrong, and few left open. */
static void test_random_instruments(void **state) {
    (void)state;
    prng random = prng_seeded(7);
    size_t right = 0, wrong = 0, all = 0;
    for (int trial = 0; trial < 300; trial++) {
        scene *s = scene_of("electric");
        const double common = 40 * prng_normal(&random);
        double out[6];
        for (size_t i = 0; i < 6; i++)
            out[i] = fmax(-148, fmin(148, common + 45 * prng_normal(&random)));
        for (size_t k = 0; k < 6; k++) {
            const size_t i = (size_t)prng_uniform(&random, 0, 6) % 6 + 1;
            const double error = 4 + 8 * prng_normal(&random);
            for (int j = 0; j < 2; j++) {
                pluck(s, i, false, out[i - 1] + 0.3 * prng_normal(&random));
                pluck(s, i, true, out[i - 1] + error + 0.3 * prng_normal(&random));
            }
        }
        finish(s);
        right += s->right;
        wrong += s->wrong;
        all += s->n;
    }
    assert_true((double)wrong / (double)all < 0.005);
    assert_true((double)right / (double)all > 0.98);
}

static void test_other_notes_are_nobodys(void **state) {
    (void)state;
    scene *s = scene_of("bass-4");
    pluck(s, 4, false, 0);
    sound(s, 28 + 7, 0, (played){0, false}); /* seventh fret of E1: B1, 200 from A1 */
    sound(s, 100, 0, (played){0, false});
    pluck(s, 4, true, 3);
    finish(s);
    assert_int_equal(s->none, 2);
    assert_int_equal(s->right, 2);
}

/* While tuning up, a string sounds at many pitches. */
static void test_a_string_being_tuned(void **state) {
    (void)state;
    scene *s = scene_of("electric");
    pluck(s, 5, false, -3);
    pluck(s, 5, true, 2);
    for (int cents = -80; cents <= 0; cents += 10)
        pluck(s, 5, false, cents);
    pluck(s, 5, true, 1);
    finish(s);
    assert_int_equal(s->wrong, 0);
    assert_int_equal(s->right, s->n);
}

static void test_only_one_string_is_plucked(void **state) {
    (void)state;
    scene *s = scene_of("mandolin");
    pluck(s, 1, false, 2);
    pluck(s, 1, true, 3);
    assert_int_equal(s->right, 2); /* of a unison pair, the first */
    sb_whose_only(&s->whose, 2);
    pluck(s, 2, false, 2);
    pluck(s, 2, true, 3);
    pluck(s, 8, false, 0);
    finish(s);
    assert_int_equal(s->right, 4);
    assert_int_equal(s->none, 1);
}

static void test_what_was_known_before_helps(void **state) {
    (void)state;
    scene *s = scene_of("electric");
    sb_whose_known(&s->whose, 4, sb_note_hz(50, 440.0) * sb_ratio_from_cents(-110));
    pluck(s, 4, true, -105);
    assert_int_equal(s->right, 1);
    const sb_whose_answer guess = sb_whose_guess(&s->whose, sb_note_hz(40, 440.0));
    assert_int_equal(guess.string, 6);
    assert_false(guess.fretted);
}

static void test_many_notes_are_never_too_many(void **state) {
    (void)state;
    scene *s = scene_of("8-string");
    for (int i = 0; i < MAX_NOTES; i++)
        sound(s, 30 + i % 50, 37.0 * (i % 7) - 111, (played){0, false});
    finish(s);
    assert_int_equal(s->right + s->wrong + s->none + s->unsure, s->n);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_in_tune_every_note_is_known_at_once),
        cmocka_unit_test(test_in_any_order),
        cmocka_unit_test(test_a_string_far_out_is_told_by_its_octave),
        cmocka_unit_test(test_all_down_together),
        cmocka_unit_test(test_random_instruments),
        cmocka_unit_test(test_other_notes_are_nobodys),
        cmocka_unit_test(test_a_string_being_tuned),
        cmocka_unit_test(test_only_one_string_is_plucked),
        cmocka_unit_test(test_what_was_known_before_helps),
        cmocka_unit_test(test_many_notes_are_never_too_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
