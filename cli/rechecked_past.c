/* What a string sounded like since it was fitted, and what its gauge lets expect; and what a
 * recheck leaves in the log. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/json_memory.h"
#include "cli/prediction.h"
#include "cli/rechecked.h"
#include "core/pitch.h"

/* Means over a string's plucks. */
typedef struct {
    double sum, std_error;
    size_t n;
} mean;

typedef struct {
    mean of[SB_STRINGS_MAX][SB_SIGNS];
} past;

static void add(mean *m, const json_t *pluck, const char *name, const char *error) {
    const json_t *value = json_object_get(pluck, name);
    if (!json_is_number(value))
        return;
    m->sum += json_number_value(value);
    m->std_error += error ? json_number_value(json_object_get(pluck, error)) : 0;
    m->n++;
}

/* The plucks of one string err alike, so that many are not surer than one. */
static sb_figure figure_of(const mean *m) {
    bool good = m->n > 0 && isfinite(m->sum) && isfinite(m->std_error) && m->std_error >= 0;
    return good ? (sb_figure){m->sum / (double)m->n, m->std_error / (double)m->n} : SB_NO_FIGURE;
}

static bool take_pluck(void *context, const sb_event *event) {
    past *p = context;
    if (event->kind == SB_EVENT_STRINGS)
        for (size_t i = 0; i < SB_STRINGS_MAX; i++)
            if (event->string == 0 || (size_t)event->string == i + 1)
                memset(p->of[i], 0, sizeof p->of[i]);
    if (event->kind != SB_EVENT_PLUCK || event->string < 1 || event->string > SB_STRINGS_MAX)
        return true;
    mean *of = p->of[event->string - 1];
    json_t *pluck = json_loads(event->data, 0, NULL);
    const char *side = json_string_value(json_object_get(pluck, "side"));
    if (side && strcmp(side, "open") == 0)
        add(&of[SB_SIGN_INHARMONICITY], pluck, "inharmonicity", "inharmonicity_std_error");
    add(&of[SB_SIGN_SCATTER], pluck, "scatter_cents", NULL);
    add(&of[SB_SIGN_BEATING], pluck, "beating_cents", NULL);
    json_decref(pluck);
    return true;
}

static void expect(const sb_rechecked *r, const sb_string_set *set, size_t i, sb_figure *out) {
    const sb_string *s = &set->strings[i];
    *out = SB_NO_FIGURE;
    if (sb_wire_inharmonicity(&set->data[i], s->scale_mm, sb_note_hz(s->semitone, r->a4_hz),
                              &out->value, &out->std_error) != SB_OK)
        *out = SB_NO_FIGURE;
}

sb_book_status sb_rechecked_past(sb_book *book, int64_t id, sb_rechecked *out) {
    static const sb_data_texts untold = {NULL, NULL, NULL, NULL, NULL};
    past *p = calloc(1, sizeof *p);
    sb_string_set *set = calloc(1, sizeof *set);
    sb_book_status status = p && set ? sb_book_read(book, id, 0, take_pluck, p) : SB_BOOK_MEMORY;
    if (status == SB_BOOK_OK) {
        set->n = out->d.instrument.n_strings;
        memcpy(set->strings, out->d.instrument.strings, sizeof set->strings);
        (void)sb_set_data(set, &untold, out->d.kind, out->a4_hz);
        for (size_t i = 0; i < set->n; i++) {
            sb_string_signs *signs = &out->strings[i].signs;
            for (int k = 0; k < SB_SIGNS; k++) {
                signs->now[k] = SB_NO_FIGURE;
                signs->was[k] = figure_of(&p->of[i][k]);
            }
            expect(out, set, i, &signs->expected);
        }
    }
    free(p);
    free(set);
    return status;
}

/* --- into the log ------------------------------------------------------------------------ */

static void set_real(json_t *object, const char *name, bool known, double value) {
    (void)json_object_set_new(object, name, known ? json_real(value) : json_null());
}

static char *data_of(const sb_rechecked_string *s) {
    const sb_figure *now = s->signs.now;
    json_t *o = json_pack("{s:s, s:f, s:f}", "what", "recheck", "octave_error_cents", s->now.cents,
                          "std_error_cents", s->now.std_error);
    set_real(o, "was_cents", s->was.std_error > 0, s->was.cents);
    set_real(o, "was_std_error_cents", s->was.std_error > 0, s->was.std_error);
    set_real(o, "inharmonicity", now[SB_SIGN_INHARMONICITY].std_error >= 0,
             now[SB_SIGN_INHARMONICITY].value);
    set_real(o, "scatter_cents", now[SB_SIGN_SCATTER].std_error >= 0, now[SB_SIGN_SCATTER].value);
    set_real(o, "beating_cents", now[SB_SIGN_BEATING].std_error >= 0, now[SB_SIGN_BEATING].value);
    (void)json_object_set_new(o, "verdict", json_string(sb_recheck_text(s->result.verdict)));
    (void)json_object_set_new(o, "suspect", json_boolean(s->suspicion.suspect));
    char *text = sb_json_text(o, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(o);
    return text;
}

sb_book_status sb_rechecked_write(sb_book *book, int64_t id, const sb_rechecked *r) {
    sb_event events[SB_STRINGS_MAX];
    char *data[SB_STRINGS_MAX];
    sb_book_status status = SB_BOOK_OK;
    size_t n = 0;
    for (size_t i = 0; i < r->d.instrument.n_strings; i++) {
        if (r->strings[i].result.verdict == SB_RECHECK_NOT_HEARD)
            continue;
        data[n] = data_of(&r->strings[i]);
        if (!data[n])
            status = SB_BOOK_MEMORY;
        events[n] = (sb_event){.at_ms = sb_book_now_ms(),
                               .kind = SB_EVENT_MEASURED,
                               .string = (int)i + 1,
                               .data = data[n]};
        n++;
    }
    if (status == SB_BOOK_OK && n > 0)
        status = sb_book_append_all(book, id, events, n);
    for (size_t i = 0; i < n; i++)
        free(data[i]);
    return status;
}
