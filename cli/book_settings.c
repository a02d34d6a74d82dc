/* The shop's own settings. */
#include "cli/book_store.h"

#include <string.h>

static const char *text_at(sqlite3_stmt *row, int column) {
    const unsigned char *text = sqlite3_column_text(row, column);
    return text ? (const char *)text : "";
}

sb_book_status sb_book_setting(sb_book *book, const char *name, char *value) {
    sqlite3_stmt *row = NULL;
    sb_book_status status =
        sb_store_prepare(book, &row, "SELECT value FROM settings WHERE name = ?", "t", name);
    if (status != SB_BOOK_OK)
        return status;
    int code = sqlite3_step(row);
    status = sb_store_status(code);
    if (status == SB_BOOK_OK)
        (void)snprintf(value, SB_SETTING_MAX, "%s", code == SQLITE_ROW ? text_at(row, 0) : "");
    (void)sqlite3_finalize(row);
    return status;
}

sb_book_status sb_book_settings(sb_book *book,
                                bool (*each)(void *, const char *name, const char *value),
                                void *context) {
    sqlite3_stmt *row = NULL;
    sb_book_status status =
        sb_store_prepare(book, &row, "SELECT name, value FROM settings ORDER BY name", "");
    int code = SQLITE_OK;
    while (status == SB_BOOK_OK && (code = sqlite3_step(row)) == SQLITE_ROW)
        if (!each(context, text_at(row, 0), text_at(row, 1)))
            status = SB_BOOK_STOPPED;
    (void)sqlite3_finalize(row);
    return status == SB_BOOK_OK ? sb_store_status(code) : status;
}

sb_book_status sb_store_keep(sb_book *book, const sb_setting_text *setting, bool over) {
    sqlite3_stmt *statement = NULL;
    const char *insert = over ? "INSERT INTO settings (name, value) VALUES (?, ?) "
                                "ON CONFLICT (name) DO UPDATE SET value = excluded.value"
                              : "INSERT OR IGNORE INTO settings (name, value) VALUES (?, ?)";
    if (!sb_book_name_good(setting->name) || (setting->value && !sb_book_name_good(setting->value)))
        return SB_BOOK_BAD_DATA;
    sb_book_status status =
        setting->value
            ? sb_store_prepare(book, &statement, insert, "tt", setting->name, setting->value)
            : sb_store_prepare(book, &statement, "DELETE FROM settings WHERE name = ?", "t",
                               setting->name);
    return status == SB_BOOK_OK ? sb_store_finish(statement) : status;
}

sb_book_status sb_book_keep_settings(sb_book *book, const sb_setting_text settings[], size_t n) {
    sb_book_status status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    for (size_t i = 0; i < n && status == SB_BOOK_OK; i++)
        status = sb_store_keep(book, &settings[i], true);
    return sb_store_end(book, status);
}
