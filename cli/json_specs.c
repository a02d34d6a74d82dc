/* setback.specs/1 */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "cli/json_value.h"
#include "cli/specs_print.h"

static json_t *words(const char *text) {
    return text[0] ? json_string(text) : json_null();
}

/* What all have; the rest goes in below. */
static json_t *head_object(const sb_specs_shown *q, const sb_spec *s) {
    char title[SB_SPEC_TITLE_MAX], shown[SB_SPEC_TEXT_MAX];
    sb_spec_title(&s->id, title, sizeof title);
    sb_spec_show(&s->id, &s->latest, q->specs->unit, shown, sizeof shown);
    return json_pack("{s:s, s:s, s:s, s:I, s:b, s:s}", "name", s->id.name, "what",
                     sb_spec_facts_of(s->id.kind)->what, "title", title, "at_ms",
                     (json_int_t)s->latest.at_ms, "outdated", (int)s->outdated, "shown", shown);
}

static json_t *verdict_object(const sb_spec *s) {
    json_t *band =
        s->banded ? json_pack("[o, o]", sb_json_number(s->band.low), sb_json_number(s->band.high))
                  : json_null();
    const char *from = !s->banded ? "" : s->own ? "shop" : "common practice";
    return json_pack("{s:o, s:o, s:o, s:o}", "band", band, "band_from", words(from), "verdict",
                     words(sb_spec_verdict_text(s->id.kind, s->latest.verdict)), "first_verdict",
                     words(sb_spec_verdict_text(s->id.kind, s->first.verdict)));
}

static json_t *length_object(const sb_spec *s) {
    return json_pack("{s:f, s:o}", "value_mm", s->latest.value, "first_mm",
                     sb_json_number_if(s->first.known, s->first.value));
}

static json_t *ohm_object(const sb_spec *s) {
    return json_pack("{s:o, s:o, s:b, s:o, s:o, s:o, s:b}", "value_ohm",
                     sb_json_number(s->latest.value), "first_ohm",
                     sb_json_number_if(s->first.known, s->first.value), "open",
                     (int)isinf(s->latest.value), "parallel_ohm",
                     sb_json_number_if(s->coils_known, s->coils.parallel_ohm), "series_ohm",
                     sb_json_number_if(s->coils_known, s->coils.series_ohm), "remark",
                     words(s->remark), "fault", (int)s->fault);
}

/* Takes `more` over. */
static bool join(json_t *object, json_t *more) {
    bool joined = object && more && json_object_update(object, more) == 0;
    json_decref(more);
    return joined;
}

static json_t *spec_object(const sb_specs_shown *q, const sb_spec *s) {
    json_t *object = head_object(q, s);
    sb_measure measure = sb_spec_facts_of(s->id.kind)->measure;
    bool whole = false;
    if (measure == SB_MEASURE_TEXT)
        whole = join(object, json_pack("{s:s}", "text", s->latest.text));
    else
        whole = join(object, measure == SB_MEASURE_OHM ? ohm_object(s) : length_object(s)) &&
                join(object, verdict_object(s));
    if (whole)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *even(const sb_evenness *e) {
    return e->judged ? json_boolean(e->even) : json_null();
}

static json_t *remarks(const sb_specs *specs) {
    json_t *list = json_array();
    const char *const texts[] = {specs->uneven12, specs->uneven17,
                                 specs->worn ? SB_WORN_CAUTION : ""};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        if (texts[i][0])
            (void)json_array_append_new(list, json_string(texts[i]));
    return list;
}

bool sb_json_specs(FILE *out, const sb_specs_shown *q) {
    json_t *list = json_array(), *changed = json_array();
    bool whole = true;
    for (size_t i = 0; i < q->specs->n; i++)
        whole = !json_array_append_new(list, spec_object(q, &q->specs->spec[i])) && whole;
    for (size_t i = 0; i < q->n_changed; i++)
        whole = !json_array_append_new(changed, json_string(q->changed[i].name)) && whole;
    json_t *object =
        json_pack("{s:s, s:s, s:o, s:s, s:b, s:o, s:o, s:o, s:o, s:o}", "schema", "setback.specs/1",
                  "instrument", q->name, "kind", words(q->specs->kind), "unit",
                  sb_spec_unit_text(q->specs->unit), "in_visit", (int)q->specs->in_visit, "specs",
                  list, "changed", changed, "even_at_12", even(&q->specs->even12), "even_at_17",
                  even(&q->specs->even17), "remarks", remarks(q->specs));
    if (object && whole) {
        (void)json_dumpf(object, out, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(10));
        (void)fputc('\n', out);
    }
    json_decref(object);
    return object && whole;
}
