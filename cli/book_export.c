/* The book as JSON Lines, out and in; the format is in DEVELOPERS.md. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "cli/book_store.h"
#include "cli/json_memory.h"

#define SCHEMA         "setback.book/1"
#define WRITTEN        (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(15))
#define LINE_MAX_BYTES (SB_BOOK_DATA_MAX + 8192)

/* --- out ------------------------------------------------------------------------------ */

typedef struct {
    sb_book *book;
    FILE *out;
    json_int_t instruments, events;
    sb_book_status status;
} outgoing;

/* Takes the object over; false when it was none. */
static bool put_line(outgoing *o, json_t *object) {
    if (!object) {
        o->status = SB_BOOK_MEMORY;
        return false;
    }
    (void)json_dumpf(object, o->out, WRITTEN);
    (void)fputc('\n', o->out);
    json_decref(object);
    if (ferror(o->out))
        o->status = SB_BOOK_IO;
    return o->status == SB_BOOK_OK;
}

static bool export_event(void *context, const sb_event *e) {
    outgoing *o = context;
    json_t *data = json_loads(e->data, 0, NULL);
    if (!data) {
        o->status = SB_BOOK_DAMAGED;
        return false;
    }
    o->events++;
    return put_line(o, json_pack("{s:s, s:I, s:i, s:o}", "event", sb_event_text(e->kind), "at_ms",
                                 (json_int_t)e->at_ms, "string", e->string, "data", data));
}

static bool export_setting(void *context, const char *name, const char *value) {
    return put_line(context, json_pack("{s:s, s:s}", "setting", name, "value", value));
}

static bool export_instrument(void *context, const sb_book_entry *entry) {
    outgoing *o = context;
    o->instruments++;
    if (!put_line(o, json_pack("{s:s, s:I}", "instrument", entry->name, "added_ms",
                               (json_int_t)entry->added_ms)))
        return false;
    sb_book_status status = sb_book_read(o->book, entry->id, 0, export_event, o);
    if (status != SB_BOOK_OK && o->status == SB_BOOK_OK)
        o->status = status;
    return o->status == SB_BOOK_OK;
}

/* A damaged page may hide whole instruments from a query without its failing. */
static sb_book_status check_pages(sb_book *book) {
    sqlite3_stmt *row = NULL;
    sb_book_status status = sb_store_prepare(book, &row, "PRAGMA quick_check(1)", "");
    if (status != SB_BOOK_OK)
        return status;
    int code = sqlite3_step(row);
    const unsigned char *word = code == SQLITE_ROW ? sqlite3_column_text(row, 0) : NULL;
    bool good = word && strcmp((const char *)word, "ok") == 0;
    (void)sqlite3_finalize(row);
    status = sb_store_status(code);
    return status == SB_BOOK_OK && !good ? SB_BOOK_DAMAGED : status;
}

sb_book_status sb_book_export(sb_book *book, FILE *out) {
    outgoing o = {.book = book, .out = out, .status = SB_BOOK_OK};
    sb_book_status status = sb_store_run(book, "BEGIN");
    if (status != SB_BOOK_OK)
        return status;
    status = check_pages(book);
    if (status == SB_BOOK_OK && put_line(&o, json_pack("{s:s}", "schema", SCHEMA)))
        status = sb_book_settings(book, export_setting, &o);
    if (status == SB_BOOK_OK && o.status == SB_BOOK_OK)
        status = sb_book_list(book, 0, export_instrument, &o);
    if (o.status != SB_BOOK_OK)
        status = o.status;
    if (status == SB_BOOK_OK &&
        !put_line(&o, json_pack("{s:s, s:I, s:I}", "end", SCHEMA, "instruments", o.instruments,
                                "events", o.events)))
        status = o.status;
    return sb_store_end(book, status);
}

/* --- in ------------------------------------------------------------------------------- */

typedef struct {
    sb_book *book;
    sb_book_import_report *report;
    int64_t instrument; /* whose events are coming; 0 before the first */
    bool described, ended;
    json_int_t events;
} incoming;

static sb_book_status bad(incoming *in, const char *what) {
    in->report->what = what;
    return SB_BOOK_BAD_DATA;
}

static sb_book_status import_setting(incoming *in, json_t *line) {
    sb_setting_text setting = {NULL, NULL};
    if (json_unpack(line, "{s:s, s:s!}", "setting", &setting.name, "value", &setting.value) != 0)
        return bad(in, "a setting has a name and a value, no more and no less");
    if (in->instrument)
        return bad(in, "settings come before the instruments");
    sb_book_status status = sb_store_keep(in->book, &setting, false);
    return status == SB_BOOK_BAD_DATA ? bad(in, "a setting must be 1 to 199 bytes of UTF-8")
                                      : status;
}

static sb_book_status import_instrument(incoming *in, json_t *line) {
    const char *name = NULL;
    json_int_t added_ms = 0;
    if (json_unpack(line, "{s:s, s:I!}", "instrument", &name, "added_ms", &added_ms) != 0)
        return bad(in, "an instrument has a name and added_ms, no more and no less");
    if (in->instrument && !in->described)
        return bad(in, "the instrument before has no description");
    in->described = false;
    in->report->added++;
    sb_book_status status = sb_store_add(in->book, name, added_ms, &in->instrument);
    if (status == SB_BOOK_BAD_NAME)
        return bad(in, "a name must be 1 to 199 bytes of UTF-8, and added_ms a time");
    if (status == SB_BOOK_TAKEN)
        (void)snprintf(in->report->name, sizeof in->report->name, "%s", name);
    return status;
}

static sb_book_status import_event(incoming *in, json_t *line) {
    const char *kind = NULL;
    json_int_t at_ms = 0, string = 0;
    json_t *data = NULL;
    sb_event event = {.id = 0};
    if (json_unpack(line, "{s:s, s:I, s:I, s:o!}", "event", &kind, "at_ms", &at_ms, "string",
                    &string, "data", &data) != 0)
        return bad(in, "an event has a kind, at_ms, string and data, no more and no less");
    if (!sb_event_named(kind, &event.kind))
        return bad(in, "no such kind of event");
    if (!in->instrument || (!in->described && event.kind != SB_EVENT_DESCRIBED))
        return bad(in, "a log begins with its instrument and the description of it");
    in->described = true;
    in->events++;
    char *text = sb_json_text(data, WRITTEN);
    event.at_ms = at_ms;
    event.string = string >= 0 && string <= SB_STRINGS_MAX ? (int)string : -1;
    event.data = text;
    sb_book_status status =
        text ? sb_store_append(in->book, in->instrument, &event, NULL) : SB_BOOK_MEMORY;
    free(text);
    return status == SB_BOOK_BAD_DATA ? bad(in, "the event's time, string or data cannot be")
                                      : status;
}

static sb_book_status import_end(incoming *in, json_t *line) {
    const char *schema = NULL;
    json_int_t instruments = 0, events = 0;
    if (json_unpack(line, "{s:s, s:I, s:I!}", "end", &schema, "instruments", &instruments, "events",
                    &events) != 0 ||
        strcmp(schema, SCHEMA) != 0)
        return bad(in, "the last line is not as it should be");
    if (in->instrument && !in->described)
        return bad(in, "the instrument before has no description");
    in->ended = true;
    if (instruments != (json_int_t)in->report->added || events != in->events)
        return bad(in, "lines are missing: the counts at the end are others");
    return SB_BOOK_OK;
}

static sb_book_status import_line(incoming *in, json_t *line) {
    const char *schema = NULL;
    if (in->ended)
        return bad(in, "there is more after the end");
    if (in->report->line > 1)
        return json_object_get(line, "event")        ? import_event(in, line)
               : json_object_get(line, "instrument") ? import_instrument(in, line)
               : json_object_get(line, "setting")    ? import_setting(in, line)
                                                     : import_end(in, line);
    if (json_unpack(line, "{s:s!}", "schema", &schema) != 0 || strcmp(schema, SCHEMA) != 0)
        return bad(in, "the first line must be {\"schema\":\"" SCHEMA "\"}");
    return SB_BOOK_OK;
}

static sb_book_status import_text(incoming *in, const char *text) {
    in->report->line++;
    if (!strchr(text, '\n'))
        return bad(in, "the line is too long, cut off, or holds a NUL");
    json_t *line = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    sb_book_status status =
        json_is_object(line) ? import_line(in, line) : bad(in, "the line is not a JSON object");
    json_decref(line);
    return status;
}

sb_book_status sb_book_import(sb_book *book, FILE *file, sb_book_import_report *report) {
    *report = (sb_book_import_report){.what = ""};
    incoming in = {.book = book, .report = report};
    char *text = malloc(LINE_MAX_BYTES);
    if (!text)
        return SB_BOOK_MEMORY;
    sb_book_status status = sb_store_begin(book);
    bool begun = status == SB_BOOK_OK;
    while (status == SB_BOOK_OK && fgets(text, LINE_MAX_BYTES, file))
        status = import_text(&in, text);
    if (status == SB_BOOK_OK && ferror(file))
        status = SB_BOOK_IO;
    else if (status == SB_BOOK_OK && !in.ended) {
        report->line++;
        status = bad(&in, "the end is missing: the file was cut off");
    }
    free(text);
    return begun ? sb_store_end(book, status) : status;
}
