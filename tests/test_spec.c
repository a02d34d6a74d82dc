/* Names, bands and judgement. The bands are the trade's (common practice, no source), in mm by
 * hand: 0.010 in = 0.254, 0.012 in = 0.3048, 0.018 in = 0.4572, 0.022 in = 0.5588, 4/64 in =
 * 1.5875, 5/64 in = 1.984375, 0.025 in = 0.635, 0.030 in = 0.762, 3/32 in = 2.38125, 1/8 in =
 * 3.175. */
#include <math.h>
#include <string.h>

#include "core/spec.h"
#include "tests/support/within.h"

static void names_that_are_none(void **state) {
    (void)state;
    static const char *const bad[] = {"",
                                      "relief-",
                                      "relief-3",
                                      "Relief",
                                      "reliefs",
                                      "action17",
                                      "action17-",
                                      "action17-left",
                                      "action17-03",
                                      "action17-1x",
                                      "first-fret",
                                      "first",
                                      "crown-",
                                      "crown-x",
                                      "crown-007",
                                      "pickup",
                                      "pickup-neck",
                                      "pickup-3",
                                      "pickup--treble",
                                      "pickup-a+b-bass",
                                      "resistance",
                                      "resistance-",
                                      "resistance-a++b",
                                      "resistance-+a",
                                      "resistance-a+",
                                      "resistance-A",
                                      "resistance--a",
                                      "buzz-",
                                      "note-a b",
                                      "radius-2",
                                      "kind-a",
                                      "note-0123456789012345678901234567890123456789012"};
    sb_spec_id id;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (sb_spec_named(bad[i], &id) != SB_E_SYNTAX)
            fail_msg("\"%s\" passes for a name", bad[i]);
    assert_int_equal(sb_spec_named("action12-0", &id), SB_E_RANGE);
    assert_int_equal(sb_spec_named("action12-25", &id), SB_E_RANGE);
    assert_int_equal(sb_spec_named("crown-37", &id), SB_E_RANGE);
}

static sb_spec_id named(const char *name) {
    sb_spec_id id = {.name = ""};
    if (sb_spec_named(name, &id) != SB_OK)
        fail_msg("\"%s\" is no name", name);
    assert_string_equal(id.name, name);
    return id;
}

static void names_are_taken_apart(void **state) {
    (void)state;
    sb_spec_id id = named("action17-12");
    assert_int_equal(id.kind, SB_SPEC_ACTION17);
    assert_int_equal(id.side, SB_SIDE_STRING);
    assert_int_equal(id.number, 12);
    id = named("pickup-treble");
    assert_int_equal(id.side, SB_SIDE_TREBLE);
    assert_string_equal(id.part, "");
    id = named("pickup-neck-2-bass");
    assert_int_equal(id.side, SB_SIDE_BASS);
    assert_string_equal(id.part, "neck-2");
    id = named("resistance-neck+bridge");
    assert_string_equal(id.part, "neck+bridge");
    assert_true(id.combined);
    assert_false(named("resistance-2").combined);
    assert_int_equal(named("crown-0").number, 0);
    for (size_t i = 0; sb_spec_pattern(i); i++)
        (void)named(sb_spec_pattern(i));
}

static void titles_say_what_it_is(void **state) {
    (void)state;
    char text[SB_SPEC_TITLE_MAX];
    const char *const rows[][2] = {{"relief", "relief"},
                                   {"first-fret-bass", "first fret, bass"},
                                   {"action17-3", "action at 17, string 3"},
                                   {"crown-7", "crown height, fret 7"},
                                   {"pickup-neck-treble", "pickup neck, treble"},
                                   {"buzz-7", "buzz at fret 7"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sb_spec_id id = named(rows[i][0]);
        sb_spec_title(&id, text, sizeof text);
        assert_string_equal(text, rows[i][1]);
    }
}

static void they_are_shown_in_order(void **state) {
    (void)state;
    static const char *const order[] = {"relief",
                                        "first-fret-treble",
                                        "first-fret-2",
                                        "first-fret-bass",
                                        "action12-treble",
                                        "action17-treble",
                                        "action17-2",
                                        "action17-10",
                                        "action17-bass",
                                        "crown",
                                        "crown-1",
                                        "pickup-neck-treble",
                                        "pickup-neck-bass",
                                        "radius",
                                        "resistance-neck",
                                        "resistance-bridge+neck",
                                        "buzz"};
    for (size_t i = 0; i < sizeof order / sizeof *order; i++)
        for (size_t k = 0; k < sizeof order / sizeof *order; k++) {
            sb_spec_id a = named(order[i]), b = named(order[k]);
            int got = sb_spec_order(&a, &b);
            assert_int_equal((got > 0) - (got < 0), (i > k) - (i < k));
        }
}

typedef struct {
    const char *name;
    double mm;
    sb_spec_verdict want;
} judged;

static sb_spec_verdict judge(const char *kind, const char *name, double mm) {
    char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX];
    sb_spec_id id = named(name);
    sb_band band;
    size_t n = sb_spec_band_keys(&id, 6, keys);
    for (size_t i = 0; i < n; i++)
        if (sb_band_shipped(kind, keys[i], &band))
            return sb_spec_judge(id.kind, &band, mm);
    return SB_SPEC_NO_BAND;
}

static void the_figures_of_the_trade(void **state) {
    (void)state;
    static const judged rows[] = {
        {"relief", 0.254, SB_SPEC_IN_BAND},
        {"relief", 0.25, SB_SPEC_IN_BAND}, /* what a metric feeler has */
        {"relief", 0.2286, SB_SPEC_LOW},   /* 0.009 in */
        {"relief", 0.3048, SB_SPEC_IN_BAND},
        {"relief", 0.3302, SB_SPEC_HIGH}, /* 0.013 in */
        {"first-fret-bass", 0.5588, SB_SPEC_IN_BAND},
        {"first-fret-bass", 0.5842, SB_SPEC_HIGH}, /* 0.023 in */
        {"first-fret-treble", 0.4572, SB_SPEC_IN_BAND},
        {"first-fret-treble", 0.4318, SB_SPEC_LOW}, /* 0.017 in */
        {"first-fret-3", 0.4318, SB_SPEC_LOW},      /* of six: the treble's half */
        {"first-fret-4", 0.4318, SB_SPEC_IN_BAND},
        {"action17-treble", 1.5875, SB_SPEC_IN_BAND},
        {"action17-bass", 2.0, SB_SPEC_IN_BAND}, /* what a metric ruler reads for 5/64 */
        {"action17-bass", 2.2, SB_SPEC_HIGH},
        {"action17-4", 1.4, SB_SPEC_LOW},
        {"action12-bass", 2.0, SB_SPEC_NO_BAND},
        {"crown", 1.27, SB_SPEC_GOOD}, /* 0.050 in: new */
        {"crown-5", 0.7112, SB_SPEC_AT_LIMIT},
        {"crown", 0.635, SB_SPEC_AT_LIMIT},
        {"crown", 0.6096, SB_SPEC_WORN}, /* 0.024 in */
        {"crown", 0.7874, SB_SPEC_GOOD}, /* 0.031 in */
        {"pickup-treble", 2.38125, SB_SPEC_IN_BAND},
        {"pickup-neck-bass", 3.175, SB_SPEC_IN_BAND},
        {"pickup-neck-bass", 2.38125, SB_SPEC_LOW},
        {"pickup-treble", 3.175, SB_SPEC_HIGH},
        {"radius", 241.3, SB_SPEC_NO_BAND},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sb_spec_verdict got = judge("electric", rows[i].name, rows[i].mm);
        if (got != rows[i].want)
            fail_msg("%s %g mm is judged %d, not %d", rows[i].name, rows[i].mm, (int)got,
                     (int)rows[i].want);
    }
    assert_int_equal(judge("bass-4", "relief", 0.254), SB_SPEC_NO_BAND);
    assert_string_equal(sb_spec_verdict_text(SB_SPEC_FIRST_FRET, SB_SPEC_LOW), "slot suspect");
}

static void the_nearest_key_comes_first(void **state) {
    (void)state;
    char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX];
    sb_spec_id id = named("pickup-neck-bass");
    assert_int_equal(sb_spec_band_keys(&id, 6, keys), 3);
    assert_string_equal(keys[0], "pickup-neck-bass");
    assert_string_equal(keys[1], "pickup-bass");
    assert_string_equal(keys[2], "pickup");
    id = named("action17-treble");
    assert_int_equal(sb_spec_band_keys(&id, 6, keys), 2);
    id = named("relief");
    assert_int_equal(sb_spec_band_keys(&id, 6, keys), 1);
}

static void slips_are_guessed(void **state) {
    (void)state;
    sb_likely likely[SB_LIKELY_MAX];
    assert_false(sb_spec_plausible(SB_SPEC_ACTION17, 35));
    assert_true(sb_spec_plausible(SB_SPEC_ACTION17, 3.5));
    assert_true(sb_spec_likely(SB_SPEC_ACTION17, 35, false, likely) >= 1);
    assert_within(likely[0].value, 3.5, 1e-12);
    assert_int_equal(likely[0].slip, SB_SLIP_POINT);
    assert_int_equal(sb_spec_likely(SB_SPEC_ACTION17, 1.6 * 25.4, true, likely), 2);
    assert_within(likely[1].value, 1.6, 1e-12);
    assert_int_equal(likely[1].slip, SB_SLIP_MM);
    assert_int_equal(sb_spec_likely(SB_SPEC_RESISTANCE, 6.87, false, likely), 1);
    assert_within(likely[0].value, 6870, 1e-9);
    assert_true(sb_spec_plausible(SB_SPEC_RESISTANCE, (double)INFINITY));
    assert_true(sb_spec_plausible(SB_SPEC_RESISTANCE, 0.4));
    assert_false(sb_spec_plausible(SB_SPEC_RELIEF, (double)NAN));
}

static void a_change_is_more_than_a_rulers_error(void **state) {
    (void)state;
    assert_false(sb_spec_differs(SB_SPEC_ACTION12, 1.6, 1.8));
    assert_true(sb_spec_differs(SB_SPEC_ACTION12, 1.6, 1.9));
    assert_true(sb_spec_differs(SB_SPEC_RELIEF, 0.254, 0.3048));
    assert_true(sb_spec_differs(SB_SPEC_RESISTANCE, (double)INFINITY, 6000));
    assert_true(sb_spec_differs(SB_SPEC_RESISTANCE, 6000, (double)INFINITY));
    assert_false(sb_spec_differs(SB_SPEC_RESISTANCE, (double)INFINITY, (double)INFINITY));
}

#define NOT ((double)NAN)

static void evenness_by_hand(void **state) {
    (void)state;
    const double none[] = {NOT, NOT}, one[] = {NOT, 1.6, NOT};
    const double even[] = {1.6, 1.68, 1.76, 1.84, 1.92, 2.0};
    const double high[] = {1.6, NOT, 2.3, NOT, NOT, 1.95}; /* the line has 1.74 there */
    const double steep[] = {1.6, NOT, NOT, 2.2}, back[] = {2.0, NOT, 1.5};
    assert_false(sb_action_evenness("electric", none, 2).judged);
    assert_false(sb_action_evenness("electric", one, 3).judged);
    assert_true(sb_action_evenness("electric", even, 6).judged);
    assert_true(sb_action_evenness("electric", even, 6).even);
    sb_evenness e = sb_action_evenness("electric", high, 6);
    assert_false(e.even);
    assert_int_equal(e.string, 3);
    assert_within(e.departure_mm, 0.56, 1e-12);
    e = sb_action_evenness("electric", steep, 4);
    assert_false(e.even);
    assert_int_equal(e.string, 0);
    assert_within(e.spread_mm, 0.6, 1e-12);
    assert_false(sb_action_evenness("electric", back, 3).even);
    assert_false(sb_action_evenness("acoustic", steep, 4).judged); /* the rise is not judged */
    assert_true(sb_action_evenness("acoustic", steep, 4).even);
    assert_false(sb_action_evenness("acoustic", high, 6).even);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_that_are_none),
        cmocka_unit_test(names_are_taken_apart),
        cmocka_unit_test(titles_say_what_it_is),
        cmocka_unit_test(they_are_shown_in_order),
        cmocka_unit_test(the_figures_of_the_trade),
        cmocka_unit_test(the_nearest_key_comes_first),
        cmocka_unit_test(slips_are_guessed),
        cmocka_unit_test(a_change_is_more_than_a_rulers_error),
        cmocka_unit_test(evenness_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
