#include "cli/book_store.h"

#include <stdlib.h>
#include <string.h>

#include "cli/text.h"

#define LAST_MS 253402300799999 /* the last millisecond of the year 9999 */

static const char *const kinds[SB_EVENT_KINDS] = {"described", "strings",  "pluck", "reading",
                                                  "move",      "measured", "note",  "visit"};

const char *sb_event_text(sb_event_kind kind) {
    return kinds[kind];
}

bool sb_event_named(const char *text, sb_event_kind *kind) {
    for (int i = 0; i < SB_EVENT_KINDS; i++)
        if (strcmp(kinds[i], text) == 0) {
            *kind = (sb_event_kind)i;
            return true;
        }
    return false;
}

/* Any UTF-8 is stored as it is, control characters too; those go when it is printed. */
bool sb_book_name_good(const char *name) {
    char clean[SB_NAME_MAX], plain[SB_NAME_MAX];
    size_t n = strlen(name);
    if (n == 0 || n >= SB_NAME_MAX)
        return false;
    for (size_t i = 0; i <= n; i++) {
        bool control = (unsigned char)name[i] < 0x20 || name[i] == 0x7f;
        plain[i] = name[i];
        if (control && name[i] != '\0')
            plain[i] = ' ';
        if (i > 0 && (unsigned char)name[i - 1] == 0xc2 && (unsigned char)name[i] >= 0x80 &&
            (unsigned char)name[i] < 0xa0)
            memcpy(plain + i - 1, "  ", 2); /* a C1 control character */
    }
    sb_text_clean(plain, clean, sizeof clean);
    return strcmp(plain, clean) == 0;
}

/* --- the log -------------------------------------------------------------------------- */

static const char *text_at(sqlite3_stmt *row, int column) {
    const unsigned char *text = sqlite3_column_text(row, column);
    return text ? (const char *)text : "";
}

/* Whether a description or a set of strings says something that can be. */
static sb_book_status check_state(sb_book *book, int64_t instrument, const sb_event *event) {
    sb_description d;
    if (event->kind == SB_EVENT_DESCRIBED)
        return sb_data_describe(event->data, &d) ? SB_BOOK_BAD_DATA : SB_BOOK_OK;
    if (event->kind != SB_EVENT_STRINGS)
        return SB_BOOK_OK;
    sb_book_status status = sb_book_describe(book, instrument, &d);
    return status == SB_BOOK_OK && sb_data_restring(event->data, &d) ? SB_BOOK_BAD_DATA : status;
}

static sb_book_status insert_event(sb_book *book, int64_t instrument, const sb_event *event,
                                   const char *data, int64_t *id) {
    sqlite3_stmt *statement = NULL;
    sb_book_status status = sb_store_prepare(
        book, &statement,
        "INSERT INTO events (instrument, at_ms, kind, string, data) VALUES (?, ?, ?, ?, ?)",
        "iitit", instrument, event->at_ms, sb_event_text(event->kind), (int64_t)event->string,
        data);
    if (status == SB_BOOK_OK)
        status = sb_store_finish(statement);
    if (status == SB_BOOK_OK && id)
        *id = sqlite3_last_insert_rowid(book->db);
    return status;
}

sb_book_status sb_store_append(sb_book *book, int64_t instrument, const sb_event *event,
                               int64_t *id) {
    if (event->at_ms < 0 || event->at_ms > LAST_MS || event->string < 0 ||
        event->string > SB_STRINGS_MAX)
        return SB_BOOK_BAD_DATA;
    sb_book_status status = check_state(book, instrument, event);
    if (status != SB_BOOK_OK)
        return status;
    char *data = NULL;
    status = sb_data_canonical(event->data, &data);
    if (status == SB_BOOK_OK)
        status = insert_event(book, instrument, event, data, id);
    free(data);
    return status;
}

sb_book_status sb_book_append(sb_book *book, int64_t instrument, const sb_event *event,
                              int64_t *id) {
    sb_book_status status = sb_store_begin(book);
    return status != SB_BOOK_OK ? status
                                : sb_store_end(book, sb_store_append(book, instrument, event, id));
}

sb_book_status sb_book_append_all(sb_book *book, int64_t instrument, const sb_event events[],
                                  size_t n) {
    sb_book_status status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    for (size_t i = 0; i < n && status == SB_BOOK_OK; i++)
        status = sb_store_append(book, instrument, &events[i], NULL);
    return sb_store_end(book, status);
}

sb_book_status sb_book_read(sb_book *book, int64_t instrument, int64_t after,
                            bool (*each)(void *, const sb_event *), void *context) {
    sqlite3_stmt *row = NULL;
    sb_book_status status = sb_store_prepare(
        book, &row,
        "SELECT id, at_ms, kind, string, data FROM events WHERE instrument = ? AND id > ? "
        "ORDER BY id",
        "ii", instrument, after);
    int code = SQLITE_OK;
    while (status == SB_BOOK_OK && (code = sqlite3_step(row)) == SQLITE_ROW) {
        sb_event event = {.id = sqlite3_column_int64(row, 0),
                          .at_ms = sqlite3_column_int64(row, 1),
                          .string = sqlite3_column_int(row, 3),
                          .data = text_at(row, 4)};
        if (!sb_event_named(text_at(row, 2), &event.kind))
            status = SB_BOOK_DAMAGED;
        else if (!each(context, &event))
            status = SB_BOOK_STOPPED;
    }
    (void)sqlite3_finalize(row);
    return status == SB_BOOK_OK ? sb_store_status(code) : status;
}

/* --- instruments ---------------------------------------------------------------------- */

#define ENTRY                                                                                      \
    "SELECT i.id, i.name, i.added_ms,"                                                             \
    " (SELECT count(*) FROM events WHERE instrument = i.id),"                                      \
    " (SELECT at_ms FROM events WHERE instrument = i.id ORDER BY id DESC LIMIT 1),"                \
    " d.data,"                                                                                     \
    " (SELECT data FROM events WHERE instrument = i.id AND kind = 'strings' AND id > d.id"         \
    "  ORDER BY id DESC LIMIT 1) "                                                                 \
    "FROM instruments i JOIN events d ON d.id ="                                                   \
    " (SELECT max(id) FROM events WHERE instrument = i.id AND kind = 'described') "

static const char entry_of_all[] = ENTRY "WHERE ? = 0 ORDER BY i.name, i.id";
static const char entry_of_one[] = ENTRY "WHERE i.id = ?";

sb_book_status sb_book_list(sb_book *book, int64_t id, bool (*each)(void *, const sb_book_entry *),
                            void *context) {
    sqlite3_stmt *row = NULL;
    sb_book_status status = sb_store_prepare(book, &row, id ? entry_of_one : entry_of_all, "i", id);
    int code = SQLITE_OK;
    while (status == SB_BOOK_OK && (code = sqlite3_step(row)) == SQLITE_ROW) {
        sb_book_entry entry = {.id = sqlite3_column_int64(row, 0),
                               .name = text_at(row, 1),
                               .added_ms = sqlite3_column_int64(row, 2),
                               .events = sqlite3_column_int64(row, 3),
                               .last_ms = sqlite3_column_int64(row, 4),
                               .described = text_at(row, 5),
                               .strings = (const char *)sqlite3_column_text(row, 6)};
        if (!each(context, &entry))
            status = SB_BOOK_STOPPED;
    }
    (void)sqlite3_finalize(row);
    return status == SB_BOOK_OK ? sb_store_status(code) : status;
}

typedef struct {
    sb_description description;
    bool found, whole;
} state;

static bool take_state(void *context, const sb_book_entry *entry) {
    state *s = context;
    s->found = true;
    s->whole = !sb_data_describe(entry->described, &s->description) &&
               !(entry->strings && sb_data_restring(entry->strings, &s->description));
    return true;
}

sb_book_status sb_book_describe(sb_book *book, int64_t id, sb_description *out) {
    state s = {.found = false};
    sb_book_status status =
        id == 0 ? SB_BOOK_NO_INSTRUMENT : sb_book_list(book, id, take_state, &s);
    if (status == SB_BOOK_OK && !s.found)
        status = SB_BOOK_NO_INSTRUMENT;
    if (status == SB_BOOK_OK && !s.whole)
        status = SB_BOOK_DAMAGED;
    if (status == SB_BOOK_OK)
        *out = s.description;
    return status;
}

sb_book_status sb_book_find(sb_book *book, const char *name, int64_t *id) {
    sqlite3_stmt *row = NULL;
    sb_book_status status =
        sb_store_prepare(book, &row, "SELECT id FROM instruments WHERE name = ?", "t", name);
    if (status != SB_BOOK_OK)
        return status;
    int code = sqlite3_step(row);
    if (code == SQLITE_ROW)
        *id = sqlite3_column_int64(row, 0);
    (void)sqlite3_finalize(row);
    return code == SQLITE_DONE ? SB_BOOK_NO_INSTRUMENT : sb_store_status(code);
}

sb_book_status sb_store_add(sb_book *book, const char *name, int64_t at_ms, int64_t *id) {
    sqlite3_stmt *statement = NULL;
    if (!sb_book_name_good(name) || at_ms < 0 || at_ms > LAST_MS)
        return SB_BOOK_BAD_NAME;
    sb_book_status status =
        sb_store_prepare(book, &statement, "INSERT INTO instruments (name, added_ms) VALUES (?, ?)",
                         "ti", name, at_ms);
    if (status == SB_BOOK_OK)
        status = sb_store_finish(statement);
    if (status == SB_BOOK_OK)
        *id = sqlite3_last_insert_rowid(book->db);
    return status;
}

static sb_book_status append_description(sb_book *book, int64_t id,
                                         const sb_description *description, int64_t at_ms) {
    if (*description->owner && !sb_book_name_good(description->owner))
        return SB_BOOK_BAD_NAME;
    char *data = sb_data_from_description(description);
    sb_event event = {.at_ms = at_ms, .kind = SB_EVENT_DESCRIBED, .data = data};
    sb_book_status status = data ? sb_store_append(book, id, &event, NULL) : SB_BOOK_MEMORY;
    free(data);
    return status;
}

sb_book_status sb_book_add(sb_book *book, const char *name, const sb_description *description,
                           int64_t at_ms, int64_t *id) {
    int64_t added = 0;
    sb_book_status status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    status = sb_store_add(book, name, at_ms, &added);
    if (status == SB_BOOK_OK)
        status = append_description(book, added, description, at_ms);
    status = sb_store_end(book, status);
    if (status == SB_BOOK_OK)
        *id = added;
    return status;
}

static sb_book_status rename_instrument(sb_book *book, int64_t id, const char *name) {
    sqlite3_stmt *statement = NULL;
    if (!sb_book_name_good(name))
        return SB_BOOK_BAD_NAME;
    sb_book_status status = sb_store_prepare(
        book, &statement, "UPDATE instruments SET name = ? WHERE id = ?", "ti", name, id);
    return status == SB_BOOK_OK ? sb_store_finish(statement) : status;
}

sb_book_status sb_book_edit(sb_book *book, int64_t id, const char *name,
                            const sb_description *description, int64_t at_ms) {
    sb_book_status status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    status = name ? rename_instrument(book, id, name) : SB_BOOK_OK;
    if (status == SB_BOOK_OK)
        status = append_description(book, id, description, at_ms);
    return sb_store_end(book, status);
}

sb_book_status sb_book_remove(sb_book *book, int64_t id) {
    static const char *const steps[] = {"UPDATE instruments SET removing = 1 WHERE id = ?",
                                        "DELETE FROM events WHERE instrument = ?",
                                        "DELETE FROM instruments WHERE id = ?"};
    sb_book_status status = sb_store_begin(book);
    if (status != SB_BOOK_OK)
        return status;
    for (size_t i = 0; i < 3 && status == SB_BOOK_OK; i++) {
        sqlite3_stmt *statement = NULL;
        status = sb_store_prepare(book, &statement, steps[i], "i", id);
        if (status == SB_BOOK_OK)
            status = sb_store_finish(statement);
    }
    if (status == SB_BOOK_OK && sqlite3_changes(book->db) == 0)
        status = SB_BOOK_NO_INSTRUMENT;
    return sb_store_end(book, status);
}
