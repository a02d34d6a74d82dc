#include "cli/book_store.h"

#include <stdarg.h>

sb_book_status sb_store_status(int code) {
    if (code == SQLITE_IOERR_NOMEM)
        return SB_BOOK_MEMORY;
    if (code == SQLITE_CONSTRAINT_UNIQUE)
        return SB_BOOK_TAKEN;
    if (code == SQLITE_CONSTRAINT_FOREIGNKEY)
        return SB_BOOK_NO_INSTRUMENT;
    switch (code & 0xff) {
    case SQLITE_OK:
    case SQLITE_ROW:
    case SQLITE_DONE: return SB_BOOK_OK;
    case SQLITE_BUSY:
    case SQLITE_LOCKED: return SB_BOOK_LOCKED;
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH: return SB_BOOK_FORBIDDEN;
    case SQLITE_CANTOPEN: return SB_BOOK_NO_PLACE;
    case SQLITE_NOTADB: return SB_BOOK_FOREIGN;
    case SQLITE_CORRUPT: return SB_BOOK_DAMAGED;
    case SQLITE_FULL: return SB_BOOK_FULL;
    case SQLITE_NOMEM: return SB_BOOK_MEMORY;
    case SQLITE_TOOBIG: return SB_BOOK_BAD_DATA;
    case SQLITE_ERROR: return SB_BOOK_DAMAGED; /* our SQL is right, so the schema is not */
    default: return SB_BOOK_IO;
    }
}

sb_book_status sb_store_run(sb_book *book, const char *sql) {
    return sb_store_status(sqlite3_exec(book->db, sql, NULL, NULL, NULL));
}

sb_book_status sb_store_prepare(sb_book *book, sqlite3_stmt **statement, const char *sql,
                                const char *types, ...) {
    int code = sqlite3_prepare_v2(book->db, sql, -1, statement, NULL);
    va_list values;
    va_start(values, types);
    for (int i = 1; code == SQLITE_OK && types[i - 1]; i++) {
        if (types[i - 1] == 'i')
            code = sqlite3_bind_int64(*statement, i, va_arg(values, int64_t));
        else
            code =
                sqlite3_bind_text(*statement, i, va_arg(values, const char *), -1, SQLITE_STATIC);
    }
    va_end(values);
    if (code != SQLITE_OK) {
        (void)sqlite3_finalize(*statement);
        *statement = NULL;
    }
    return sb_store_status(code);
}

sb_book_status sb_store_finish(sqlite3_stmt *statement) {
    int code = SQLITE_ROW;
    while (code == SQLITE_ROW)
        code = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    return sb_store_status(code);
}

sb_book_status sb_store_begin(sb_book *book) {
    return sb_store_run(book, "BEGIN IMMEDIATE");
}

sb_book_status sb_store_end(sb_book *book, sb_book_status status) {
    if (status == SB_BOOK_OK)
        status = sb_store_run(book, "COMMIT");
    if (status != SB_BOOK_OK && !sqlite3_get_autocommit(book->db))
        (void)sb_store_run(book, "ROLLBACK"); /* whatever comes of it, nothing is committed */
    return status;
}
