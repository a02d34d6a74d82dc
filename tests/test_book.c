/* The book: what was acknowledged is there, the log is only added to, and what cannot be used
 * is told apart. SQLite itself is the second opinion. */
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "cli/book.h"
#include "tests/support/scratch.h"

#define DAY_MS 86400000

typedef struct {
    char folder[SCRATCH_MAX], path[80];
    sb_book *book;
    int64_t id; /* of the instrument "one" */
} fixture;

static sb_description described(const char *kind, const char *owner) {
    sb_description d = {.owner = ""};
    sb_kind_instrument(sb_kind_named(kind), &d.instrument);
    (void)snprintf(d.kind, sizeof d.kind, "%s", kind);
    (void)snprintf(d.owner, sizeof d.owner, "%s", owner);
    return d;
}

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    sb_description d = described("electric", "J-17");
    if (!scratch_make(f->folder, SCRATCH_ON_DISK))
        return -1;
    (void)snprintf(f->path, sizeof f->path, "%s/a/b/book.db", f->folder);
    *state = f;
    return sb_book_open(f->path, SB_BOOK_WRITE, &f->book) != SB_BOOK_OK ||
           sb_book_add(f->book, "one", &d, DAY_MS, &f->id) != SB_BOOK_OK;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sb_book_close(f->book);
    int code = scratch_remove(f->folder);
    free(f);
    return code;
}

static void reopen(fixture *f, sb_book_mode mode) {
    sb_book_close(f->book);
    f->book = NULL;
    assert_int_equal(sb_book_open(f->path, mode, &f->book), SB_BOOK_OK);
}

/* Runs SQL from outside, as another program would; the SQLite result. */
static int outside(const char *path, const char *sql) {
    sqlite3 *db = NULL;
    int code = sqlite3_open(path, &db);
    if (code == SQLITE_OK)
        code = sqlite3_exec(db, sql, NULL, NULL, NULL);
    (void)sqlite3_close(db);
    return code;
}

static sb_book_status note(fixture *f, const char *data, int64_t *id) {
    sb_event event = {.at_ms = 2 * DAY_MS, .kind = SB_EVENT_NOTE, .string = 6, .data = data};
    return sb_book_append(f->book, f->id, &event, id);
}

typedef struct {
    size_t n, stop_at;
    int64_t last_id;
    char text[4096]; /* kind:string:data; ... */
} heard;

static bool hear(void *context, const sb_event *e) {
    heard *h = context;
    assert_true(e->id > h->last_id);
    h->last_id = e->id;
    if (e->kind != SB_EVENT_DESCRIBED) {
        size_t used = strlen(h->text);
        (void)snprintf(h->text + used, sizeof h->text - used, "%s:%d:%s;", sb_event_text(e->kind),
                       e->string, e->data);
    }
    return ++h->n != h->stop_at;
}

static void an_instrument_comes_back(void **state) {
    fixture *f = *state;
    sb_description in = described("mandolin", "a½"), out;
    int64_t id = 0, found = 0;
    in.instrument.saddles[0].limited = true;
    in.instrument.saddles[0].forward_mm = 0.1;
    in.instrument.saddles[0].back_mm = 25.4 / 64;
    in.instrument.strings[7].scale_mm = 353.1;
    in.instrument.strings[2].gauge_mm = 0;
    assert_int_equal(sb_book_add(f->book, "Two", &in, 5, &id), SB_BOOK_OK);
    reopen(f, SB_BOOK_READ);
    assert_int_equal(sb_book_find(f->book, "tWO", &found), SB_BOOK_OK);
    assert_int_equal(found, id);
    assert_int_equal(sb_book_describe(f->book, id, &out), SB_BOOK_OK);
    assert_string_equal(out.owner, "a½");
    assert_string_equal(out.kind, "mandolin");
    assert_int_equal(out.instrument.n_strings, 8);
    for (size_t i = 0; i < 8; i++) {
        const sb_string *a = &in.instrument.strings[i], *b = &out.instrument.strings[i];
        assert_true(a->semitone == b->semitone && a->gauge_mm == b->gauge_mm &&
                    a->wound == b->wound && a->course == b->course && a->scale_mm == b->scale_mm);
    }
    const sb_saddle *s = &out.instrument.saddles[0];
    assert_int_equal(out.instrument.n_saddles, 1);
    assert_true(s->first == 1 && s->last == 8 && s->way == SB_WAY_HAND &&
                s->shape == SB_SHAPE_SLANT && s->limited && s->forward_mm == 0.1 &&
                s->back_mm == 25.4 / 64);
}

static void events_come_in_order(void **state) {
    fixture *f = *state;
    heard all = {.n = 0}, later = {.n = 0}, stopped = {.stop_at = 2};
    int64_t first = 0, second = 0;
    assert_int_equal(note(f, "{ \"b\" : 1.0, \"a\" : \"x\\ny\" }", &first), SB_BOOK_OK);
    assert_int_equal(note(f, "{\"cents\":0.1}", &second), SB_BOOK_OK);
    assert_true(second > first);
    reopen(f, SB_BOOK_WRITE);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &all), SB_BOOK_OK);
    assert_int_equal(all.n, 3);
    assert_string_equal(all.text, "note:6:{\"b\":1.0,\"a\":\"x\\ny\"};note:6:{\"cents\":0.1};");
    assert_int_equal(sb_book_read(f->book, f->id, first, hear, &later), SB_BOOK_OK);
    assert_int_equal(later.n, 1);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &stopped), SB_BOOK_STOPPED);
    assert_int_equal(stopped.n, 2);
}

static void wrong_events_are_refused(void **state) {
    fixture *f = *state;
    static const char *const data[] = {
        "", "[]", "1", "{", "{}x", "nan", "{\"a\":1,\"a\":2}", "{\"a\":\"\xff\"}"};
    heard all = {.n = 0};
    char *large = calloc(1, SB_BOOK_DATA_MAX + 10);
    assert_non_null(large);
    for (size_t i = 0; i < sizeof data / sizeof *data; i++)
        assert_int_equal(note(f, data[i], NULL), SB_BOOK_BAD_DATA);
    memset(large, 'x', SB_BOOK_DATA_MAX);
    memcpy(large, "{\"a\":\"", 6);
    memcpy(large + SB_BOOK_DATA_MAX - 2, "\"}", 3);
    assert_int_equal(note(f, large, NULL), SB_BOOK_BAD_DATA);
    memcpy(large + SB_BOOK_DATA_MAX - 3, "\"}", 3);
    assert_int_equal(note(f, large, NULL), SB_BOOK_OK); /* one byte less fits */
    free(large);
    sb_event event = {.at_ms = -1, .kind = SB_EVENT_NOTE, .data = "{}"};
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_BAD_DATA);
    event = (sb_event){.kind = SB_EVENT_NOTE, .string = 25, .data = "{}"};
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_BAD_DATA);
    event = (sb_event){.kind = SB_EVENT_DESCRIBED, .data = "{\"owner\":\"\"}"};
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_BAD_DATA);
    event = (sb_event){.kind = SB_EVENT_NOTE, .data = "{}"};
    assert_int_equal(sb_book_append(f->book, 999, &event, NULL), SB_BOOK_NO_INSTRUMENT);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &all), SB_BOOK_OK);
    assert_int_equal(all.n, 2);
}

static void new_strings_change_the_state(void **state) {
    fixture *f = *state;
    sb_description d;
    sb_event event = {.at_ms = DAY_MS, .kind = SB_EVENT_STRINGS};
#define FITTED(note) "{\"note\":\"" note "\",\"gauge_mm\":0.3,\"wound\":false,\"course\":"
    event.data = "{\"set\":\"light\",\"strings\":[" FITTED("D4") "1}," FITTED("A3") "2}," FITTED(
        "F3") "3}," FITTED("C3") "4}," FITTED("G2") "5}," FITTED("C2") "6}]}";
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_OK);
    assert_int_equal(sb_book_describe(f->book, f->id, &d), SB_BOOK_OK);
    assert_int_equal(d.instrument.strings[5].semitone, 36); /* C2 */
    assert_true(d.instrument.strings[0].gauge_mm == 0.3);
    assert_true(d.instrument.strings[5].scale_mm == 647.7); /* kept from before */
    event.data = "{\"strings\":[" FITTED("D4") "1}]}";
    assert_int_equal(sb_book_append(f->book, f->id, &event, NULL), SB_BOOK_BAD_DATA);
    d = described("electric", "");
    assert_int_equal(sb_book_edit(f->book, f->id, "renamed", &d, DAY_MS), SB_BOOK_OK);
    assert_int_equal(sb_book_describe(f->book, f->id, &d), SB_BOOK_OK);
    assert_int_equal(d.instrument.strings[5].semitone, 40); /* described anew: E2 again */
}

static void the_log_is_only_added_to(void **state) {
    fixture *f = *state;
    heard all = {.n = 0};
    assert_int_equal(note(f, "{\"n\":1}", NULL), SB_BOOK_OK);
    static const char *const wrong[] = {
        "UPDATE events SET data = '{}'",
        "DELETE FROM events",
        "INSERT INTO events VALUES (1, 1, 0, 'note', 0, '{}')",
        ("PRAGMA recursive_triggers = ON; INSERT OR REPLACE INTO events"
         " VALUES (2, 1, 0, 'note', 0, '{}')"),
        "INSERT OR REPLACE INTO events VALUES (2, 1, 0, 'note', 0, '{}')",
        "PRAGMA foreign_keys = ON; DELETE FROM instruments",
    };
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        assert_int_equal(outside(f->path, wrong[i]), SQLITE_CONSTRAINT);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &all), SB_BOOK_OK);
    assert_string_equal(all.text, "note:6:{\"n\":1};");
}

static void names_are_unique_and_sound(void **state) {
    fixture *f = *state;
    sb_description d = described("ukulele", "");
    int64_t id = 0, two = 0;
    char longest[SB_NAME_MAX + 1];
    memset(longest, 'n', sizeof longest);
    longest[SB_NAME_MAX - 1] = '\0';
    assert_int_equal(sb_book_add(f->book, "ONE", &d, 0, &id), SB_BOOK_TAKEN);
    assert_int_equal(sb_book_add(f->book, "", &d, 0, &id), SB_BOOK_BAD_NAME);
    assert_int_equal(sb_book_add(f->book, "\xff", &d, 0, &id), SB_BOOK_BAD_NAME);
    assert_int_equal(sb_book_add(f->book, longest, &d, 0, &id), SB_BOOK_OK);
    longest[SB_NAME_MAX - 1] = 'n';
    longest[SB_NAME_MAX] = '\0';
    assert_int_equal(sb_book_add(f->book, longest, &d, 0, &id), SB_BOOK_BAD_NAME);
    assert_int_equal(sb_book_add(f->book, "a\033[1m\xc2\x9b\n½", &d, 0, &two), SB_BOOK_OK);
    assert_int_equal(sb_book_find(f->book, "a\033[1m\xc2\x9b\n½", &id), SB_BOOK_OK);
    assert_int_equal(id, two); /* stored as it is; cleaned where it is printed */
    assert_int_equal(sb_book_edit(f->book, two, "one", &d, 0), SB_BOOK_TAKEN);
    assert_int_equal(sb_book_find(f->book, "'; DROP TABLE events; --", &id), SB_BOOK_NO_INSTRUMENT);
}

/* A description that cannot be takes its instrument with it. */
static void adding_is_all_or_nothing(void **state) {
    fixture *f = *state;
    sb_description d = described("ukulele", "");
    int64_t id = 77;
    d.instrument.frets = 0;
    assert_int_equal(sb_book_add(f->book, "half", &d, 0, &id), SB_BOOK_BAD_DATA);
    assert_int_equal(id, 77);
    assert_int_equal(sb_book_find(f->book, "half", &id), SB_BOOK_NO_INSTRUMENT);
}

static void removing_takes_one_log_only(void **state) {
    fixture *f = *state;
    sb_description d = described("ukulele", "");
    heard mine = {.n = 0}, gone = {.n = 0};
    int64_t two = 0, id = 0;
    assert_int_equal(sb_book_add(f->book, "two", &d, 0, &two), SB_BOOK_OK);
    assert_int_equal(note(f, "{}", NULL), SB_BOOK_OK);
    assert_int_equal(sb_book_remove(f->book, two), SB_BOOK_OK);
    assert_int_equal(sb_book_remove(f->book, two), SB_BOOK_NO_INSTRUMENT);
    assert_int_equal(sb_book_find(f->book, "two", &id), SB_BOOK_NO_INSTRUMENT);
    assert_int_equal(sb_book_read(f->book, two, 0, hear, &gone), SB_BOOK_OK);
    assert_int_equal(gone.n, 0);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &mine), SB_BOOK_OK);
    assert_int_equal(mine.n, 2);
    assert_int_equal(sb_book_add(f->book, "two", &d, 0, &id), SB_BOOK_OK);
    assert_true(id > two); /* no number is used twice */
}

/* --- the file -------------------------------------------------------------------------- */

static void only_the_owner_may_read_it(void **state) {
    fixture *f = *state;
    struct stat about;
    char folder[80];
    assert_int_equal(stat(f->path, &about), 0);
    assert_int_equal(about.st_mode & 07777, 0600);
    (void)snprintf(folder, sizeof folder, "%s/a/b", f->folder);
    assert_int_equal(stat(folder, &about), 0);
    assert_int_equal(about.st_mode & 07777, 0700);
}

static void expect_open(const fixture *f, sb_book_mode mode, sb_book_status want) {
    sb_book *book = NULL;
    sb_book_status got = sb_book_open(f->path, mode, &book);
    sb_book_close(book);
    assert_int_equal(got, want);
}

static void other_versions_and_files_are_told_apart(void **state) {
    fixture *f = *state;
    assert_int_equal(outside(f->path, "PRAGMA user_version = 99"), SQLITE_OK);
    expect_open(f, SB_BOOK_READ, SB_BOOK_NEWER);
    expect_open(f, SB_BOOK_WRITE, SB_BOOK_NEWER);
    assert_int_equal(outside(f->path, "PRAGMA user_version = 2; PRAGMA application_id = 0"), 0);
    expect_open(f, SB_BOOK_WRITE, SB_BOOK_FOREIGN);
    assert_int_equal(unlink(f->path), 0);
    expect_open(f, SB_BOOK_READ, SB_BOOK_ABSENT);
    assert_int_equal(outside(f->path, "CREATE TABLE theirs (a); INSERT INTO theirs VALUES (1)"), 0);
    expect_open(f, SB_BOOK_WRITE, SB_BOOK_FOREIGN);
    assert_int_equal(outside(f->path, "DELETE FROM theirs WHERE a = 2"), SQLITE_OK); /* as it was */
}

/* A file without a byte is begun, whoever made it; and it is brought to this version. */
static void an_empty_file_becomes_a_book(void **state) {
    fixture *f = *state;
    assert_int_equal(truncate(f->path, 0), 0);
    expect_open(f, SB_BOOK_READ, SB_BOOK_DAMAGED);
    reopen(f, SB_BOOK_WRITE);
    assert_int_equal(sb_book_find(f->book, "one", &f->id), SB_BOOK_NO_INSTRUMENT);
    expect_open(f, SB_BOOK_READ, SB_BOOK_OK);
}

static void a_locked_book_says_so(void **state) {
    fixture *f = *state;
    sqlite3 *other = NULL;
    heard all = {.n = 0};
    assert_int_equal(sqlite3_open(f->path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(note(f, "{}", NULL), SB_BOOK_LOCKED); /* after five seconds */
    assert_int_equal(sqlite3_exec(other, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    (void)sqlite3_close(other);
    assert_int_equal(note(f, "{}", NULL), SB_BOOK_OK);
    assert_int_equal(sb_book_read(f->book, f->id, 0, hear, &all), SB_BOOK_OK);
    assert_int_equal(all.n, 2);
}

/* Appends for ever, telling each event's number only after it was acknowledged. */
static void append_until_killed(const char *path, int64_t instrument, int out) {
    sb_book *book = NULL;
    int64_t id = 0;
    sb_event event = {.kind = SB_EVENT_READING, .string = 1, .data = "{\"cents\":4.6}"};
    if (sb_book_open(path, SB_BOOK_WRITE, &book) != SB_BOOK_OK)
        _exit(1);
    while (sb_book_append(book, instrument, &event, &id) == SB_BOOK_OK)
        if (write(out, &id, sizeof id) != (ssize_t)sizeof id)
            break;
    _exit(1);
}

/* Kills a child that appends after `count` acknowledged events and a little more. */
static int64_t last_acknowledged(const fixture *f, int count) {
    int ends[2], status = 0;
    int64_t id = 0, last = 0;
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        append_until_killed(f->path, f->id, ends[1]);
    (void)close(ends[1]);
    for (int i = 0; i < count && read(ends[0], &id, sizeof id) == (ssize_t)sizeof id; i++)
        last = id;
    (void)poll(NULL, 0, count);
    assert_int_equal(kill(child, SIGKILL), 0);
    while (read(ends[0], &id, sizeof id) == (ssize_t)sizeof id)
        last = id;
    (void)close(ends[0]);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    return last;
}

static void what_was_acknowledged_survives_a_kill(void **state) {
    fixture *f = *state;
    for (int trial = 0; trial < 30; trial++) {
        heard all = {.n = 0};
        sb_book_close(f->book); /* not across fork */
        f->book = NULL;
        int64_t last = last_acknowledged(f, 1 + trial % 7);
        assert_true(last > 0);
        assert_int_equal(sb_book_open(f->path, SB_BOOK_READ, &f->book), SB_BOOK_OK);
        assert_int_equal(sb_book_read(f->book, f->id, last - 1, hear, &all), SB_BOOK_OK);
        assert_true(all.n >= 1);
        assert_true(all.last_id <= last + 1); /* one more may have been under way */
    }
}

/* --- taking it elsewhere ---------------------------------------------------------------- */

static char *exported(sb_book *book) {
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    assert_int_equal(sb_book_export(book, out), SB_BOOK_OK);
    assert_int_equal(fclose(out), 0);
    return text;
}

static sb_book_status imported(sb_book *book, char *text, sb_book_import_report *report) {
    FILE *in = fmemopen(text, strlen(text), "r");
    assert_non_null(in);
    sb_book_status status = sb_book_import(book, in, report);
    assert_int_equal(fclose(in), 0);
    return status;
}

static void an_export_is_the_book(void **state) {
    fixture *f = *state;
    fixture copy = *f;
    sb_book_import_report report;
    sb_description d = described("12-string", "x\033y");
    int64_t id = 0;
    assert_int_equal(note(f, "{\"t\":\"\xc2\x9b½\\u0001\",\"v\":[0.1,1e-9,-3,null,true]}", NULL),
                     SB_BOOK_OK);
    assert_int_equal(sb_book_add(f->book, "a\x7f\n\"two\"", &d, DAY_MS, &id), SB_BOOK_OK);
    char *first = exported(f->book);
    for (const char *c = first; *c; c++)
        assert_true(*c == '\n' || (*c >= 0x20 && *c <= 0x7f)); /* nothing for a terminal to obey */
    (void)snprintf(copy.path, sizeof copy.path, "%s/copy.db", f->folder);
    assert_int_equal(sb_book_open(copy.path, SB_BOOK_WRITE, &copy.book), SB_BOOK_OK);
    assert_int_equal(imported(copy.book, first, &report), SB_BOOK_OK);
    assert_int_equal(report.added, 2);
    char *second = exported(copy.book);
    assert_string_equal(first, second);
    assert_int_equal(imported(copy.book, first, &report), SB_BOOK_TAKEN);
    free(second);
    second = exported(copy.book);
    assert_string_equal(first, second);
    free(first);
    free(second);
    sb_book_close(copy.book);
}

/* Cut at any byte, an export adds nothing. */
static void a_cut_export_adds_nothing(void **state) {
    fixture *f = *state;
    sb_book_import_report report;
    heard all = {.n = 0};
    int64_t id = 0;
    assert_int_equal(note(f, "{\"n\":1}", NULL), SB_BOOK_OK);
    char *text = exported(f->book);
    assert_int_equal(sb_book_remove(f->book, f->id), SB_BOOK_OK);
    for (size_t n = strlen(text) - 1; n > 0; n -= n > 40 ? 37 : 1) {
        char *part = calloc(1, n + 1);
        assert_non_null(part);
        memcpy(part, text, n);
        assert_int_equal(imported(f->book, part, &report), SB_BOOK_BAD_DATA);
        assert_true(report.what[0] && report.line > 0);
        assert_int_equal(sb_book_find(f->book, "one", &id), SB_BOOK_NO_INSTRUMENT);
        free(part);
    }
    assert_int_equal(imported(f->book, text, &report), SB_BOOK_OK);
    assert_int_equal(sb_book_find(f->book, "one", &id), SB_BOOK_OK);
    assert_int_equal(sb_book_read(f->book, id, 0, hear, &all), SB_BOOK_OK);
    assert_string_equal(all.text, "note:6:{\"n\":1};");
    free(text);
}

static void the_place_follows_the_environment(void **state) {
    (void)state;
    char path[100], tiny[8];
    assert_int_equal(setenv("SETBACK_BOOK", "/x/y.db", 1), 0);
    assert_int_equal(setenv("XDG_DATA_HOME", "/data", 1), 0);
    assert_int_equal(setenv("HOME", "/home/h", 1), 0);
    assert_true(sb_book_path("named.db", path, sizeof path));
    assert_string_equal(path, "named.db");
    assert_true(sb_book_path(NULL, path, sizeof path));
    assert_string_equal(path, "/x/y.db");
    assert_int_equal(unsetenv("SETBACK_BOOK"), 0);
    assert_true(sb_book_path(NULL, path, sizeof path));
    assert_string_equal(path, "/data/setback/book.db");
    assert_int_equal(setenv("XDG_DATA_HOME", "relative", 1), 0); /* "should be ignored" */
    assert_true(sb_book_path(NULL, path, sizeof path));
    assert_string_equal(path, "/home/h/.local/share/setback/book.db");
    assert_false(sb_book_path(NULL, tiny, sizeof tiny));
    assert_int_equal(unsetenv("HOME"), 0);
    assert_false(sb_book_path(NULL, path, sizeof path));
}

#define IN_A_BOOK(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_A_BOOK(an_instrument_comes_back),
        IN_A_BOOK(events_come_in_order),
        IN_A_BOOK(wrong_events_are_refused),
        IN_A_BOOK(new_strings_change_the_state),
        IN_A_BOOK(the_log_is_only_added_to),
        IN_A_BOOK(names_are_unique_and_sound),
        IN_A_BOOK(adding_is_all_or_nothing),
        IN_A_BOOK(removing_takes_one_log_only),
        IN_A_BOOK(only_the_owner_may_read_it),
        IN_A_BOOK(other_versions_and_files_are_told_apart),
        IN_A_BOOK(an_empty_file_becomes_a_book),
        IN_A_BOOK(a_locked_book_says_so),
        IN_A_BOOK(what_was_acknowledged_survives_a_kill),
        IN_A_BOOK(an_export_is_the_book),
        IN_A_BOOK(a_cut_export_adds_nothing),
        cmocka_unit_test(the_place_follows_the_environment),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
