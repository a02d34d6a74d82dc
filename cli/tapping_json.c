/* The map of pickups and positions as JSON: setback.taps/1, and the data of its events. */
#include <math.h>

#include "cli/json_value.h"
#include "cli/tapping.h"

json_t *sb_tapping_data(const sb_tapping *t, size_t p, size_t q) {
    const sb_tap_cell *c = &t->map.cell[p][q];
    double none = (double)NAN;
    return json_pack(
        "{s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:s, s:b, s:o}", "what", "taps", "position",
        sb_signal_text(t->position[p]), "pickup", sb_signal_text(t->pickup[q]), "level_dbfs",
        sb_json_number(c->heard ? c->level_dbfs : none), "relative_db",
        sb_json_number(c->heard ? c->relative_db : none), "std_error_db",
        sb_json_number(c->heard && c->std_error_db > 0 ? c->std_error_db : none), "taps",
        (int)t->taps[p][q], "verdict", sb_tap_verdict_text(c->verdict), "sure", (int)c->sure,
        "meant", t->map.has_meant[p] ? json_boolean(t->map.meant[p][q]) : json_null());
}

static json_t *cells(const sb_tapping *t) {
    json_t *array = json_array();
    bool whole = array != NULL;
    for (size_t p = 0; p < t->map.n_positions; p++)
        for (size_t q = 0; q < t->map.n_pickups; q++) {
            json_t *cell = t->map.cell[p][q].tried ? sb_tapping_data(t, p, q) : NULL;
            if (!t->map.cell[p][q].tried)
                continue;
            whole = cell && json_object_del(cell, "what") == 0 && whole;
            whole = !json_array_append_new(array, cell) && whole;
        }
    if (whole)
        return array;
    json_decref(array);
    return NULL;
}

static const char *trouble_word(sb_tap_trouble trouble) {
    switch (trouble) {
    case SB_TAP_REVERSED: return "reversed";
    case SB_TAP_EXCHANGED: return "exchanged";
    case SB_TAP_PICKUP_DEAD: return "pickup dead";
    case SB_TAP_PICKUP_WEAK: return "pickup weak";
    case SB_TAP_POSITION_DEAD: return "position dead";
    case SB_TAP_MISSING: return "missing";
    case SB_TAP_FAINT: return "faint";
    case SB_TAP_EXTRA: return "extra";
    case SB_TAP_LEAKS: return "leaks";
    }
    return "";
}

static json_t *finding_object(const sb_tapping *t, const sb_tap_finding *f) {
    char words[SB_TAPPING_WORDS_MAX];
    sb_tap_trouble trouble = f->trouble;
    bool of_pickup = trouble != SB_TAP_REVERSED && trouble != SB_TAP_POSITION_DEAD;
    bool of_position = trouble >= SB_TAP_POSITION_DEAD;
    sb_tapping_words(t, f, words, sizeof words);
    return json_pack("{s:s, s:o, s:o, s:o, s:s}", "trouble", trouble_word(trouble), "position",
                     of_position ? sb_signal_text(t->position[f->position]) : json_null(), "pickup",
                     of_pickup ? sb_signal_text(t->pickup[f->pickup]) : json_null(), "other",
                     trouble == SB_TAP_EXCHANGED ? sb_signal_text(t->pickup[f->other])
                                                 : json_null(),
                     "in_words", words);
}

json_t *sb_tapping_json(const sb_tapping *t, const char *name) {
    json_t *findings = json_array();
    bool whole = findings != NULL;
    for (size_t i = 0; i < t->n_findings; i++)
        whole = !json_array_append_new(findings, finding_object(t, &t->findings[i])) && whole;
    if (!whole) {
        json_decref(findings);
        return NULL;
    }
    return json_pack("{s:s, s:o, s:o, s:o, s:i, s:i, s:o, s:o}", "schema", "setback.taps/1",
                     "instrument", sb_signal_text(name), "scatter_db",
                     sb_json_number(t->scatter_db > 0 ? t->scatter_db : (double)NAN), "as_meant",
                     sb_tapping_has_meant(t) ? json_boolean(t->n_findings == 0) : json_null(),
                     "strings", (int)t->strings, "overloaded", (int)t->overloaded, "cells",
                     cells(t), "findings", findings);
}
