/* How high the strings lie: as told, or as it was measured and kept in the book. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/prediction.h"
#include "cli/specs.h"
#include "core/faults.h"

const sb_option sb_height_options[SB_HEIGHT_OPTIONS] = {
    {"nut-height", SB_OPT_LENGTH, offsetof(sb_heights, nut_height_mm), "LEN",
     "height of the string at the nut over the fret crowns", 0, 20, false},
    {"rise", SB_OPT_LENGTH, offsetof(sb_heights, rise_mm), "LEN",
     "height of the saddle over the nut", -20, 50, false},
    {"action17", SB_OPT_LENGTH, offsetof(sb_heights, action17_mm), "LEN",
     "instead of these two: the open string's height over the crown of fret 17 (default as "
     "measured, see setback specs)",
     0.1, 50, false},
    {"action", SB_OPT_TEXT, offsetof(sb_heights, action), "FRET:LEN",
     "or over that of another fret: 12:1.6mm", 0, 0, false},
    {"first-fret", SB_OPT_LENGTH, offsetof(sb_heights, first_fret_mm), "LEN",
     "with an action: the height over fret 1 (default as measured, or 0.5 mm, common practice)",
     0.01, 20, false},
    {"relief", SB_OPT_LENGTH, offsetof(sb_heights, relief_mm), "LEN",
     "depth of the neck's bow under a straightedge from fret 1 to 17 (default as measured, or 0)",
     -5, 5, false},
    {"finger", SB_OPT_LENGTH, offsetof(sb_heights, finger_mm), "LEN",
     "how far behind the fret the finger presses (default 0: on the fret)", 0, 30, false},
    {"behind", SB_OPT_LENGTH, offsetof(sb_heights, behind_mm), "LEN",
     "string behind nut and saddle that slides over them and shares the stretch (default 0: it is "
     "held)",
     0, 1000, false},
};

/* measured: NULL where there is no instrument of which anything could be. */
static int check(const sb_heights *h, bool by_saddle, bool by_action, const bool *measured) {
    const char *either = "give --action17 LEN, or --nut-height LEN and --rise LEN";
    const char *kept = "give --action17 LEN, or keep it: setback specs INSTRUMENT "
                       "action17-treble=LEN action17-bass=LEN";
    if (by_saddle && by_action)
        return sb_fail(EX_USAGE, either, NULL, "the string's height is given twice");
    if (h->action17_mm >= 0 && h->action)
        return sb_fail(EX_USAGE, either, NULL, "--action17 does not go with --action");
    if (by_saddle && !(h->nut_height_mm >= 0 && h->rise_mm > SB_NO_LENGTH))
        return sb_fail(EX_USAGE, either, NULL, "--nut-height and --rise go together");
    if (by_saddle && h->first_fret_mm >= 0)
        return sb_fail(EX_USAGE, either, NULL, "--first-fret goes with an action only");
    if (!by_saddle && !by_action && !(measured && *measured))
        return sb_fail(EX_USAGE, measured ? kept : either, NULL,
                       "how high the string lies is needed");
    return EX_OK;
}

/* At fret 17 rather than 12, where a ruler shows more. */
static bool measured_action(const sb_specs *specs, sb_prediction_task *task) {
    static const sb_spec_kind kinds[] = {SB_SPEC_ACTION17, SB_SPEC_ACTION12};
    static const int frets[] = {17, 12};
    bool found = false;
    for (size_t k = 0; k < 2 && !found; k++) {
        for (size_t i = 0; i < specs->description.instrument.n_strings; i++)
            found = sb_specs_at_string(specs, kinds[k], i + 1, &task->action_mm[i]);
        task->action.fret = found ? frets[k] : task->action.fret;
    }
    return found;
}

static void take_measured(const sb_heights *h, const sb_specs *specs, bool action,
                          sb_prediction_task *task) {
    const sb_spec *relief = sb_specs_find(specs, "relief");
    if (action && measured_action(specs, task))
        task->action_from = SB_HEIGHT_BOOK;
    if (h->relief_mm <= SB_NO_LENGTH && relief) {
        task->action.relief_mm = relief->latest.value;
        task->relief_from = SB_HEIGHT_BOOK;
    }
    for (size_t i = 0; h->first_fret_mm < 0 && i < specs->description.instrument.n_strings; i++)
        if (sb_specs_at_string(specs, SB_SPEC_FIRST_FRET, i + 1, &task->first_fret_mm[i]))
            task->first_fret_from = SB_HEIGHT_BOOK;
}

/* What is used although something was changed after it was measured. */
static void warn_of_outdated(const sb_specs *specs, const sb_prediction_task *task) {
    for (size_t i = 0; i < specs->n; i++) {
        const sb_spec *s = &specs->spec[i];
        sb_spec_kind action = task->action.fret == 17 ? SB_SPEC_ACTION17 : SB_SPEC_ACTION12;
        bool used = (s->id.kind == action && task->action_from == SB_HEIGHT_BOOK) ||
                    (s->id.kind == SB_SPEC_RELIEF && task->relief_from == SB_HEIGHT_BOOK) ||
                    (s->id.kind == SB_SPEC_FIRST_FRET && task->first_fret_from == SB_HEIGHT_BOOK);
        if (used && s->outdated)
            sb_warn(s->id.name, "changed since it was measured, and used all the same");
    }
}

static void set_told(const sb_heights *h, sb_prediction_task *task) {
    bool first = h->first_fret_mm >= 0, relief = h->relief_mm > SB_NO_LENGTH;
    task->first_fret_from = first ? SB_HEIGHT_GIVEN : SB_HEIGHT_ASSUMED;
    task->relief_from = relief ? SB_HEIGHT_GIVEN : SB_HEIGHT_ASSUMED;
    task->nut_height_mm = h->nut_height_mm;
    task->rise_mm = h->rise_mm;
    task->fit.behind_mm = h->behind_mm;
    task->action = (sb_action){.fret = SB_RELIEF_TO,
                               .action_mm = h->action17_mm,
                               .first_fret_mm = first ? h->first_fret_mm : SB_FIRST_FRET_MM,
                               .relief_mm = relief ? h->relief_mm : 0,
                               .finger_mm = h->finger_mm,
                               .relief_to = SB_RELIEF_TO};
}

static void assume_action(sb_prediction_task *task) {
    task->action.fret = 12;
    task->action_from = SB_HEIGHT_ASSUMED;
    for (size_t i = 0; i < SB_STRINGS_MAX; i++)
        task->action_mm[i] = SB_ACTION_MM;
}

int sb_set_heights(const sb_heights *h, const sb_specs *specs, sb_prediction_task *task) {
    bool by_saddle = h->nut_height_mm >= 0 || h->rise_mm > SB_NO_LENGTH;
    bool by_action = h->action17_mm >= 0 || h->action;
    set_told(h, task);
    int code = h->action ? sb_action_parse(h->action, &task->action) : EX_OK;
    for (size_t i = 0; i < SB_STRINGS_MAX; i++) {
        task->action_mm[i] = task->action.action_mm;
        task->first_fret_mm[i] = task->action.first_fret_mm;
    }
    if (specs)
        take_measured(h, specs, !by_saddle && !by_action, task);
    bool measured = task->action_from == SB_HEIGHT_BOOK;
    if (h->assumes && !by_saddle && !by_action && !measured) {
        assume_action(task);
        measured = true;
    }
    if (code == EX_OK)
        code = check(h, by_saddle, by_action, specs ? &measured : NULL);
    task->by_action = !by_saddle;
    task->worn = specs && specs->worn;
    if (code == EX_OK && specs)
        warn_of_outdated(specs, task);
    return code;
}

int sb_set_heights_book(const sb_heights *h, sb_book *book, int64_t id, const char *name,
                        sb_prediction_task *task) {
    if (!book)
        return sb_set_heights(h, NULL, task);
    sb_specs *specs = malloc(sizeof *specs);
    if (!specs)
        return sb_complain_memory();
    int code = sb_book_complain(sb_specs_read(book, id, specs), NULL, name);
    if (code == EX_OK)
        code = sb_set_heights(h, specs, task);
    free(specs);
    return code;
}
