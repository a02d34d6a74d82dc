/* The schema of the book and its history. To change it: raise SB_BOOK_VERSION, add the step
 * that leads there from the version before, and say in cli/share/setback-book.5 what is new. */
#include "cli/book_store.h"

#define APPLICATION_ID 0x5342424b /* "SBBK", in the file's header: tells a book from others */

static const char version_1[] =
    "CREATE TABLE instruments ("
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,"
    "  name TEXT NOT NULL COLLATE NOCASE UNIQUE,"
    "  added_ms INTEGER NOT NULL,"
    "  removing INTEGER NOT NULL DEFAULT 0) STRICT;"
    "CREATE TABLE events ("
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,"
    "  instrument INTEGER NOT NULL REFERENCES instruments (id),"
    "  at_ms INTEGER NOT NULL,"
    "  kind TEXT NOT NULL,"
    "  string INTEGER NOT NULL,"
    "  data TEXT NOT NULL) STRICT;"
    /* Each holds the rowid as well, so that both are in the log's order. */
    "CREATE INDEX events_log ON events (instrument);"
    "CREATE INDEX events_kind ON events (instrument, kind);"
    "CREATE TRIGGER events_never_change BEFORE UPDATE ON events BEGIN"
    "  SELECT RAISE(ABORT, 'the log is only added to'); END;"
    "CREATE TRIGGER events_never_go BEFORE DELETE ON events"
    "  WHEN NOT EXISTS (SELECT 1 FROM instruments WHERE id = OLD.instrument AND removing = 1)"
    "  BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;"
    /* Neither an INSERT OR REPLACE nor an old place: NEW.id is -1 where it is left to SQLite. */
    "CREATE TRIGGER events_come_last BEFORE INSERT ON events"
    "  WHEN NEW.id <> -1 AND NEW.id <= (SELECT max(id) FROM events)"
    "  BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;";

/* What a shop sets for itself. */
static const char version_2[] =
    "CREATE TABLE settings (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;";

static const char *const steps[SB_BOOK_VERSION] = {version_1, version_2};

static sb_book_status number(sb_book *book, const char *sql, int64_t *value) {
    sqlite3_stmt *statement = NULL;
    sb_book_status status = sb_store_prepare(book, &statement, sql, "");
    if (status != SB_BOOK_OK)
        return status;
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW)
        *value = sqlite3_column_int64(statement, 0);
    (void)sqlite3_finalize(statement);
    return sb_store_status(code);
}

/* The version of the schema, 0 for a file with nothing in it. */
static sb_book_status version_of(sb_book *book, int64_t *version) {
    int64_t application = 0, objects = 0;
    sb_book_status status = number(book, "PRAGMA user_version", version);
    if (status == SB_BOOK_OK)
        status = number(book, "PRAGMA application_id", &application);
    if (status == SB_BOOK_OK)
        status = number(book, "SELECT count(*) FROM sqlite_schema", &objects);
    if (status != SB_BOOK_OK)
        return status;
    bool nothing = application == 0 && *version == 0 && objects == 0;
    if (!nothing && (application != APPLICATION_ID || *version < 1))
        return SB_BOOK_FOREIGN;
    return *version > SB_BOOK_VERSION ? SB_BOOK_NEWER : SB_BOOK_OK;
}

static sb_book_status stamp(sb_book *book) {
    char sql[100];
    (void)snprintf(sql, sizeof sql, "PRAGMA application_id = %d; PRAGMA user_version = %d",
                   APPLICATION_ID, SB_BOOK_VERSION);
    return sb_store_run(book, sql);
}

sb_book_status sb_store_migrate(sb_book *book) {
    int64_t version = 0;
    sb_book_status status = version_of(book, &version);
    if (status != SB_BOOK_OK || version == SB_BOOK_VERSION)
        return status;
    status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    status = version_of(book, &version); /* another program may have been quicker */
    bool behind = version < SB_BOOK_VERSION;
    for (; status == SB_BOOK_OK && version < SB_BOOK_VERSION; version++)
        status = sb_store_run(book, steps[version]);
    if (status == SB_BOOK_OK && behind)
        status = stamp(book);
    return sb_store_end(book, status);
}
