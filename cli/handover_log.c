/* What of a visit's events goes on the sheet besides the readings: notes, changes, surveys, and, in
 * handover_heard.c, what was heard. Fields that are missing or of another kind are passed over. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "cli/handover.h"
#include "cli/handover_heard.h"
#include "cli/json_memory.h"
#include "cli/text.h"

typedef struct {
    sb_handover *sheet;
    int64_t begun, ended; /* the visit's events; 0: none */
    int64_t last_ms;      /* of its work */
    bool worked;
    sb_heard heard;
} reader;

/* --- where the visit begins ------------------------------------------------------------- */

static bool find_visit(void *context, const sb_event *event) {
    reader *r = context;
    json_t *data = event->kind == SB_EVENT_VISIT ? json_loads(event->data, 0, NULL) : NULL;
    const char *what = json_string_value(json_object_get(data, "what"));
    if (event->kind == SB_EVENT_VISIT && !(what && strcmp(what, "ended") == 0)) {
        r->begun = event->id;
        r->ended = 0;
        r->worked = false;
        r->last_ms = event->at_ms;
    } else if (event->kind == SB_EVENT_VISIT || r->ended > 0) {
        r->ended = r->ended > 0 ? r->ended : event->id; /* a recheck afterwards is none of it */
    } else if (event->kind != SB_EVENT_DESCRIBED) {
        r->last_ms = event->at_ms;
        r->worked = true;
    } else if (!r->worked) {
        r->last_ms = event->at_ms;
    }
    json_decref(data);
    return true;
}

/* --- fields ---------------------------------------------------------------------------- */

/* A person's words or a name, clean, its line ends and tabs made spaces; "" where there is none. */
static char *words(const json_t *object, const char *key) {
    const char *text = json_string_value(json_object_get(object, key));
    size_t size = text ? strlen(text) + 1 : 1;
    char *spaced = sb_phrase("%s", text ? text : ""), *clean = malloc(size);
    for (char *c = spaced; c && *c; c++)
        if (*c == '\n' || *c == '\r' || *c == '\t')
            *c = ' ';
    if (spaced && clean)
        sb_text_clean(spaced, clean, size);
    free(spaced);
    return clean;
}

static void keep_event(reader *r, json_t *object, const sb_event *event) {
    (void)json_object_set_new(object, "string",
                              event->string > 0 ? json_integer(event->string) : json_null());
    (void)json_object_set_new(object, "at_ms", json_integer(event->at_ms));
    char *text = sb_json_text(object, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12));
    sb_say(&r->sheet->events, "%s", text ? text : "{}");
    r->sheet->events.failed = r->sheet->events.failed || !text;
    free(text);
}

static void read_measured(reader *r, json_t *object, const sb_event *event) {
    const char *what = json_string_value(json_object_get(object, "what"));
    sb_change change = SB_CHANGES;
    if (!what)
        return;
    if (sb_change_named(what, &change)) {
        /* What has a name has a value too: handover_specs.c tells whether that changed. */
        if (json_is_true(json_object_get(object, "changed")) && !json_object_get(object, "name"))
            r->sheet->changed[change] = true;
        return;
    }
    size_t n_strings = r->sheet->instrument.n_strings;
    bool on_string = event->string > 0 && (size_t)event->string <= n_strings;
    if (sb_heard_read(&r->heard, what, object, on_string ? event->string : 0))
        keep_event(r, object, event);
}

/* --- the rest --------------------------------------------------------------------------- */

static void read_strings(reader *r, const sb_event *event) {
    for (size_t i = 0; i < r->sheet->instrument.n_strings; i++)
        if (event->string == 0 || (size_t)event->string == i + 1)
            r->sheet->fitted[i] = true;
}

static void read_note(reader *r, const json_t *object) {
    char *text = words(object, "text");
    if (!text || text[strspn(text, " ")] != '\0')
        sb_say(&r->sheet->notes, "%s", text ? text : "");
    r->sheet->notes.failed = r->sheet->notes.failed || !text;
    free(text);
}

/* Of a survey, which has no octave error but a verdict in words. */
static void read_survey(reader *r, const json_t *object, const sb_event *event) {
    char verdict[300];
    sb_heard_field(object, "in_words", verdict, sizeof verdict);
    if (verdict[0] && event->string > 0)
        sb_say(&r->sheet->found, "String %d, measured at several frets: %s.", event->string,
               verdict);
}

static bool read_event(void *context, const sb_event *event) {
    reader *r = context;
    if (r->ended > 0 && event->id > r->ended)
        return true;
    json_t *object = json_loads(event->data, 0, NULL);
    switch (event->kind) {
    case SB_EVENT_STRINGS: read_strings(r, event); break;
    case SB_EVENT_READING: read_survey(r, object, event); break;
    case SB_EVENT_MEASURED: read_measured(r, object, event); break;
    case SB_EVENT_NOTE: read_note(r, object); break;
    default: break;
    }
    json_decref(object);
    return true;
}

sb_book_status sb_handover_read_log(const sb_bench *bench, sb_handover *sheet) {
    reader *r = calloc(1, sizeof *r);
    if (!r)
        return SB_BOOK_MEMORY;
    r->sheet = sheet;
    sb_book_status status = sb_book_read(bench->book, bench->id, 0, find_visit, r);
    if (status == SB_BOOK_OK)
        status = sb_book_read(bench->book, bench->id, r->begun, read_event, r);
    sheet->at_ms = r->last_ms;
    if (status == SB_BOOK_OK)
        status = sb_handover_read_specs(bench, sheet);
    sb_heard_show(&r->heard, sheet);
    free(r);
    return status;
}
