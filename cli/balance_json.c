/* The strings' balance as JSON: setback.balance/1, and the data of its events. */
#include <math.h>

#include "cli/balance.h"
#include "cli/json_value.h"
#include "core/pitch.h"

static const char *verdict_word(const sb_balance *b) {
    if (!b->has_tilt)
        return "too few strings";
    switch (b->tilt.verdict) {
    case SB_TILT_EVEN: return "even";
    case SB_TILT_FIRST_HIGH: return "first side high";
    case SB_TILT_LAST_HIGH: return "last side high";
    case SB_TILT_UNSURE: return "pluck more";
    case SB_TILT_UNEVEN: return "strings differ";
    }
    return "";
}

static json_t *if_tilt(const sb_balance *b, double value) {
    return sb_json_number(b->has_tilt ? value : (double)NAN);
}

json_t *sb_balance_data(const sb_balance *b, size_t i) {
    const sb_level *level = &b->level[b->heard[i]];
    return json_pack("{s:s, s:o, s:f, s:f, s:i, s:i, s:o, s:o, s:o, s:s}", "what", "balance",
                     "position", sb_signal_text(b->position), "level_dbfs", level->level_db,
                     "std_error_db", level->std_error_db, "plucks", (int)level->used, "left_out",
                     (int)level->left_out, "off_db", if_tilt(b, b->tilt.off_db[i]), "tilt_db",
                     if_tilt(b, b->tilt.tilt_db), "tilt_std_error_db",
                     if_tilt(b, b->tilt.std_error_db), "verdict", verdict_word(b));
}

static json_t *strings(const sb_balance *b) {
    json_t *array = json_array();
    bool whole = array != NULL;
    for (size_t i = 0; i < b->n_heard; i++) {
        char note[SB_NOTE_TEXT_MAX];
        const sb_level *level = &b->level[b->heard[i]];
        sb_note_format(b->instrument->strings[b->heard[i]].semitone, note, sizeof note);
        json_t *string =
            json_pack("{s:i, s:s, s:f, s:f, s:i, s:i, s:o, s:o, s:b}", "string",
                      (int)b->heard[i] + 1, "note", note, "level_dbfs", level->level_db,
                      "std_error_db", level->std_error_db, "plucks", (int)level->used, "left_out",
                      (int)level->left_out, "off_db", if_tilt(b, b->tilt.off_db[i]),
                      "off_std_error_db", if_tilt(b, b->tilt.off_std_error_db[i]), "stands_off",
                      (int)(b->has_tilt && sb_balance_stands_off(b, i)));
        whole = !json_array_append_new(array, string) && whole;
    }
    if (whole)
        return array;
    json_decref(array);
    return NULL;
}

json_t *sb_balance_json(const sb_balance *b, const char *name) {
    const sb_tilt *t = &b->tilt;
    bool moves = b->move.move_mm > 0, more = b->has_tilt && t->verdict == SB_TILT_UNSURE;
    double none = (double)NAN;
    return json_pack(
        "{s:s, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:f, s:o, s:o, s:o, s:o, s:i, "
        "s:i, "
        "s:i, s:[f, f], s:o}",
        "schema", "setback.balance/1", "instrument", sb_signal_text(name), "position",
        sb_signal_text(b->position), "verdict", verdict_word(b), "tilt_db", if_tilt(b, t->tilt_db),
        "tilt_std_error_db", if_tilt(b, t->std_error_db), "tilt_limit_db", if_tilt(b, t->limit_db),
        "move_mm", sb_json_number(moves ? b->move.move_mm : none), "move_std_error_mm",
        sb_json_number(moves ? b->move.std_error_mm : none), "height_mm",
        sb_json_number(moves && sb_balance_height_mm(b) > 0 ? sb_balance_height_mm(b) : none),
        "more_plucks", sb_json_number(more ? t->more : none), "scatter_db", b->scatter.scatter_db,
        "spread_db", if_tilt(b, t->spread_db), "spread_std_error_db",
        if_tilt(b, t->spread_std_error_db), "loudest",
        b->has_tilt ? json_integer((int)b->heard[t->loudest] + 1) : json_null(), "quietest",
        b->has_tilt ? json_integer((int)b->heard[t->quietest] + 1) : json_null(), "unusable",
        (int)b->unusable, "fretted", (int)b->fretted, "unknown", (int)b->unknown, "window_s",
        SB_SIGNAL_LEVEL_FROM_S, SB_SIGNAL_LEVEL_TO_S, "strings", strings(b));
}
