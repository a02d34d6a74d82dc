/* From the log to what was measured. */
#include "cli/specs.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "cli/specs_parts.h"

/* --- the list --------------------------------------------------------------------------- */

static sb_spec *find(sb_specs *specs, const char *name) {
    for (size_t i = 0; i < specs->n; i++)
        if (strcmp(specs->spec[i].id.name, name) == 0)
            return &specs->spec[i];
    return NULL;
}

const sb_spec *sb_specs_find(const sb_specs *specs, const char *name) {
    for (size_t i = 0; i < specs->n; i++)
        if (strcmp(specs->spec[i].id.name, name) == 0)
            return &specs->spec[i];
    return NULL;
}

static void take_out(sb_specs *specs, sb_spec *spec) {
    size_t at = (size_t)(spec - specs->spec);
    specs->n--;
    memmove(spec, spec + 1, (specs->n - at) * sizeof *spec);
}

/* A place for it in the order of showing; NULL where there is no room. */
static sb_spec *put_in(sb_specs *specs, const sb_spec_id *id) {
    size_t at = 0;
    if (specs->n >= SB_SPECS_MAX)
        return NULL;
    while (at < specs->n && sb_spec_order(&specs->spec[at].id, id) < 0)
        at++;
    sb_spec *spec = &specs->spec[at];
    memmove(spec + 1, spec, (specs->n - at) * sizeof *spec);
    memset(spec, 0, sizeof *spec);
    spec->id = *id;
    specs->n++;
    return spec;
}

/* --- the fold --------------------------------------------------------------------------- */

static bool read_text(const json_t *object, sb_spec_value *value) {
    const char *text = json_string_value(json_object_get(object, "text"));
    if (!text || strlen(text) >= sizeof value->text)
        return false;
    memcpy(value->text, text, strlen(text) + 1);
    return true;
}

/* Lengths and resistances must be finite numbers, or "open"; jansson has no others. */
static bool read_value(const json_t *object, const sb_spec_id *id, sb_spec_value *value) {
    sb_measure measure = sb_spec_facts_of(id->kind)->measure;
    if (measure == SB_MEASURE_TEXT)
        return read_text(object, value);
    const char *text = json_string_value(json_object_get(object, "text"));
    bool ohm = measure == SB_MEASURE_OHM;
    if (ohm && text && strcmp(text, "open") == 0) {
        value->value = (double)INFINITY;
        return true;
    }
    const json_t *number = json_object_get(object, ohm ? "value_ohm" : "value_mm");
    value->value = json_number_value(number);
    return json_is_number(number) && !(ohm && value->value < 0);
}

static void fold_value(sb_specs *specs, const sb_event *event, const json_t *object,
                       const sb_spec_id *id) {
    sb_spec_value value = {.known = true, .at_ms = event->at_ms, .event = event->id};
    sb_spec *spec = find(specs, id->name);
    if (json_is_true(json_object_get(object, "withdrawn"))) {
        if (spec)
            take_out(specs, spec);
        return;
    }
    if (!read_value(object, id, &value))
        return;
    bool fresh = !spec;
    if (fresh)
        spec = put_in(specs, id);
    if (!spec)
        return;
    if (fresh || spec->outdated || json_is_true(json_object_get(object, "changed")))
        spec->base = value.value;
    spec->latest = value;
    spec->outdated = false;
    if (!spec->first.known)
        spec->first = value;
}

/* Something was changed at the bench, and not measured. */
static void fold_change(sb_specs *specs, int string, const char *what) {
    for (size_t i = 0; i < specs->n; i++) {
        sb_spec *spec = &specs->spec[i];
        int own = spec->id.side == SB_SIDE_TREBLE ? 1
                  : spec->id.side == SB_SIDE_BASS ? (int)specs->description.instrument.n_strings
                                                  : spec->id.number;
        if (strcmp(sb_spec_facts_of(spec->id.kind)->what, what) == 0 &&
            (string == 0 || own == 0 || own == string))
            spec->outdated = true;
    }
}

static void fold_measured(sb_specs *specs, const sb_event *event) {
    json_t *object = json_loads(event->data, 0, NULL);
    const char *name = json_string_value(json_object_get(object, "name"));
    const char *what = json_string_value(json_object_get(object, "what"));
    sb_spec_id id;
    if (name && sb_spec_named(name, &id) == SB_OK)
        fold_value(specs, event, object, &id);
    else if (!name && what && json_is_true(json_object_get(object, "changed")))
        fold_change(specs, event->string, what);
    json_decref(object);
}

static void fold_visit(sb_specs *specs, const sb_event *event) {
    json_t *object = json_loads(event->data, 0, NULL);
    const char *what = json_string_value(json_object_get(object, "what"));
    specs->in_visit = !(what && strcmp(what, "ended") == 0);
    for (size_t i = 0; specs->in_visit && i < specs->n; i++)
        specs->spec[i].first = (sb_spec_value){.known = false};
    json_decref(object);
}

static bool fold(void *context, const sb_event *event) {
    sb_specs *specs = context;
    switch (event->kind) {
    case SB_EVENT_DESCRIBED:
    case SB_EVENT_STRINGS: (void)sb_event_describes(event, &specs->description); break;
    case SB_EVENT_MEASURED: fold_measured(specs, event); break;
    case SB_EVENT_VISIT: fold_visit(specs, event); break;
    default: break;
    }
    return true;
}

sb_book_status sb_specs_read(sb_book *book, int64_t instrument, sb_specs *out) {
    memset(out, 0, sizeof *out);
    sb_book_status status = sb_book_read(book, instrument, 0, fold, out);
    return status == SB_BOOK_OK ? sb_specs_judge(book, out) : status;
}
