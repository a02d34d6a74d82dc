/* The JSON of every command against its schema in DEVELOPERS.md, field by field. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "cli/json.h"
#include "tests/support/plucked.h"
#include "tests/support/within.h"

static sb_setting setting;
static sb_task task;
static sb_take *take;
static sb_measurement *m;
static char *text;
static size_t size;
static json_t *object;

static int set_up(void **state) {
    (void)state;
    setting = sb_setting_default();
    setting.scale_mm = 647.7;
    task = (sb_task){.setting = &setting, .note = SB_NO_NOTE, .a4_hz = 440};
    take = plucked_take();
    m = malloc(sizeof *m);
    return m ? 0 : -1;
}

static int tear_down(void **state) {
    (void)state;
    free(take);
    free(m);
    free(text);
    text = NULL;
    json_decref(object);
    object = NULL;
    return 0;
}

static FILE *begin(void) {
    json_decref(object);
    object = NULL;
    free(text);
    text = NULL;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    return out;
}

/* One line, one object. */
static void end(FILE *out, bool ok) {
    json_error_t error;
    assert_true(ok);
    assert_int_equal(fclose(out), 0);
    assert_ptr_equal(strchr(text, '\n'), text + size - 1);
    object = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    assert_non_null(object);
}

/* --- the schema: key and type, n = number, s = string, b = boolean, a = array, o = object;
 *     upper case = may be null --------------------------------------------------------- */

typedef struct {
    const char *key;
    char type;
} field;

static const field measure_fields[] = {
    {"schema", 's'},
    {"scale_mm", 'n'},
    {"speaking_mm", 'n'},
    {"fret", 'n'},
    {"open", 'o'},
    {"fretted", 'o'},
    {"octave_error_cents", 'n'},
    {"interval_error_cents", 'n'},
    {"std_error_cents", 'n'},
    {"harmonic_error_cents", 'N'},
    {"paired_error_cents", 'N'},
    {"paired_std_error_cents", 'N'},
    {"paired_disagrees", 'b'},
    {"drift_cents_per_min", 'n'},
    {"drift_std_error", 'N'},
    {"drift_taken_out", 'b'},
    {"move_mm", 'N'},
    {"move_std_error_mm", 'N'},
    {"move_64ths", 'N'},
    {"rule_of_thumb_mm", 'N'},
    {"direction", 's'},
    {"turns", 'N'},
    {"turn", 'S'},
    {"look_elsewhere", 'b'},
    {"verdict", 's'},
    {"rejected", 'a'},
    {NULL, 0},
};

static const field side_fields[] = {
    {"note", 's'},
    {"hz", 'n'},
    {"std_error_cents", 'n'},
    {"inharmonicity", 'n'},
    {"inharmonicity_std_error", 'n'},
    {"glide_cents", 'n'},
    {"level_dbfs", 'n'},
    {"snr_db", 'n'},
    {"plucks", 'n'},
    {"overloaded", 'n'},
    {"rejected", 'a'},
    {NULL, 0},
};

static const field partial_fields[] = {
    {"n", 'n'},          {"hz", 'n'},          {"std_error_cents", 'N'},
    {"level_dbfs", 'n'}, {"decay_per_s", 'n'}, {"departure_cents", 'n'},
    {"weight", 'n'},     {"flags", 'a'},       {NULL, 0},
};

static const field rejected_fields[] = {{"start_s", 'n'}, {"reason", 's'}, {"hz", 'N'}, {NULL, 0}};

static const field move_fields[] = {
    {"schema", 's'},
    {"scale_mm", 'n'},
    {"speaking_mm", 'n'},
    {"fret", 'n'},
    {"octave_error_cents", 'n'},
    {"interval_error_cents", 'n'},
    {"std_error_cents", 'n'},
    {"move_mm", 'N'},
    {"move_std_error_mm", 'N'},
    {"move_64ths", 'N'},
    {"rule_of_thumb_mm", 'N'},
    {"direction", 's'},
    {"turns", 'N'},
    {"turn", 'S'},
    {"look_elsewhere", 'b'},
    {"verdict", 's'},
    {NULL, 0},
};

static const field input_fields[] = {
    {"index", 'n'},           {"name", 's'},    {"host_api", 's'}, {"channels", 'n'},
    {"default_rate_hz", 'n'}, {"default", 'b'}, {NULL, 0},
};

static bool has_type(const json_t *value, char type) {
    switch (type) {
    case 'n': return json_is_number(value) && isfinite(json_number_value(value));
    case 'N': return json_is_null(value) || has_type(value, 'n');
    case 's': return json_is_string(value);
    case 'S': return json_is_null(value) || json_is_string(value);
    case 'b': return json_is_boolean(value);
    case 'a': return json_is_array(value);
    case 'o': return json_is_object(value);
    default: return false;
    }
}

/* All the fields, of their types, and no others but `extra`. */
static void expect_fields(const json_t *o, const field *fields, size_t extra) {
    size_t n = 0;
    for (; fields[n].key; n++) {
        const json_t *value = json_object_get(o, fields[n].key);
        if (!value || !has_type(value, fields[n].type))
            fail_msg("field %s is missing or of the wrong type", fields[n].key);
    }
    assert_int_equal(json_object_size(o), n + extra);
}

static double number(const json_t *o, const char *key) {
    const json_t *value = json_object_get(o, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static const char *string(const json_t *o, const char *key) {
    const char *value = json_string_value(json_object_get(o, key));
    assert_non_null(value);
    return value;
}

static void expect_null(const json_t *o, const char *key) {
    assert_true(json_is_null(json_object_get(o, key)));
}

static void measure(double fretted_cents, const char *name, bool partials) {
    sb_reading r = plucked_good(0.5, 82.41, 0.03);
    r.n_partials = 1;
    r.partials[0] = (sb_partial){.number = 1,
                                 .hz = 82.41,
                                 .weight = 1,
                                 .std_error_cents = (double)INFINITY,
                                 .flags = SB_PARTIAL_PULLED | SB_PARTIAL_HUM};
    sb_take_add(take, &r);
    r = plucked_good(3.5, plucked_raised(82.41, fretted_cents), 0.04);
    sb_take_add(take, &r);
    r = plucked_bad(6, SB_PLUCK_CLIPPED, 82.5);
    sb_take_add(take, &r);
    r = plucked_bad(8, SB_PLUCK_NO_PITCH, 0);
    sb_take_add(take, &r);
    assert_int_equal(sb_measure_take(&task, take, m), SB_MEASURED);
    FILE *out = begin();
    end(out, sb_json_measurement(out, &task, m, name, partials));
}

static void a_measurement_follows_its_schema(void **state) {
    (void)state;
    measure(1205, NULL, false);
    expect_fields(object, measure_fields, 0);
    expect_fields(json_object_get(object, "open"), side_fields, 0);
    expect_fields(json_object_get(object, "fretted"), side_fields, 0);
    assert_string_equal(string(object, "schema"), "setback.measure/1");
}

static void a_measurement_carries_its_figures(void **state) {
    (void)state;
    measure(1205, NULL, false);
    const json_t *open = json_object_get(object, "open");
    assert_within(number(object, "scale_mm"), 647.7, 1e-9);
    assert_within(number(object, "speaking_mm"), 647.7, 1e-9);
    assert_within(number(object, "fret"), 12, 0);
    assert_within(number(object, "octave_error_cents"), 5, 1e-5);
    assert_within(number(object, "interval_error_cents"), 5, 1e-5);
    assert_within(number(object, "std_error_cents"), 0.05, 1e-9); /* 3-4-5 */
    assert_within(number(object, "harmonic_error_cents"), 4.74, 1e-5);
    assert_within(number(object, "move_mm"), 1.85729598, 1e-5);
    assert_within(number(object, "move_64ths"), 1.85729598 / 25.4 * 64, 1e-4);
    assert_within(number(object, "rule_of_thumb_mm"), 1.8706310, 1e-4);
    assert_string_equal(string(object, "direction"), "back");
    assert_string_equal(string(object, "verdict"), "move");
    expect_null(object, "turns");
    expect_null(object, "turn");
    assert_string_equal(string(open, "note"), "E2");
    assert_within(number(open, "hz"), 82.41, 1e-6);
    assert_within(number(open, "plucks"), 1, 0);
    assert_within(number(open, "inharmonicity"), 1e-4, 1e-12);
}

static void rejected_plucks_carry_their_reasons(void **state) {
    (void)state;
    measure(1205, NULL, false);
    const json_t *of_open = json_object_get(json_object_get(object, "open"), "rejected");
    const json_t *of_none = json_object_get(object, "rejected");
    assert_int_equal(json_array_size(of_open), 1);
    assert_int_equal(json_array_size(of_none), 1);
    const json_t *first = json_array_get(of_open, 0), *second = json_array_get(of_none, 0);
    expect_fields(first, rejected_fields, 0);
    expect_fields(second, rejected_fields, 0);
    assert_string_equal(string(first, "reason"), sb_pluck_fault_text(SB_PLUCK_CLIPPED));
    assert_within(number(first, "hz"), 82.5, 1e-9);
    expect_null(second, "hz");
}

static void partials_are_there_when_asked_for(void **state) {
    (void)state;
    measure(1205, "low \xff.wav", true);
    expect_fields(object, measure_fields, 1);
    assert_string_equal(string(object, "take"), "low ?.wav");
    const json_t *partials = json_object_get(json_object_get(object, "open"), "partials");
    assert_int_equal(json_array_size(partials), 1);
    const json_t *partial = json_array_get(partials, 0);
    expect_fields(partial, partial_fields, 0);
    expect_null(partial, "std_error_cents"); /* it was infinite */
    const json_t *flags = json_object_get(partial, "flags");
    assert_int_equal(json_array_size(flags), 2);
    assert_string_equal(json_string_value(json_array_get(flags, 0)), "pulled");
    assert_string_equal(json_string_value(json_array_get(flags, 1)), "hum");
}

static void another_fret_has_no_harmonic(void **state) {
    (void)state;
    setting.fret = 7;
    measure(697, NULL, false);
    expect_fields(object, measure_fields, 0);
    assert_within(number(object, "fret"), 7, 0);
    assert_within(number(object, "interval_error_cents"), -3, 1e-5);
    expect_null(object, "harmonic_error_cents");
    assert_string_equal(string(object, "direction"), "forward");
}

static void move_of(double cents, double std_error_cents) {
    sb_answer a = sb_answer_for(&setting, cents, std_error_cents);
    FILE *out = begin();
    end(out, sb_json_move(out, &setting, &a));
    expect_fields(object, move_fields, 0);
}

static void a_move_follows_its_schema(void **state) {
    (void)state;
    setting.thread_mm = 25.4 / 40;
    setting.speaking_mm = 649.7;
    move_of(-12, 0.2);
    assert_string_equal(string(object, "schema"), "setback.move/1");
    assert_within(number(object, "speaking_mm"), 649.7, 1e-9);
    assert_string_equal(string(object, "direction"), "forward");
    assert_string_equal(string(object, "turn"), "anticlockwise");
    assert_within(number(object, "turns") * 8, round(number(object, "turns") * 8), 0);
    assert_string_equal(string(object, "verdict"), "move");
}

static void no_move_is_asked_for_without_the_verdict(void **state) {
    (void)state;
    setting.thread_mm = 0.5;
    move_of(0.5, 0);
    assert_string_equal(string(object, "verdict"), "leave");
    assert_string_equal(string(object, "direction"), "none");
    assert_string_equal(string(object, "turn"), "none");
    assert_within(number(object, "turns"), 0, 0);
    assert_true(number(object, "move_mm") > 0); /* what would null the error all the same */
    move_of(3, 20);
    assert_string_equal(string(object, "verdict"), "measure again");
    assert_string_equal(string(object, "direction"), "none");
    move_of(0, 0);
    assert_null(strstr(text, "-0.0"));
}

static void a_compromise_follows_its_schema(void **state) {
    (void)state;
    static const field fields[] = {
        {"schema", 's'},    {"position_mm", 'n'},     {"slope", 'n'},
        {"place_mm", 'a'},  {"remaining_cents", 'a'}, {"worst_cents", 'n'},
        {"rms_cents", 'n'}, {"at_limit", 'b'},        {NULL, 0},
    };
    const sb_compromise c = {.position_mm = 2.2,
                             .slope = -0.0,
                             .remaining_cents = {-2.67, 2.67},
                             .worst_cents = 2.67,
                             .rms_cents = 2.67};
    const double place_mm[] = {2.2, 2.2};
    FILE *out = begin();
    end(out, sb_json_compromise(out, &c, place_mm, 2));
    expect_fields(object, fields, 0);
    assert_null(strstr(text, "-0.0"));
    const json_t *remaining = json_object_get(object, "remaining_cents");
    assert_int_equal(json_array_size(remaining), 2);
    assert_within(json_real_value(json_array_get(remaining, 0)), -2.67, 1e-9);
}

static void inputs_follow_their_schema(void **state) {
    (void)state;
    const sb_device devices[] = {
        {.index = 3,
         .name = "de\x01sk \xfe",
         .host_api = "ALSA",
         .channels = 2,
         .default_rate_hz = 48000,
         .is_default = 1},
    };
    FILE *out = begin();
    end(out, sb_json_inputs(out, devices, 1));
    assert_string_equal(string(object, "schema"), "setback.inputs/1");
    const json_t *first = json_array_get(json_object_get(object, "inputs"), 0);
    expect_fields(first, input_fields, 0);
    assert_string_equal(string(first, "name"), "de?sk ?");
    assert_within(number(first, "index"), 3, 0);
    assert_true(json_is_true(json_object_get(first, "default")));
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(a_measurement_follows_its_schema),
        TEST(a_measurement_carries_its_figures),
        TEST(rejected_plucks_carry_their_reasons),
        TEST(partials_are_there_when_asked_for),
        TEST(another_fret_has_no_harmonic),
        TEST(a_move_follows_its_schema),
        TEST(no_move_is_asked_for_without_the_verdict),
        TEST(a_compromise_follows_its_schema),
        TEST(inputs_follow_their_schema),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
