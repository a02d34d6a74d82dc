/* What was measured, folded from a log that is written here by hand: latest and first of the
 * visit, changes, withdrawals, coils, evenness. Bands are those of the trade as the command ships
 * them (common practice, no source), in inches worked to mm by hand. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/specs.h"
#include "tests/support/scratch.h"
#include "tests/support/within.h"

typedef struct {
    char folder[SCRATCH_MAX], path[80];
    sb_book *book;
    int64_t id;
    sb_specs *specs;
} fixture;

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    sb_description d = {.kind = "electric"};
    sb_kind_instrument(sb_kind_named("electric"), &d.instrument);
    f->specs = malloc(sizeof *f->specs);
    if (!scratch_make(f->folder, SCRATCH_ON_DISK))
        return -1;
    (void)snprintf(f->path, sizeof f->path, "%s/book.db", f->folder);
    *state = f;
    return sb_book_open(f->path, SB_BOOK_WRITE, &f->book) != SB_BOOK_OK ||
           sb_book_add(f->book, "one", &d, 1000, &f->id) != SB_BOOK_OK;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sb_book_close(f->book);
    int code = scratch_remove(f->folder);
    free(f->specs);
    free(f);
    return code;
}

static void event(fixture *f, sb_event_kind kind, int string, const char *data) {
    sb_event e = {.at_ms = 2000, .kind = kind, .string = string, .data = data};
    assert_int_equal(sb_book_append(f->book, f->id, &e, NULL), SB_BOOK_OK);
}

static void measured(fixture *f, const char *what, const char *name, const char *value) {
    char data[300];
    (void)snprintf(data, sizeof data, "{\"what\":\"%s\",\"name\":\"%s\",%s}", what, name, value);
    event(f, SB_EVENT_MEASURED, 0, data);
}

static const sb_spec *spec(fixture *f, const char *name) {
    assert_int_equal(sb_specs_read(f->book, f->id, f->specs), SB_BOOK_OK);
    return sb_specs_find(f->specs, name);
}

static const sb_spec *known(fixture *f, const char *name) {
    const sb_spec *s = spec(f, name);
    assert_non_null(s);
    return s;
}

static void the_first_and_the_latest_of_the_visit(void **state) {
    fixture *f = *state;
    measured(f, "relief", "relief", "\"value_mm\":0.2");
    assert_null(spec(f, "crown"));
    assert_within(known(f, "relief")->first.value, 0.2, 0);
    event(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    assert_false(known(f, "relief")->first.known);
    assert_within(known(f, "relief")->latest.value, 0.2, 0);
    measured(f, "relief", "relief", "\"value_mm\":0.21");
    measured(f, "relief", "relief", "\"value_mm\":0.28,\"changed\":true");
    const sb_spec *s = known(f, "relief");
    assert_within(s->first.value, 0.21, 0);
    assert_within(s->latest.value, 0.28, 0);
    assert_int_equal(s->first.verdict, SB_SPEC_LOW); /* 0.010 in is 0.254 mm */
    assert_int_equal(s->latest.verdict, SB_SPEC_IN_BAND);
    assert_true(f->specs->in_visit);
    event(f, SB_EVENT_VISIT, 0, "{\"what\":\"ended\"}");
    assert_within(known(f, "relief")->first.value, 0.21, 0);
    assert_false(f->specs->in_visit);
}

static void small_steps_add_up_to_a_change(void **state) {
    fixture *f = *state;
    measured(f, "action", "action17-bass", "\"value_mm\":1.6");
    measured(f, "action", "action17-bass", "\"value_mm\":1.75");
    assert_within(known(f, "action17-bass")->base, 1.6, 0);
    measured(f, "action", "action17-bass", "\"value_mm\":1.9,\"changed\":true");
    assert_within(known(f, "action17-bass")->base, 1.9, 0);
}

static void a_change_told_at_the_bench_outdates(void **state) {
    fixture *f = *state;
    measured(f, "action", "action12-treble", "\"value_mm\":1.6");
    measured(f, "action", "action12-3", "\"value_mm\":1.7");
    event(f, SB_EVENT_MEASURED, 1, "{\"what\":\"action\",\"changed\":true}");
    assert_true(known(f, "action12-treble")->outdated);
    assert_false(known(f, "action12-3")->outdated);
    measured(f, "action", "action12-treble", "\"value_mm\":1.8");
    assert_false(known(f, "action12-treble")->outdated);
}

static void what_was_withdrawn_is_gone(void **state) {
    fixture *f = *state;
    measured(f, "crown", "crown", "\"value_mm\":1.2");
    measured(f, "crown", "crown", "\"withdrawn\":true");
    assert_null(spec(f, "crown"));
}

static void what_makes_no_sense_is_passed_over(void **state) {
    fixture *f = *state;
    measured(f, "relief", "relief", "\"value_mm\":\"0.2\"");
    measured(f, "relief", "no-such-name", "\"value_mm\":0.2");
    measured(f, "resistance", "resistance-neck", "\"value_ohm\":-5");
    measured(f, "quiet", "relief-2", "\"value_mm\":1");
    event(f, SB_EVENT_MEASURED, 0, "{\"what\":3,\"name\":[]}");
    assert_null(spec(f, "relief"));
    assert_int_equal(f->specs->n, 0);
}

/* 6.87 and 19.5 kohm: 1/(1/6.87 + 1/19.5) = 5.0802, 6.87 + 19.5 = 26.37, by hand. */
static void coils_are_compared_with_each_other(void **state) {
    fixture *f = *state;
    measured(f, "resistance", "resistance-neck+bridge", "\"value_ohm\":5000");
    assert_string_equal(known(f, "resistance-neck+bridge")->remark, "measure neck alone, too");
    measured(f, "resistance", "resistance-neck", "\"value_ohm\":6870");
    measured(f, "resistance", "resistance-bridge", "\"value_ohm\":19500");
    const sb_spec *s = known(f, "resistance-neck+bridge");
    assert_string_equal(s->remark, "parallel, both on");
    assert_within(s->coils.parallel_ohm, 5080.2, 0.05);
    assert_within(s->coils.series_ohm, 26370, 0);
    measured(f, "resistance", "resistance-neck+bridge", "\"value_ohm\":26100");
    assert_string_equal(known(f, "resistance-neck+bridge")->remark, "series, both on");
    measured(f, "resistance", "resistance-neck+bridge", "\"value_ohm\":19400");
    s = known(f, "resistance-neck+bridge");
    assert_string_equal(s->remark, "bridge alone: neck dead");
    assert_true(s->fault);
    measured(f, "resistance", "resistance-neck", "\"text\":\"open\"");
    assert_string_equal(known(f, "resistance-neck")->remark, "dead position neck: an open circuit");
}

static void heights_between_strings_lie_on_a_line(void **state) {
    fixture *f = *state;
    double mm = 0;
    (void)known;
    assert_null(spec(f, "action17-treble"));
    assert_false(sb_specs_at_string(f->specs, SB_SPEC_ACTION17, 1, &mm));
    measured(f, "action", "action17-treble", "\"value_mm\":1.6");
    measured(f, "action", "action17-bass", "\"value_mm\":2.1");
    (void)spec(f, "relief");
    assert_true(sb_specs_at_string(f->specs, SB_SPEC_ACTION17, 3, &mm));
    assert_within(mm, 1.8, 1e-12);
    assert_string_equal(f->specs->uneven17,
                        "action at 17 uneven: the last string lies 0.50 mm higher than the first");
    measured(f, "action", "action17-bass", "\"value_mm\":1.9");
    measured(f, "action", "action17-3", "\"value_mm\":2.3");
    (void)spec(f, "relief");
    assert_true(sb_specs_at_string(f->specs, SB_SPEC_ACTION17, 2, &mm));
    assert_within(mm, 1.95, 1e-12);
    assert_string_equal(f->specs->uneven17,
                        "action at 17 uneven: string 3 lies 0.58 mm higher than its neighbours");
    measured(f, "action", "action17-1", "\"value_mm\":1.7"); /* the same string, later */
    (void)spec(f, "relief");
    assert_true(sb_specs_at_string(f->specs, SB_SPEC_ACTION17, 1, &mm));
    assert_within(mm, 1.7, 0);
}

static void worn_crowns_are_seen(void **state) {
    fixture *f = *state;
    measured(f, "crown", "crown", "\"value_mm\":1.27");
    assert_int_equal(known(f, "crown")->latest.verdict, SB_SPEC_GOOD);
    assert_false(f->specs->worn);
    measured(f, "crown", "crown-3", "\"value_mm\":0.71"); /* 0.028 in */
    assert_int_equal(known(f, "crown-3")->latest.verdict, SB_SPEC_AT_LIMIT);
    assert_true(f->specs->worn);
}

static void the_kind_can_be_told(void **state) {
    fixture *f = *state;
    measured(f, "relief", "relief", "\"value_mm\":0.28");
    assert_true(known(f, "relief")->banded);
    measured(f, "kind", "kind", "\"text\":\"bass-4\"");
    assert_false(known(f, "relief")->banded);
    assert_string_equal(f->specs->kind, "bass-4");
}

#define IN_A_BOOK(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_A_BOOK(the_first_and_the_latest_of_the_visit),
        IN_A_BOOK(small_steps_add_up_to_a_change),
        IN_A_BOOK(a_change_told_at_the_bench_outdates),
        IN_A_BOOK(what_was_withdrawn_is_gone),
        IN_A_BOOK(what_makes_no_sense_is_passed_over),
        IN_A_BOOK(coils_are_compared_with_each_other),
        IN_A_BOOK(heights_between_strings_lie_on_a_line),
        IN_A_BOOK(worn_crowns_are_seen),
        IN_A_BOOK(the_kind_can_be_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
