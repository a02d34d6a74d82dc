/* What a recheck compares with, from logs written here event by event. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/rechecked.h"
#include "tests/support/scratch.h"
#include "tests/support/within.h"

typedef struct {
    char folder[SCRATCH_MAX], path[80];
    sb_book *book;
    int64_t id;
    sb_rechecked r;
} fixture;

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    sb_description d = {.owner = ""};
    sb_kind_instrument(sb_kind_named("electric"), &d.instrument);
    if (!scratch_make(f->folder, SCRATCH_IN_MEMORY))
        return -1;
    (void)snprintf(f->path, sizeof f->path, "%s/book.db", f->folder);
    *state = f;
    return sb_book_open(f->path, SB_BOOK_WRITE, &f->book) != SB_BOOK_OK ||
           sb_book_add(f->book, "one", &d, sb_book_now_ms(), &f->id) != SB_BOOK_OK;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sb_book_close(f->book);
    (void)unlink(f->path);
    int code = rmdir(f->folder);
    free(f);
    return code;
}

static void add(fixture *f, sb_event_kind kind, int string, const char *data) {
    const sb_event event = {
        .at_ms = sb_book_now_ms(), .kind = kind, .string = string, .data = data};
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_OK);
}

static void reading(fixture *f, int string, double cents) {
    char data[160];
    (void)snprintf(data, sizeof data,
                   "{\"octave_error_cents\":%g,\"std_error_cents\":0.1,\"round\":\"r%d%g\"}", cents,
                   string, cents);
    add(f, SB_EVENT_READING, string, data);
}

static sb_book_status begin(fixture *f) {
    const sb_bench_options options = {.progress = sb_progress_default(), .a4_hz = 440};
    return sb_rechecked_begin(f->book, f->id, "one", &options, &f->r);
}

static void test_nothing_kept(void **state) {
    fixture *f = *state;
    assert_int_equal(begin(f), SB_BOOK_BAD_DATA);
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    assert_int_equal(begin(f), SB_BOOK_BAD_DATA);
}

/* The latest readings count where no visit was ended, of an earlier visit too. */
static void test_latest_readings(void **state) {
    fixture *f = *state;
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    reading(f, 1, 4.0);
    reading(f, 1, 0.5);
    reading(f, 2, 0.7);
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    add(f, SB_EVENT_MOVE, 2, "{\"move_mm\":1.0,\"end_mm\":1.0,\"said\":\"mm\"}");
    assert_int_equal(begin(f), SB_BOOK_OK);
    assert_false(f->r.ended);
    assert_within(f->r.strings[0].was.cents, 0.5, 1e-12);
    assert_null(f->r.strings[0].since);
    assert_string_equal(f->r.strings[1].since, "saddle");
    assert_true(f->r.strings[2].was.std_error == 0);
}

/* What a visit under way has read so far is not final. */
static void test_the_last_visit_that_was_ended(void **state) {
    fixture *f = *state;
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    for (int i = 1; i <= 6; i++)
        reading(f, i, 0.1 * i);
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"ended\"}");
    add(f, SB_EVENT_VISIT, 0, "{\"what\":\"begun\"}");
    reading(f, 3, 8.0);
    add(f, SB_EVENT_MEASURED, 0, "{\"what\":\"relief\",\"changed\":false}");
    add(f, SB_EVENT_MEASURED, 0, "{\"what\":\"crown\",\"changed\":true}");
    add(f, SB_EVENT_MEASURED, 4, "{\"what\":\"nut\",\"changed\":true}");
    assert_int_equal(begin(f), SB_BOOK_OK);
    assert_true(f->r.ended);
    for (size_t i = 0; i < 6; i++) {
        assert_within(f->r.strings[i].was.cents, 0.1 * (double)(i + 1), 1e-12);
        assert_int_equal(f->r.strings[i].since != NULL, i == 3);
    }
}

/* Of the strings that are on, not of those before. */
static void test_the_past_of_a_sound(void **state) {
    fixture *f = *state;
    const char *dull = "{\"side\":\"open\",\"hz\":330,\"inharmonicity\":9e-5,"
                       "\"inharmonicity_std_error\":1e-6,\"scatter_cents\":3,\"beating_cents\":2}";
    const char *clear =
        "{\"side\":\"open\",\"hz\":330,\"inharmonicity\":2e-5,\"inharmonicity_std_error\":1e-6,"
        "\"scatter_cents\":0.1,\"beating_cents\":0.2}";
    const char *fretted = "{\"side\":\"fretted\",\"hz\":660,\"inharmonicity\":8e-5,"
                          "\"scatter_cents\":0.3}";
    reading(f, 1, 0.5);
    add(f, SB_EVENT_PLUCK, 1, dull);
    add(f, SB_EVENT_PLUCK, 2, dull);
    char data[1024] = "{\"strings\":[";
    for (int i = 0; i < 6; i++)
        (void)snprintf(data + strlen(data), sizeof data - strlen(data),
                       "%s{\"note\":\"E4\",\"gauge_mm\":0.254,\"wound\":false,\"course\":%d}",
                       i ? "," : "", i + 1);
    (void)snprintf(data + strlen(data), sizeof data - strlen(data), "]}");
    add(f, SB_EVENT_STRINGS, 1, data);
    add(f, SB_EVENT_PLUCK, 1, clear);
    add(f, SB_EVENT_PLUCK, 1, fretted);
    assert_int_equal(begin(f), SB_BOOK_OK);
    const sb_figure *first = f->r.strings[0].signs.was, *second = f->r.strings[1].signs.was;
    assert_within(first[SB_SIGN_INHARMONICITY].value, 2e-5, 1e-12);
    assert_within(first[SB_SIGN_SCATTER].value, 0.2, 1e-12);
    assert_within(first[SB_SIGN_BEATING].value, 0.2, 1e-12);
    assert_within(second[SB_SIGN_SCATTER].value, 3, 1e-12);
    assert_true(f->r.strings[2].signs.was[SB_SIGN_SCATTER].std_error < 0);
    assert_true(f->r.strings[0].signs.expected.value > 0);
    assert_string_equal(f->r.strings[0].since, "strings");
}

/* The first of three saddles for six strings has slipped: no string is at fault; on the second
 * saddle one string has changed and the other has not. */
static void test_a_shared_saddle_that_slipped(void **state) {
    fixture *f = *state;
    static const double change[] = {2.5, 2.9, 0, 3, 0, 0};
    for (int i = 1; i <= 6; i++)
        reading(f, i, 0.1);
    assert_int_equal(begin(f), SB_BOOK_OK);
    f->r.d.instrument.n_saddles = 3;
    for (size_t i = 0; i < 3; i++) {
        f->r.d.instrument.saddles[i].first = 2 * i + 1;
        f->r.d.instrument.saddles[i].last = 2 * i + 2;
    }
    for (size_t i = 0; i < 6; i++)
        f->r.strings[i].now = (sb_error_reading){0.1 + change[i], 0.1};
    sb_rechecked_judge(&f->r);
    for (size_t i = 0; i < 6; i++) {
        assert_int_equal(f->r.strings[i].slipped, i < 2);
        assert_int_equal(f->r.strings[i].suspicion.suspect, i == 3);
    }
    assert_true(f->r.any_suspect);
}

#define IN_A_BOOK(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_A_BOOK(test_nothing_kept),
        IN_A_BOOK(test_latest_readings),
        IN_A_BOOK(test_the_last_visit_that_was_ended),
        IN_A_BOOK(test_the_past_of_a_sound),
        IN_A_BOOK(test_a_shared_saddle_that_slipped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
