/* Sets of strings from options, and the saddles that they stand on. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "cli/err.h"
#include "cli/prediction.h"
#include "core/pitch.h"

static int parse_strings(const char *text, sb_string_set *set) {
    if (sb_strings_parse(text, set->strings, &set->n) != SB_OK)
        return sb_fail(EX_USAGE, "write them as E4:10,B3:13,G3:17,D3:26w or E4:0.712mm", text,
                       "these strings cannot be understood");
    return EX_OK;
}

int sb_strings_set(const sb_texts *texts, sb_string_set *set) {
    char list[SB_STRINGS_TEXT_MAX] = "";
    size_t used = 0;
    for (size_t i = 0; i < texts->n; i++) {
        int n = snprintf(list + used, sizeof list - used, "%s%s", i ? "," : "", texts->item[i]);
        if (n < 0 || (size_t)n >= sizeof list - used)
            return sb_fail(EX_USAGE, "at most 24 strings", texts->item[i], "too many strings");
        used += (size_t)n;
    }
    return parse_strings(list, set);
}

int sb_restring_set(const sb_texts *strings, const char *material, const char *kind, double a4_hz,
                    const sb_string_set *now, sb_string_set *then) {
    const sb_data_texts data = {.material = material};
    int code = sb_strings_set(strings, then);
    if (code == EX_OK && then->n != now->n)
        return sb_fail(EX_USAGE, "name every string, in the same order", strings->item[0],
                       "%zu strings in place of %zu", then->n, now->n);
    for (size_t i = 0; code == EX_OK && i < then->n; i++)
        then->strings[i].scale_mm = now->strings[i].scale_mm;
    return code == EX_OK ? sb_set_data(then, &data, kind, a4_hz) : code;
}

/* --- saddles and solving -------------------------------------------------------------------- */

void sb_saddles_slant(sb_prediction_task *task) {
    for (size_t i = 0; i < task->n_saddles; i++)
        task->saddles[i].shape = SB_SHAPE_SLANT;
}

void sb_saddles_of(const sb_instrument *instrument, sb_prediction_task *task) {
    task->spacing_mm = instrument->spacing_mm;
    task->n_saddles = instrument->n_saddles;
    memcpy(task->saddles, instrument->saddles, sizeof task->saddles);
    for (size_t i = 0; i < task->n_saddles; i++)
        if (task->saddles[i].way != SB_WAY_SCREW)
            task->saddles[i].shape = SB_SHAPE_SLANT;
}

/* What it is of a string that cannot be: its data, or else where it lies. */
static int complain(const sb_prediction_task *task, const sb_string_set *set, sb_status status,
                    size_t failed) {
    const sb_string *s = &set->strings[failed];
    char note[SB_NOTE_TEXT_MAX];
    sb_wire wire;
    sb_note_format(s->semitone, note, sizeof note);
    if (status == SB_E_UNDETERMINED)
        return sb_fail(EX_USAGE, "give its gauge, as in E4:10, or --unit-mass and --core", note,
                       "too little is known of string %zu", failed + 1);
    if (sb_wire_make(&set->data[failed], s->scale_mm, sb_note_hz(s->semitone, task->a4_hz), NULL,
                     &wire) != SB_OK)
        return sb_fail(
            EX_USAGE,
            "a core is no thicker than its string: see --core, --unit-mass, --modulus and "
            "the measured inharmonicity",
            note, "the data of string %zu do not fit together", failed + 1);
    return sb_fail(EX_USAGE,
                   "see whether heights, frets and gauge are right: the string lies above every "
                   "fret",
                   note, "string %zu cannot be played there", failed + 1);
}

int sb_predict_or_say(const sb_prediction_task *task, const sb_string_set *set,
                      sb_prediction *out) {
    size_t failed = 0;
    sb_status status = sb_predict(task, set, out, &failed);
    return status == SB_OK ? EX_OK : complain(task, set, status, failed);
}
