/* Event data: descriptions and strings from and to JSON. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "cli/book_store.h"
#include "cli/json_memory.h"
#include "core/pitch.h"

/* 15 digits: what is written so is read and written again the same. */
#define WRITTEN (JSON_COMPACT | JSON_REAL_PRECISION(15))

static const char *const ways[] = {"screw", "hand", "fixed"};
static const char *const shapes[] = {"flat", "slant"};
static const char *const screws[] = {"pulls", "pushes"};

sb_book_status sb_data_canonical(const char *data, char **out) {
    json_t *object = json_loads(data, JSON_REJECT_DUPLICATES, NULL);
    bool good = json_is_object(object);
    char *text = good ? sb_json_text(object, WRITTEN) : NULL;
    json_decref(object);
    if (good && !text)
        return SB_BOOK_MEMORY;
    if (!text || strlen(text) >= SB_BOOK_DATA_MAX) {
        free(text);
        return SB_BOOK_BAD_DATA;
    }
    *out = text;
    return SB_BOOK_OK;
}

/* --- to JSON -------------------------------------------------------------------------- */

static json_t *string_object(const sb_string *s) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(s->semitone, note, sizeof note);
    json_t *gauge = s->gauge_mm > 0 ? json_real(s->gauge_mm) : json_null();
    return json_pack("{s:s, s:o, s:b, s:i, s:f}", "note", note, "gauge_mm", gauge, "wound",
                     (int)s->wound, "course", s->course, "scale_mm", s->scale_mm);
}

static json_t *saddle_object(const sb_saddle *s) {
    json_t *thread = s->thread_mm > 0 ? json_real(s->thread_mm) : json_null();
    json_t *travel = s->limited ? json_pack("[f, f]", s->forward_mm, s->back_mm) : json_null();
    return json_pack("{s:[I, I], s:s, s:s, s:o, s:s, s:o}", "strings", (json_int_t)s->first,
                     (json_int_t)s->last, "way", ways[s->way], "shape", shapes[s->shape],
                     "thread_mm", thread, "screw", screws[s->screw], "travel_mm", travel);
}

char *sb_data_from_description(const sb_description *d) {
    json_t *strings = json_array(), *saddles = json_array();
    bool whole = true;
    for (size_t i = 0; i < d->instrument.n_strings; i++)
        whole = !json_array_append_new(strings, string_object(&d->instrument.strings[i])) && whole;
    for (size_t i = 0; i < d->instrument.n_saddles; i++)
        whole = !json_array_append_new(saddles, saddle_object(&d->instrument.saddles[i])) && whole;
    json_t *object = json_pack("{s:s, s:s, s:i, s:f, s:o, s:o}", "owner", d->owner, "kind", d->kind,
                               "frets", d->instrument.frets, "spacing_mm", d->instrument.spacing_mm,
                               "strings", strings, "saddles", saddles);
    char *text = whole ? sb_json_text(object, WRITTEN) : NULL;
    json_decref(object);
    return text;
}

/* --- from JSON ------------------------------------------------------------------------ */

static bool read_number(const json_t *object, const char *key, double *value) {
    const json_t *number = json_object_get(object, key);
    *value = json_number_value(number);
    return json_is_number(number);
}

/* A number, or null for what is not known, which is kept as 0. */
static bool read_known(const json_t *object, const char *key, double *value) {
    if (!json_is_null(json_object_get(object, key)))
        return read_number(object, key, value);
    *value = 0;
    return true;
}

static bool read_index(const json_t *value, size_t *index) {
    json_int_t whole = json_integer_value(value);
    *index = (size_t)whole;
    return json_is_integer(value) && whole >= 1 && whole <= SB_STRINGS_MAX;
}

static bool read_int(const json_t *object, const char *key, int *value) {
    json_int_t whole = json_integer_value(json_object_get(object, key));
    *value = (int)whole;
    return whole >= 1 && whole <= 1000;
}

static bool read_word(const json_t *object, const char *key, const char *const words[], size_t n,
                      int *index) {
    const char *text = json_string_value(json_object_get(object, key));
    for (*index = 0; text && (size_t)*index < n; (*index)++)
        if (strcmp(words[*index], text) == 0)
            return true;
    return false;
}

static bool read_text(const json_t *object, const char *key, char *text, size_t size) {
    const char *value = json_string_value(json_object_get(object, key));
    if (!value || strlen(value) >= size)
        return false;
    memcpy(text, value, strlen(value) + 1);
    return true;
}

static bool read_string(const json_t *object, sb_string *s) {
    char note[SB_NOTE_TEXT_MAX];
    const json_t *wound = json_object_get(object, "wound");
    s->wound = json_is_true(wound);
    bool scale = json_object_get(object, "scale_mm") == NULL ||
                 read_number(object, "scale_mm", &s->scale_mm);
    return scale && read_text(object, "note", note, sizeof note) &&
           sb_note_parse(note, &s->semitone) == SB_OK &&
           read_known(object, "gauge_mm", &s->gauge_mm) && json_is_boolean(wound) &&
           read_int(object, "course", &s->course);
}

static bool read_travel(const json_t *travel, sb_saddle *s) {
    s->limited = !json_is_null(travel);
    const json_t *forward = json_array_get(travel, 0), *back = json_array_get(travel, 1);
    s->forward_mm = json_number_value(forward);
    s->back_mm = json_number_value(back);
    return travel && (!s->limited || (json_array_size(travel) == 2 && json_is_number(forward) &&
                                      json_is_number(back)));
}

static bool read_saddle(const json_t *object, sb_saddle *s) {
    const json_t *strings = json_object_get(object, "strings");
    int way = 0, shape = 0, screw = 0;
    *s = (sb_saddle){.first = 0};
    bool good =
        json_array_size(strings) == 2 && read_index(json_array_get(strings, 0), &s->first) &&
        read_index(json_array_get(strings, 1), &s->last) &&
        read_word(object, "way", ways, 3, &way) && read_word(object, "shape", shapes, 2, &shape) &&
        read_word(object, "screw", screws, 2, &screw) &&
        read_known(object, "thread_mm", &s->thread_mm) &&
        read_travel(json_object_get(object, "travel_mm"), s);
    s->way = (sb_saddle_way)way;
    s->shape = (sb_saddle_shape)shape;
    s->screw = (sb_screw_action)screw;
    return good;
}

static bool read_strings(const json_t *object, sb_instrument *it) {
    const json_t *list = json_object_get(object, "strings");
    it->n_strings = json_array_size(list);
    bool good = it->n_strings > 0 && it->n_strings <= SB_STRINGS_MAX;
    for (size_t i = 0; good && i < it->n_strings; i++)
        good = read_string(json_array_get(list, i), &it->strings[i]);
    return good;
}

static bool read_saddles(const json_t *object, sb_instrument *it) {
    const json_t *list = json_object_get(object, "saddles");
    it->n_saddles = json_array_size(list);
    bool good = it->n_saddles > 0 && it->n_saddles <= SB_STRINGS_MAX;
    for (size_t i = 0; good && i < it->n_saddles; i++)
        good = read_saddle(json_array_get(list, i), &it->saddles[i]);
    return good;
}

const char *sb_data_describe(const char *data, sb_description *out) {
    sb_description d;
    memset(&d, 0, sizeof d);
    json_t *object = json_loads(data, JSON_REJECT_DUPLICATES, NULL);
    bool good = read_text(object, "owner", d.owner, sizeof d.owner) &&
                read_text(object, "kind", d.kind, sizeof d.kind) &&
                read_int(object, "frets", &d.instrument.frets) &&
                read_number(object, "spacing_mm", &d.instrument.spacing_mm) &&
                read_strings(object, &d.instrument) && read_saddles(object, &d.instrument);
    json_decref(object);
    const char *fault = good ? sb_instrument_fault(&d.instrument)
                             : "a field of the description is missing or wrong";
    if (!fault)
        *out = d;
    return fault;
}

const char *sb_data_restring(const char *data, sb_description *out) {
    sb_description d = *out;
    json_t *object = json_loads(data, JSON_REJECT_DUPLICATES, NULL);
    bool good = read_strings(object, &d.instrument);
    json_decref(object);
    const char *fault =
        good ? sb_instrument_fault(&d.instrument) : "a field of the strings is missing or wrong";
    if (!fault)
        *out = d;
    return fault;
}

bool sb_event_describes(const sb_event *event, sb_description *description) {
    if (event->kind == SB_EVENT_DESCRIBED)
        return !sb_data_describe(event->data, description);
    return event->kind == SB_EVENT_STRINGS && !sb_data_restring(event->data, description);
}
