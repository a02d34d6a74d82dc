/* The page cli/share/setback-book.5 against a book as it is made: versions, tables, columns and
 * kinds of events, no more and no fewer. SQLite reads the book. */
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

typedef struct {
    char text[32768]; /* the page, with its dashes plain */
    char path[64];
    sqlite3 *db;
} fixture;

static void read_page(char *text, size_t size) {
    FILE *file = fopen("cli/share/setback-book.5", "r");
    size_t n = file ? fread(text, 1, size - 1, file) : 0;
    text[n] = '\0';
    if (file)
        (void)fclose(file);
    for (char *c; (c = strstr(text, "\\-"));)
        memmove(c, c + 1, strlen(c));
}

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    char folder[] = "/tmp/setback.XXXXXX";
    sb_book *book = NULL;
    if (!f || !mkdtemp(folder))
        return -1;
    *state = f;
    read_page(f->text, sizeof f->text);
    (void)snprintf(f->path, sizeof f->path, "%s/book.db", folder);
    if (sb_book_open(f->path, SB_BOOK_WRITE, &book) != SB_BOOK_OK)
        return -1;
    sb_book_close(book);
    return sqlite3_open(f->path, &f->db);
}

static int tear_down(void **state) {
    fixture *f = *state;
    (void)sqlite3_close(f->db);
    (void)remove(f->path);
    *strrchr(f->path, '/') = '\0';
    (void)remove(f->path);
    free(f);
    return 0;
}

static void assert_says(const fixture *f, const char *words) {
    if (!strstr(f->text, words))
        fail_msg("the page does not say \"%s\"", words);
}

static long long number(const fixture *f, const char *sql) {
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_prepare_v2(f->db, sql, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    long long value = sqlite3_column_int64(row, 0);
    (void)sqlite3_finalize(row);
    return value;
}

static void test_the_numbers_in_the_file(void **state) {
    const fixture *f = *state;
    char words[3][80];
    (void)snprintf(words[0], 80, "Application id 0x%llX in", number(f, "PRAGMA application_id"));
    (void)snprintf(words[1], 80, "is that of the schema: %lld.", number(f, "PRAGMA user_version"));
    (void)snprintf(words[2], 80, "under %d KiB.", SB_BOOK_DATA_MAX / 1024);
    for (int i = 0; i < 3; i++)
        assert_says(f, words[i]);
}

/* Whether `name` stands as a term between `from` and `to`; counts the terms. */
static bool is_term(const char *from, const char *to, const char *name, int *terms) {
    bool found = false;
    *terms = 0;
    for (const char *at = from; (at = strstr(at, ".TP\n.B ")) && at < to; at++) {
        size_t n = strlen(name);
        found = found || (strncmp(at + 7, name, n) == 0 && at[7 + n] == '\n');
        ++*terms;
    }
    return found;
}

/* Ends where the next section or subsection begins. */
static const char *section(const fixture *f, const char *heading, const char **end) {
    const char *at = strstr(f->text, heading);
    if (!at)
        fail_msg("no section \"%s\"", heading);
    const char *under = strstr(at + 1, "\n.S");
    *end = under ? under : at + strlen(at);
    return at;
}

static void test_tables_and_their_columns(void **state) {
    const fixture *f = *state;
    sqlite3_stmt *row = NULL;
    int columns = 0, terms = 0, in_page = 0;
    char heading[40] = "";
    assert_int_equal(sqlite3_prepare_v2(f->db,
                                        "SELECT m.name, c.name FROM sqlite_schema AS m, "
                                        "pragma_table_info(m.name) AS c WHERE m.type = 'table' "
                                        "AND m.name NOT LIKE 'sqlite_%'",
                                        -1, &row, NULL),
                     SQLITE_OK);
    for (; sqlite3_step(row) == SQLITE_ROW; columns++) {
        const char *end, *column = (const char *)sqlite3_column_text(row, 1);
        char wanted[40];
        (void)snprintf(wanted, sizeof wanted, "\n.SS %s\n", sqlite3_column_text(row, 0));
        const char *from = section(f, wanted, &end);
        if (!is_term(from, end, column, &terms))
            fail_msg("%s: the page lacks column %s", wanted, column);
        in_page += strcmp(heading, wanted) != 0 ? terms : 0;
        memcpy(heading, wanted, sizeof heading);
    }
    (void)sqlite3_finalize(row);
    assert_true(columns > 0);
    assert_int_equal(in_page, columns);
}

static void test_kinds_of_events(void **state) {
    const fixture *f = *state;
    const char *end, *from = section(f, "\n.SH EVENTS\n", &end);
    int terms = 0;
    for (int kind = 0; kind < SB_EVENT_KINDS; kind++)
        if (!is_term(from, end, sb_event_text((sb_event_kind)kind), &terms))
            fail_msg("the page lacks events of kind %s", sb_event_text((sb_event_kind)kind));
    assert_int_equal(terms, SB_EVENT_KINDS);
}

/* The first line of the example is that of an export. */
static void test_the_export(void **state) {
    const fixture *f = *state;
    char line[100] = "";
    sb_book *book = NULL;
    FILE *out = tmpfile();
    assert_non_null(out);
    assert_int_equal(sb_book_open(f->path, SB_BOOK_READ, &book), SB_BOOK_OK);
    assert_int_equal(sb_book_export(book, out), SB_BOOK_OK);
    sb_book_close(book);
    rewind(out);
    assert_non_null(fgets(line, sizeof line, out));
    (void)fclose(out);
    if (!strstr(f->text, line))
        fail_msg("the page does not show the line %s", line);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_the_numbers_in_the_file, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_tables_and_their_columns, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_kinds_of_events, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_the_export, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
