/* setback.recheck/1: a recheck for scripts. */
#include <jansson.h>

#include "cli/json_value.h"
#include "cli/rechecked.h"
#include "core/pitch.h"

#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12))

/* Takes the value over. */
static void set(json_t *object, const char *name, json_t *value) {
    (void)json_object_set_new(object, name, value);
}

static json_t *figure(const sb_figure *f) {
    return sb_json_number_if(f->std_error >= 0, f->value);
}

static json_t *text(const char *value) {
    return value ? json_string(value) : json_null();
}

static json_t *signs_of(const sb_suspicion *s) {
    json_t *list = json_array();
    for (int k = 0; k < SB_SIGNS; k++)
        if (s->signs[k])
            (void)json_array_append_new(list, json_string(sb_sign_text((sb_sign)k)));
    return list;
}

static void set_sound(json_t *o, const sb_rechecked_string *s) {
    const sb_figure *now = s->signs.now, *was = s->signs.was;
    set(o, "inharmonicity", figure(&now[SB_SIGN_INHARMONICITY]));
    set(o, "was_inharmonicity", figure(&was[SB_SIGN_INHARMONICITY]));
    set(o, "expected_inharmonicity", figure(&s->signs.expected));
    set(o, "scatter_cents", figure(&now[SB_SIGN_SCATTER]));
    set(o, "was_scatter_cents", figure(&was[SB_SIGN_SCATTER]));
    set(o, "beating_cents", figure(&now[SB_SIGN_BEATING]));
    set(o, "was_beating_cents", figure(&was[SB_SIGN_BEATING]));
    set(o, "suspect", signs_of(&s->suspicion));
    set(o, "saddle_slipped", json_boolean(s->slipped));
}

static json_t *string_of(const sb_rechecked *r, size_t i) {
    const sb_rechecked_string *s = &r->strings[i];
    const sb_recheck *c = &s->result;
    bool now = s->now.std_error > 0, was = s->was.std_error > 0;
    char note[SB_NOTE_TEXT_MAX];
    json_t *o = json_object();
    sb_note_format(r->d.instrument.strings[i].semitone, note, sizeof note);
    set(o, "string", json_integer((json_int_t)i + 1));
    set(o, "note", json_string(note));
    set(o, "octave_error_cents", sb_json_number_if(now, s->now.cents));
    set(o, "std_error_cents", sb_json_number_if(now, s->now.std_error));
    set(o, "was_cents", sb_json_number_if(was, s->was.cents));
    set(o, "was_std_error_cents", sb_json_number_if(was, s->was.std_error));
    set(o, "change_cents", sb_json_number_if(now && was, c->change_cents));
    set(o, "change_std_error_cents", sb_json_number_if(now && was, c->std_error_cents));
    set(o, "verdict", json_string(sb_recheck_text(c->verdict)));
    set(o, "by_cents", sb_json_number_if(now && was, c->by_cents));
    set(o, "inside",
        c->inside == SB_INSIDE_UNKNOWN ? json_null() : json_boolean(c->inside == SB_INSIDE));
    set(o, "compromise", json_boolean(s->compromise));
    set(o, "changed_since", text(s->since));
    set(o, "plucks", json_pack("[I, I]", (json_int_t)s->plucks[0], (json_int_t)s->plucks[1]));
    set_sound(o, s);
    return o;
}

bool sb_json_rechecked(FILE *out, const sb_rechecked *r) {
    json_t *o = json_object(), *strings = json_array(), *suspects = json_array();
    for (size_t i = 0; i < r->d.instrument.n_strings; i++) {
        (void)json_array_append_new(strings, string_of(r, i));
        if (r->strings[i].suspicion.suspect)
            (void)json_array_append_new(suspects, json_integer((json_int_t)i + 1));
    }
    set(o, "schema", json_string("setback.recheck/1"));
    set(o, "instrument", text(r->name));
    set(o, "kept", json_string(r->ended ? "visit ended" : "latest readings"));
    set(o, "kept_ms", json_integer((json_int_t)r->kept_ms));
    set(o, "tolerance_cents", json_real(r->tolerance_cents));
    set(o, "fret", json_integer(r->fret));
    set(o, "all_inside", json_boolean(r->inside == r->d.instrument.n_strings));
    set(o, "strings", strings);
    set(o, "suspects", suspects);
    bool whole = o && json_dumpf(o, out, WRITTEN) == 0;
    (void)fputc('\n', out);
    json_decref(o);
    return whole;
}
