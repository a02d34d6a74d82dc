/* A shop's settings, and a book from before there were any. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "cli/book.h"
#include "tests/support/scratch.h"

typedef struct {
    char folder[SCRATCH_MAX], path[80];
    sb_book *book;
} fixture;

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    if (!scratch_make(f->folder, SCRATCH_ON_DISK))
        return -1;
    (void)snprintf(f->path, sizeof f->path, "%s/book.db", f->folder);
    *state = f;
    return 0;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sb_book_close(f->book);
    int code = scratch_remove(f->folder);
    free(f);
    return code;
}

static void open_book(fixture *f, sb_book_mode mode) {
    sb_book_close(f->book);
    f->book = NULL;
    assert_int_equal(sb_book_open(f->path, mode, &f->book), SB_BOOK_OK);
}

/* What version 1 wrote, word for word. */
static const char version_1[] =
    "CREATE TABLE events (  id INTEGER PRIMARY KEY AUTOINCREMENT,  instrument INTEGER NOT NULL "
    "REFERENCES instruments (id),  at_ms INTEGER NOT NULL,  kind TEXT NOT NULL,  string INTEGER "
    "NOT NULL,  data TEXT NOT NULL) STRICT;"
    "CREATE TABLE instruments (  id INTEGER PRIMARY KEY AUTOINCREMENT,  name TEXT NOT NULL COLLATE "
    "NOCASE UNIQUE,  added_ms INTEGER NOT NULL,  removing INTEGER NOT NULL DEFAULT 0) STRICT;"
    "INSERT INTO instruments VALUES(1,'old',1795634728124,0);"
    "INSERT INTO events VALUES(1,1,1795634728124,'described',0,'{\"owner\":\"\",\"kind\":"
    "\"electric\",\"frets\":22,\"spacing_mm\":10.5,\"strings\":[{\"note\":\"E4\",\"gauge_mm\":"
    "0.254,\"wound\":false,\"course\":1,\"scale_mm\":647.7}],\"saddles\":[{\"strings\":[1,1],"
    "\"way\":\"screw\",\"shape\":\"flat\",\"thread_mm\":null,\"screw\":\"pulls\",\"travel_mm\":"
    "null}]}');"
    "CREATE INDEX events_log ON events (instrument);"
    "CREATE INDEX events_kind ON events (instrument, kind);"
    "CREATE TRIGGER events_never_change BEFORE UPDATE ON events BEGIN  SELECT RAISE(ABORT, 'the "
    "log is only added to'); END;"
    "CREATE TRIGGER events_never_go BEFORE DELETE ON events  WHEN NOT EXISTS (SELECT 1 FROM "
    "instruments WHERE id = OLD.instrument AND removing = 1)  BEGIN SELECT RAISE(ABORT, 'the log "
    "is only added to'); END;"
    "CREATE TRIGGER events_come_last BEFORE INSERT ON events  WHEN NEW.id <> -1 AND NEW.id <= "
    "(SELECT max(id) FROM events)  BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;"
    "PRAGMA application_id = 1396851275; PRAGMA user_version = 1;";

static void an_old_book_is_brought_up_to_date(void **state) {
    fixture *f = *state;
    sqlite3 *db = NULL;
    int64_t id = 0;
    sb_description d;
    char value[SB_SETTING_MAX] = "x";
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, version_1, NULL, NULL, NULL), SQLITE_OK);
    (void)sqlite3_close(db);
    open_book(f, SB_BOOK_READ);
    assert_int_equal(sb_book_find(f->book, "old", &id), SB_BOOK_OK);
    assert_int_equal(sb_book_describe(f->book, id, &d), SB_BOOK_OK);
    assert_string_equal(d.kind, "electric");
    assert_int_equal(sb_book_setting(f->book, "unit", value), SB_BOOK_OK);
    assert_string_equal(value, "");
    open_book(f, SB_BOOK_WRITE);
    assert_int_equal(sb_book_keep_settings(f->book, &(sb_setting_text){"unit", "thou"}, 1),
                     SB_BOOK_OK);
}

static bool count(void *context, const char *name, const char *value) {
    (void)value;
    (void)name;
    return ++*(int *)context < 3;
}

static void settings_are_kept_all_or_none(void **state) {
    fixture *f = *state;
    const sb_setting_text good[] = {{"b", "2"}, {"a", "1"}}, gone[] = {{"a", NULL}};
    const sb_setting_text bad[] = {{"a", "3"}, {"c", "\377"}}, empty[] = {{"a", ""}};
    const sb_setting_text more[] = {{"c", "1"}, {"d", "1"}};
    char value[SB_SETTING_MAX];
    int n = 0;
    open_book(f, SB_BOOK_WRITE);
    assert_int_equal(sb_book_keep_settings(f->book, good, 2), SB_BOOK_OK);
    assert_int_equal(sb_book_keep_settings(f->book, bad, 2), SB_BOOK_BAD_DATA);
    assert_int_equal(sb_book_keep_settings(f->book, empty, 1), SB_BOOK_BAD_DATA);
    open_book(f, SB_BOOK_READ);
    assert_int_equal(sb_book_setting(f->book, "a", value), SB_BOOK_OK);
    assert_string_equal(value, "1");
    assert_int_equal(sb_book_settings(f->book, count, &n), SB_BOOK_OK);
    assert_int_equal(n, 2);
    open_book(f, SB_BOOK_WRITE);
    assert_int_equal(sb_book_keep_settings(f->book, gone, 1), SB_BOOK_OK);
    assert_int_equal(sb_book_setting(f->book, "a", value), SB_BOOK_OK);
    assert_string_equal(value, "");
    assert_int_equal(sb_book_keep_settings(f->book, more, 2), SB_BOOK_OK);
    n = 0;
    assert_int_equal(sb_book_settings(f->book, count, &n), SB_BOOK_STOPPED);
}

#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(an_old_book_is_brought_up_to_date),
        IN_A_FOLDER(settings_are_kept_all_or_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
