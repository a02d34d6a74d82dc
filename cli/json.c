#include "cli/json.h"

#include <jansson.h>

#include "cli/json_value.h"
#include "cli/text.h"
#include "core/length.h"
#include "core/pitch.h"

#define DIGITS 10 /* of every number: a thousandth of a cent and more */

/* A failed allocation anywhere shows in `whole`; jansson's setters take ownership even when
 * they fail. */
typedef struct {
    json_t *object;
    bool whole;
} build;

static build begin(void) {
    build b = {.object = json_object(), .whole = true};
    b.whole = b.object != NULL;
    return b;
}

static void put(build *b, const char *key, json_t *value) {
    if (!value || json_object_set_new(b->object, key, value) != 0)
        b->whole = false;
}

static void put_number(build *b, const char *key, double value) {
    put(b, key, sb_json_number(value));
}

static void put_number_if(build *b, const char *key, bool known, double value) {
    put(b, key, sb_json_number_if(known, value));
}

static void put_whole(build *b, const char *key, size_t value) {
    put(b, key, json_integer((json_int_t)value));
}

/* Names from outside may be no UTF-8, which JSON must be. */
static void put_text(build *b, const char *key, const char *text) {
    char clean[1024];
    sb_text_clean(text, clean, sizeof clean);
    put(b, key, json_string(clean));
}

static void put_array(build *b, const char *key, json_t *array) {
    put(b, key, array);
}

static void append(json_t *array, build *item, bool *whole) {
    if (!item->whole)
        json_decref(item->object);
    if (!item->whole || json_array_append_new(array, item->object) != 0)
        *whole = false;
}

static bool finish(build *b, FILE *out) {
    bool whole = b->whole;
    if (whole) {
        (void)json_dumpf(b->object, out,
                         JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(DIGITS));
        (void)fputc('\n', out);
        (void)fflush(out); /* a line at a time, for whoever reads along */
    }
    json_decref(b->object);
    return whole;
}

/* --- one measurement ----------------------------------------------------------------- */

static json_t *flags_array(unsigned flags, bool *whole) {
    static const struct {
        unsigned flag;
        const char *name;
    } names[] = {{SB_PARTIAL_PULLED, "pulled"},
                 {SB_PARTIAL_HUM, "hum"},
                 {SB_PARTIAL_OTHER_STRING, "other string"},
                 {SB_PARTIAL_BEATING, "beating"},
                 {SB_PARTIAL_WEAK, "weak"}};
    json_t *array = json_array();
    for (size_t i = 0; array && i < sizeof names / sizeof *names; i++)
        if ((flags & names[i].flag) && json_array_append_new(array, json_string(names[i].name)))
            *whole = false;
    return array;
}

static build partial_object(const sb_partial *p) {
    build b = begin();
    put_whole(&b, "n", (size_t)p->number);
    put_number(&b, "hz", p->hz);
    put_number(&b, "std_error_cents", p->std_error_cents);
    put_number(&b, "level_dbfs", p->level_dbfs);
    put_number(&b, "decay_per_s", p->decay_per_s);
    put_number(&b, "departure_cents", p->departure_cents);
    put_number(&b, "weight", p->weight);
    put_array(&b, "flags", flags_array(p->flags, &b.whole));
    return b;
}

static void put_partials(build *b, const sb_reading *reading) {
    json_t *array = json_array();
    for (size_t i = 0; array && i < reading->n_partials; i++) {
        build partial = partial_object(&reading->partials[i]);
        append(array, &partial, &b->whole);
    }
    put_array(b, "partials", array);
}

static void put_rejected(build *b, const sb_measurement *m, sb_side side) {
    json_t *array = json_array();
    for (size_t i = 0; array && i < m->n_heard; i++) {
        const sb_heard *h = &m->heard[i];
        if (h->side != side || h->left_out[0] == '\0')
            continue;
        build item = begin();
        put_number(&item, "start_s", h->reading->start_s);
        put_text(&item, "reason", h->left_out);
        put_number_if(&item, "hz", h->reading->hz > 0, h->reading->hz);
        append(array, &item, &b->whole);
    }
    put_array(b, "rejected", array);
}

static build side_object(const sb_task *task, const sb_measurement *m, sb_side side,
                         bool partials) {
    const sb_summary *s = &m->side[side];
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(sb_note_nearest(s->hz, task->a4_hz, NULL), note, sizeof note);
    build b = begin();
    put_text(&b, "note", note);
    put_number(&b, "hz", s->hz);
    put_number(&b, "std_error_cents", s->std_error_cents);
    put_number(&b, "inharmonicity", s->inharmonicity);
    put_number(&b, "inharmonicity_std_error", s->inharmonicity_std_error);
    put_number(&b, "glide_cents", s->glide_cents);
    put_number(&b, "level_dbfs", s->level_dbfs);
    put_number(&b, "snr_db", s->snr_db);
    put_whole(&b, "plucks", s->plucks);
    put_whole(&b, "overloaded", sb_measurement_overloaded(m, side));
    put_rejected(&b, m, side);
    if (partials)
        put_partials(&b, s->best);
    return b;
}

static void put_side(build *b, const char *key, build side) {
    if (!side.whole)
        b->whole = false;
    put(b, key, side.object);
}

static void put_setting(build *b, const sb_setting *setting) {
    put_number(b, "scale_mm", setting->scale_mm);
    put_number(b, "speaking_mm",
               setting->speaking_mm > 0 ? setting->speaking_mm : setting->scale_mm);
    put_whole(b, "fret", (size_t)setting->fret);
}

static void put_error(build *b, const sb_answer *a) {
    put_number(b, "octave_error_cents", a->error_cents);
    put_number(b, "interval_error_cents", a->error_cents);
    put_number(b, "std_error_cents", a->std_error_cents);
}

static void put_answer(build *b, const sb_setting *setting, const sb_answer *a) {
    bool screw = setting->thread_mm > 0;
    put_number_if(b, "move_mm", a->movable, a->move.move_mm);
    put_number_if(b, "move_std_error_mm", a->movable, a->move.std_error_mm);
    put_number_if(b, "move_64ths", a->movable, a->move.move_mm / SB_MM_PER_64TH);
    put_number_if(b, "rule_of_thumb_mm", a->movable, a->move.rule_of_thumb_mm);
    put_text(b, "direction", sb_answer_direction(a));
    put_number_if(b, "turns", screw, a->turns);
    put(b, "turn", screw ? json_string(sb_turn_text(a->turn)) : json_null());
    put(b, "look_elsewhere", json_boolean(a->doubtful));
    put_text(b, "verdict", sb_verdict_text(a->verdict));
}

bool sb_json_measurement(FILE *out, const sb_task *task, const sb_measurement *m, const char *take,
                         bool partials) {
    build b = begin();
    put_text(&b, "schema", "setback.measure/1");
    if (take)
        put_text(&b, "take", take);
    put_setting(&b, task->setting);
    put_side(&b, "open", side_object(task, m, SB_OPEN, partials));
    put_side(&b, "fretted", side_object(task, m, SB_FRETTED, partials));
    put_error(&b, &m->answer);
    put_number_if(&b, "harmonic_error_cents", m->has_harmonic, m->harmonic_error_cents);
    put_number_if(&b, "paired_error_cents", m->by_pairs.known, m->by_pairs.error_cents);
    put_number_if(&b, "paired_std_error_cents", m->by_pairs.known, m->by_pairs.std_error_cents);
    put(&b, "paired_disagrees", json_boolean(m->by_pairs.disagrees));
    put_number(&b, "drift_cents_per_min", m->interval.drift_cents_per_min);
    put_number_if(&b, "drift_std_error", m->interval.drift_fitted, m->interval.drift_std_error);
    put(&b, "drift_taken_out", json_boolean(m->interval.drift_significant));
    put_answer(&b, task->setting, &m->answer);
    put_rejected(&b, m, SB_NEITHER);
    return finish(&b, out);
}

bool sb_json_move(FILE *out, const sb_setting *setting, const sb_answer *answer) {
    build b = begin();
    put_text(&b, "schema", "setback.move/1");
    put_setting(&b, setting);
    put_error(&b, answer);
    put_answer(&b, setting, answer);
    return finish(&b, out);
}

static void put_numbers(build *b, const char *key, const double values[], size_t n) {
    json_t *array = json_array();
    for (size_t i = 0; array && i < n; i++)
        if (json_array_append_new(array, json_real(values[i] + 0.0)) != 0)
            b->whole = false;
    put_array(b, key, array);
}

bool sb_json_compromise(FILE *out, const sb_compromise *c, const double place_mm[], size_t n) {
    build b = begin();
    put_text(&b, "schema", "setback.compromise/1");
    put_number(&b, "position_mm", c->position_mm);
    put_number(&b, "slope", c->slope);
    put_numbers(&b, "place_mm", place_mm, n);
    put_numbers(&b, "remaining_cents", c->remaining_cents, n);
    put_number(&b, "worst_cents", c->worst_cents);
    put_number(&b, "rms_cents", c->rms_cents);
    put(&b, "at_limit", json_boolean(c->at_limit));
    return finish(&b, out);
}

bool sb_json_inputs(FILE *out, const sb_device devices[], size_t n) {
    build b = begin();
    json_t *array = json_array();
    for (size_t i = 0; array && i < n; i++) {
        build item = begin();
        put(&item, "index", json_integer(devices[i].index));
        put_text(&item, "name", devices[i].name);
        put_text(&item, "host_api", devices[i].host_api);
        put(&item, "channels", json_integer(devices[i].channels));
        put_number(&item, "default_rate_hz", devices[i].default_rate_hz);
        put(&item, "default", json_boolean(devices[i].is_default));
        append(array, &item, &b.whole);
    }
    put_text(&b, "schema", "setback.inputs/1");
    put_array(&b, "inputs", array);
    return finish(&b, out);
}
