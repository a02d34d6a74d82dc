/* book_store: what the files of the book share; no one else includes it.
 */
#ifndef SB_BOOK_STORE_H
#define SB_BOOK_STORE_H

#include <sqlite3.h>

#include "cli/book.h"

struct sb_book {
    sqlite3 *db;
};

/* An SQLite result as a status; SQLITE_OK, ROW and DONE are SB_BOOK_OK. */
sb_book_status sb_store_status(int sqlite_code);

/* Runs SQL that has no parameters and no rows to keep. */
sb_book_status sb_store_run(sb_book *book, const char *sql);

/* Prepares one statement with integer and text parameters in the order of `types`: 'i' an
 * int64_t, 't' a const char * that outlives the statement. */
sb_book_status sb_store_prepare(sb_book *book, sqlite3_stmt **statement, const char *sql,
                                const char *types, ...);

/* Steps to the end and finalizes, for statements without rows. */
sb_book_status sb_store_finish(sqlite3_stmt *statement);

/* Begins a writing transaction. */
sb_book_status sb_store_begin(sb_book *book);

/* Commits where `status` is OK, otherwise rolls back; the status of the whole. */
sb_book_status sb_store_end(sb_book *book, sb_book_status status);

/* Makes the schema, or brings it up to date; judges whether the file is a book at all. */
sb_book_status sb_store_migrate(sb_book *book);

/* sb_book_append and the first half of sb_book_add, within a transaction that is open. */
sb_book_status sb_store_append(sb_book *book, int64_t instrument, const sb_event *event,
                               int64_t *id);
sb_book_status sb_store_add(sb_book *book, const char *name, int64_t at_ms, int64_t *id);

/* Keeps a setting within a transaction that is open; `over`: also where there is one already. */
sb_book_status sb_store_keep(sb_book *book, const sb_setting_text *setting, bool over);

/* A JSON object as it is stored, to be freed; BAD_DATA where it is none or too long. */
sb_book_status sb_data_canonical(const char *data, char **text);

/* A description as event data, to be freed; NULL when out of memory. */
char *sb_data_from_description(const sb_description *description);

/* Reads event data of DESCRIBED; what is wrong in words, NULL for nothing. */
const char *sb_data_describe(const char *data, sb_description *out);

/* Puts the strings of an SB_EVENT_STRINGS on; as above. A string that names no scale length
 * keeps that of the string before it on the same place. */
const char *sb_data_restring(const char *data, sb_description *out);

#endif
