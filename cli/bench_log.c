#include "cli/bench_log.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/json_memory.h"
#include "core/pitch.h"

/* Takes the object over. */
static char *text_of(json_t *object) {
    char *text = sb_json_text(object, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(object);
    return text;
}

char *sb_log_pluck(const char *side, const sb_reading *reading, double at_s, const char *take) {
    json_t *object = json_pack("{s:s, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f}", "side", side, "hz",
                               reading->hz, "std_error_cents", reading->std_error_cents,
                               "inharmonicity", reading->inharmonicity, "inharmonicity_std_error",
                               reading->inharmonicity_std_error, "scatter_cents",
                               reading->scatter_cents, "beating_cents", reading->beating_cents,
                               "level_dbfs", reading->level_dbfs, "at_s", at_s);
    json_t *name = take ? json_string(take) : json_null(); /* a name that is no UTF-8 is left out */
    if (object)
        (void)json_object_set_new(object, "take", name ? name : json_null());
    else
        json_decref(name);
    return text_of(object);
}

char *sb_log_reading(const sb_interval *interval, const char *round, int fret) {
    return text_of(json_pack("{s:f, s:f, s:i, s:f, s:f, s:[i, i], s:s}", "octave_error_cents",
                             interval->error_cents, "std_error_cents", interval->std_error_cents,
                             "fret", fret, "open_hz", interval->open_hz, "fretted_hz",
                             interval->fretted_hz, "plucks", (int)interval->n_open,
                             (int)interval->n_fretted, "round", round));
}

char *sb_log_move(double move_mm, double end_mm, double std_error_mm, const char *said) {
    return text_of(json_pack("{s:f, s:f, s:f, s:s}", "move_mm", move_mm, "end_mm", end_mm,
                             "std_error_mm", std_error_mm, "said", said));
}

char *sb_log_change(sb_change change) {
    return text_of(json_pack("{s:s, s:b}", "what", sb_change_text(change), "changed", 1));
}

char *sb_log_settled(const sb_settling *settling) {
    return text_of(json_pack("{s:s, s:s, s:f, s:f}", "what", "settled", "verdict",
                             sb_settle_text(settling->kind), "drift_cents_per_min",
                             settling->drift_cents_per_min, "drift_std_error",
                             settling->std_error));
}

char *sb_log_visit(void) {
    return text_of(json_pack("{s:s}", "what", "begun"));
}

char *sb_log_visit_end(void) {
    return text_of(json_pack("{s:s}", "what", "ended"));
}

char *sb_log_note(const char *text) {
    return text_of(json_pack("{s:s}", "text", text));
}

char *sb_log_strings(const sb_instrument *instrument) {
    json_t *list = json_array();
    bool whole = list != NULL;
    for (size_t i = 0; i < instrument->n_strings; i++) {
        const sb_string *s = &instrument->strings[i];
        char note[SB_NOTE_TEXT_MAX];
        sb_note_format(s->semitone, note, sizeof note);
        json_t *gauge = s->gauge_mm > 0 ? json_real(s->gauge_mm) : json_null();
        whole =
            !json_array_append_new(list, json_pack("{s:s, s:o, s:b, s:i, s:f}", "note", note,
                                                   "gauge_mm", gauge, "wound", (int)s->wound,
                                                   "course", s->course, "scale_mm", s->scale_mm)) &&
            whole;
    }
    char *text = text_of(json_pack("{s:o}", "strings", list));
    if (!whole) {
        free(text);
        return NULL;
    }
    return text;
}

/* --- back ------------------------------------------------------------------------------ */

static double number(const json_t *object, const char *key) {
    return json_number_value(json_object_get(object, key));
}

static void read_reading(const json_t *object, sb_log_facts *facts) {
    const char *round = json_string_value(json_object_get(object, "round"));
    facts->cents = number(object, "octave_error_cents");
    if (json_is_number(json_object_get(object, "octave_error_cents")))
        facts->std_error = number(object, "std_error_cents");
    facts->open_hz = number(object, "open_hz");
    if (round && strlen(round) < sizeof facts->round)
        memcpy(facts->round, round, strlen(round) + 1);
}

static void read_pluck(const json_t *object, sb_log_facts *facts) {
    const char *side = json_string_value(json_object_get(object, "side"));
    if (side && strcmp(side, "open") == 0)
        facts->open_hz = number(object, "hz");
}

static void read_move(const json_t *object, sb_log_facts *facts) {
    facts->move_mm = number(object, "move_mm");
    facts->end_mm = json_object_get(object, "end_mm") ? number(object, "end_mm") : facts->move_mm;
    facts->std_error_mm =
        json_object_get(object, "std_error_mm") ? number(object, "std_error_mm") : SB_HAND_MM;
}

static void read_measured(const json_t *object, sb_log_facts *facts) {
    const char *what = json_string_value(json_object_get(object, "what"));
    facts->is_change = what && sb_change_named(what, &facts->change);
    facts->changed = json_is_true(json_object_get(object, "changed"));
    facts->is_settled = what && strcmp(what, "settled") == 0;
    if (facts->is_settled)
        facts->settled = sb_settle_named(json_string_value(json_object_get(object, "verdict")));
}

sb_log_facts sb_log_read(const sb_event *event) {
    sb_log_facts facts = {.cents = 0};
    json_t *object = json_loads(event->data, 0, NULL);
    const char *what = json_string_value(json_object_get(object, "what"));
    switch (event->kind) {
    case SB_EVENT_READING: read_reading(object, &facts); break;
    case SB_EVENT_PLUCK: read_pluck(object, &facts); break;
    case SB_EVENT_MOVE: read_move(object, &facts); break;
    case SB_EVENT_MEASURED: read_measured(object, &facts); break;
    case SB_EVENT_VISIT: facts.begun = !(what && strcmp(what, "ended") == 0); break;
    default: break;
    }
    json_decref(object);
    return facts;
}

static bool find_visit(void *context, const sb_event *event) {
    bool *open = context;
    if (event->kind == SB_EVENT_VISIT)
        *open = sb_log_read(event).begun;
    return true;
}

sb_book_status sb_log_append_in_visit(sb_book *book, int64_t instrument, const sb_event events[],
                                      size_t n) {
    bool open = false;
    sb_book_status status = sb_book_read(book, instrument, 0, find_visit, &open);
    if (status != SB_BOOK_OK || open || n == 0)
        return status != SB_BOOK_OK ? status : sb_book_append_all(book, instrument, events, n);
    char *data = sb_log_visit();
    sb_event *all = malloc((n + 1) * sizeof *all);
    status = SB_BOOK_MEMORY;
    if (data && all) {
        all[0] = (sb_event){.at_ms = events[0].at_ms, .kind = SB_EVENT_VISIT, .data = data};
        memcpy(all + 1, events, n * sizeof *all);
        status = sb_book_append_all(book, instrument, all, n + 1);
    }
    free(all);
    free(data);
    return status;
}
