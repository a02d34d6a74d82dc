/* setback.predict/1: the prediction for scripts. */
#include <jansson.h>
#include <math.h>

#include "cli/prediction.h"
#include "core/pitch.h"

#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(10))

static const char *const origins[] = {"model", "given", "reading"};

/* json_pack takes objects over, failed ones (NULL) too, and then fails itself. */
static json_t *cents_object(const sb_predicted *q, const double cents[]) {
    json_t *object = json_object();
    for (size_t i = 0; object && i < q->task->fit.n_frets; i++) {
        char fret[16];
        (void)snprintf(fret, sizeof fret, "%d", q->task->fit.frets[i]);
        if (json_object_set_new(object, fret, json_real(cents[i])) != 0) {
            json_decref(object);
            return NULL;
        }
    }
    return object;
}

static json_t *data_object(const sb_predicted *q, size_t i) {
    const sb_wire *w = &q->p->string[i].wire;
    const sb_string *s = &q->set->strings[i];
    return json_pack("{s:s, s:b, s:o, s:f, s:f, s:f, s:f, s:s, s:s, s:s, s:s}", "material",
                     sb_material_text(q->set->data[i].material), "wound", (int)s->wound, "gauge_mm",
                     s->gauge_mm > 0 ? json_real(s->gauge_mm) : json_null(), "unit_mass_g_per_m",
                     1e3 * w->unit_mass_kg_m, "core_mm", w->core_mm, "modulus_gpa",
                     1e-9 * w->modulus_pa, "stretch_over_tension", w->stretch_n / w->tension_n,
                     "unit_mass_from", origins[w->mass_from], "core_from", origins[w->core_from],
                     "stretch_from", origins[w->stretch_from], "bending_from",
                     origins[w->bending_from]);
}

static json_t *string_object(const sb_predicted *q, size_t i) {
    const sb_compensation *c = &q->p->string[i];
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(q->set->strings[i].semitone, note, sizeof note);
    return json_pack(
        "{s:i, s:s, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:o, s:o, s:f, s:f, s:o}",
        "string", (int)i + 1, "note", note, "scale_mm", q->set->strings[i].scale_mm, "hz",
        sb_note_hz(q->set->strings[i].semitone, q->task->a4_hz), "tension_n", c->wire.tension_n,
        "tension_std_error_n", c->tension_std_error_n, "inharmonicity", c->wire.inharmonicity,
        "inharmonicity_std_error", c->inharmonicity_std_error, "saddle_setback_mm",
        c->saddle_mm + 0.0, "saddle_std_error_mm", c->saddle_std_error_mm, "nut_setback_mm",
        c->nut_mm + 0.0, "nut_std_error_mm", c->nut_std_error_mm, "cents",
        cents_object(q, c->cents), "cents_before", cents_object(q, c->before_cents), "rms_cents",
        c->rms_cents, "rms_cents_before", c->rms_before_cents, "data", data_object(q, i));
}

static json_t *line_object(const sb_predicted *q, size_t k) {
    const sb_saddle_line *line = &q->p->line[k];
    json_t *place = json_array(), *remaining = json_array();
    for (size_t i = 0; i <= line->last - line->first; i++) {
        (void)json_array_append_new(place, json_real(line->place_mm[i]));
        (void)json_array_append_new(remaining, json_real(line->c.remaining_cents[i]));
    }
    return json_pack("{s:[i,i], s:f, s:f, s:o, s:o, s:f, s:f}", "strings", (int)line->first,
                     (int)line->last, "position_mm", line->c.position_mm, "slope", line->c.slope,
                     "place_mm", place, "remaining_cents", remaining, "worst_cents",
                     line->c.worst_cents, "rms_cents", line->c.rms_cents);
}

/* An array of one object a thing; NULL when out of memory. */
static json_t *array_of(const sb_predicted *q, size_t n,
                        json_t *(*object)(const sb_predicted *, size_t)) {
    json_t *array = json_array();
    for (size_t i = 0; array && i < n; i++)
        if (json_array_append_new(array, object(q, i)) != 0) {
            json_decref(array);
            return NULL;
        }
    return array;
}

static json_t *moves_array(const sb_predicted *was, const sb_predicted *now) {
    json_t *array = json_array();
    for (size_t i = 0; array && i < now->p->n; i++) {
        double std_error = 0, move = sb_restring_move(was, now, i, &std_error);
        double tension = now->p->string[i].wire.tension_n - was->p->string[i].wire.tension_n;
        (void)json_array_append_new(array, json_pack("{s:i, s:f, s:f, s:f}", "string", (int)i + 1,
                                                     "move_mm", move + 0.0, "move_std_error_mm",
                                                     std_error, "tension_change_n", tension + 0.0));
    }
    return array;
}

static json_t *saddle_moves_array(const sb_predicted *was, const sb_predicted *now) {
    json_t *array = json_array();
    for (size_t k = 0; array && k < now->p->n_lines; k++) {
        const sb_saddle_line *a = &was->p->line[k], *b = &now->p->line[k];
        size_t end = b->last - b->first;
        (void)json_array_append_new(array, json_pack("{s:[i,i], s:[f,f]}", "strings", (int)b->first,
                                                     (int)b->last, "move_mm",
                                                     b->place_mm[0] - a->place_mm[0] + 0.0,
                                                     b->place_mm[end] - a->place_mm[end] + 0.0));
    }
    return array;
}

static json_t *restring_object(const sb_predicted *was, const sb_predicted *now) {
    return json_pack("{s:o, s:o, s:o, s:f, s:f, s:s}", "was",
                     array_of(was, was->p->n, string_object), "strings", moves_array(was, now),
                     "saddles", saddle_moves_array(was, now), "total_tension_was_n",
                     was->p->total_tension_n, "total_tension_change_n",
                     now->p->total_tension_n - was->p->total_tension_n + 0.0, "relief",
                     sb_restring_relief(was, now));
}

static json_t *lengths_array(const double mm[], size_t n) {
    json_t *array = json_array();
    for (size_t i = 0; i < n; i++)
        (void)json_array_append_new(array, json_real(mm[i]));
    return array;
}

static json_t *heights_object(const sb_predicted *q) {
    static const char *const from[] = {"given", "assumed", "book"};
    const sb_prediction_task *t = q->task;
    if (!t->by_action)
        return json_pack("{s:f, s:f, s:f, s:s}", "nut_height_mm", t->nut_height_mm, "rise_mm",
                         t->rise_mm, "relief_mm", t->action.relief_mm + 0.0, "relief_from",
                         from[t->relief_from]);
    return json_pack(
        "{s:i, s:o, s:s, s:o, s:s, s:f, s:s}", "action_fret", t->action.fret, "action_mm",
        lengths_array(t->action_mm, q->p->n), "action_from", from[t->action_from], "first_fret_mm",
        lengths_array(t->first_fret_mm, q->p->n), "first_fret_from", from[t->first_fret_from],
        "relief_mm", t->action.relief_mm + 0.0, "relief_from", from[t->relief_from]);
}

bool sb_json_prediction(FILE *out, const sb_predicted *now, const sb_predicted *was) {
    json_t *object = json_pack(
        "{s:s, s:s, s:f, s:o, s:o, s:f, s:f, s:f, s:o}", "schema", "setback.predict/1", "ends",
        now->task->ends, "ends_std_error", now->task->fit.ends_std_error, "heights",
        heights_object(now), "strings", array_of(now, now->p->n, string_object), "total_tension_n",
        now->p->total_tension_n, "total_tension_std_error_n", now->p->total_std_error_n,
        "nut_mean_mm", now->p->nut_mm + 0.0, "saddles",
        array_of(now, now->p->n_lines, line_object));
    bool whole = object != NULL;
    if (whole && was)
        whole = json_object_set_new(object, "restring", restring_object(was, now)) == 0;
    if (whole) {
        (void)json_dumpf(object, out, WRITTEN);
        (void)fputc('\n', out);
    }
    json_decref(object);
    return whole;
}
