/* The sheet as setback.handover/1; fields in DEVELOPERS.md. */
#include <jansson.h>
#include <stdlib.h>

#include "cli/handover.h"
#include "cli/json_memory.h"
#include "cli/json_value.h"

#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12))

/* json_pack fails on a NULL that it is given to take over, so that a failed allocation shows once,
 * at the end. */

static json_t *sayings(const sb_sayings *list) {
    json_t *array = json_array();
    for (size_t i = 0; i < list->n; i++)
        if (json_array_append_new(array, json_string(list->item[i])) != 0) {
            json_decref(array);
            return NULL;
        }
    return array;
}

/* Takes the item over; an array that could not be added to is gone. */
static json_t *with(json_t *array, json_t *item) {
    if (!array || json_array_append_new(array, item) == 0)
        return array;
    json_decref(array);
    return NULL;
}

static json_t *string_object(const sb_handover *h, size_t i) {
    const sb_handover_string *s = &h->strings[i];
    const sb_string *is = &h->instrument.strings[i];
    return json_pack(
        "{s:i, s:s, s:o, s:b, s:b, s:s, s:o, s:o, s:o, s:o, s:b, s:o, s:o}", "string", (int)i + 1,
        "note", s->note, "gauge_mm", sb_json_number_if(is->gauge_mm > 0, is->gauge_mm), "wound",
        (int)is->wound, "fitted", (int)h->fitted[i], "state", sb_string_state_text(s->state),
        "before_cents", sb_json_number_if(s->before_known, s->before.cents),
        "before_std_error_cents", sb_json_number_if(s->before_known, s->before.std_error),
        "after_cents", sb_json_number_if(s->after_known, s->after.cents), "after_std_error_cents",
        sb_json_number_if(s->after_known, s->after.std_error), "read_again", (int)s->again,
        "saddle_move_mm", sb_json_number_if(true, s->moved_mm), "wanting",
        s->wants ? json_string(s->wants) : json_null());
}

static json_t *strings(const sb_handover *h) {
    json_t *array = json_array();
    for (size_t i = 0; i < h->instrument.n_strings; i++)
        array = with(array, string_object(h, i));
    return array;
}

static json_t *rows(const sb_handover *h) {
    json_t *array = json_array();
    for (size_t i = 0; i < h->n_rows; i++) {
        const sb_handover_row *r = &h->rows[i];
        array =
            with(array, json_pack("{s:s, s:s, s:s, s:s, s:s}", "what", r->what, "before", r->before,
                                  "after", r->now, "usual", r->usual, "remark", r->remark));
    }
    return array;
}

static json_t *events(const sb_handover *h) {
    json_t *array = json_array();
    for (size_t i = 0; i < h->events.n; i++)
        array = with(array, json_loads(h->events.item[i], 0, NULL));
    return array;
}

static json_t *head(const sb_handover *h) {
    return json_pack("{s:s, s:b, s:s, s:s, s:s, s:f, s:i, s:s, s:o}", "schema",
                     "setback.handover/1", "draft", (int)h->draft, "instrument", h->name, "owner",
                     h->owner, "day", h->day, "tolerance_cents", h->tolerance_cents, "fret",
                     h->fret, "result", h->result, "strings", strings(h));
}

static json_t *words(const sb_handover *h) {
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "wanting",
                     sayings(&h->wanting), "found", sayings(&h->found), "done", sayings(&h->done),
                     "remains", sayings(&h->remains), "measured", rows(h), "events", events(h),
                     "notes", sayings(&h->notes), "expect", sayings(&h->expect), "cautions",
                     sayings(&h->cautions));
}

bool sb_json_handover(FILE *out, const sb_handover *sheet) {
    json_t *object = head(sheet), *more = words(sheet);
    bool good = object && more && json_object_update(object, more) == 0;
    char *text = good ? sb_json_text(object, WRITTEN) : NULL;
    json_decref(object);
    json_decref(more);
    if (text)
        (void)fprintf(out, "%s\n", text);
    free(text);
    return text != NULL;
}
