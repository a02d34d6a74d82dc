/* specs: what rulers and meters say of an instrument. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench_log.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/specs_parts.h"
#include "cli/specs_print.h"
#include "cli/specs_shop.h"
#include "cli/specs_take.h"
#include "cli/term.h"

#define NOT_GIVEN (-1)

typedef struct {
    sb_book_at at;
    sb_texts bands;
    const char *kind;
    int unit;
    bool changed, insist, list, json;
} specs_args;

static const sb_option measure_options[] = {
    {"changed", SB_OPT_FLAG, offsetof(specs_args, changed), NULL,
     "what is measured now was changed just before, so that earlier readings are stale; without it "
     "that is so where a value differs by more than a ruler's error from the one before",
     0, 0, false},
    {"insist", SB_OPT_FLAG, offsetof(specs_args, insist), NULL,
     "keep values that lie in no plausible range", 0, 0, false},
};

static const sb_option shop_options[] = {
    {"unit", SB_OPT_CHOICE, offsetof(specs_args, unit), "mm|64ths|thou",
     "show lengths in millimetres, 64ths of an inch by ruler and thousandths by feeler, or "
     "thousandths; without INSTRUMENT from now on",
     0, 0, false},
    {"band", SB_OPT_TEXTS, offsetof(specs_args, bands), "NAME=LOW..HIGH",
     "keep the shop's own band: relief=0.010in..0.012in, action17=4/64in..5/64in for both sides, "
     "first-fret-bass=..0.022in, pickup-treble=3/32in, crown=LOW..HIGH for the limit of dressing, "
     "resistance-neck=6.5kohm..8kohm; none for no judgement, nothing (relief=) for the shipped one "
     "again; may be given several times",
     0, 0, false},
    {"kind", SB_OPT_TEXT, offsetof(specs_args, kind), "KIND",
     "for which kind of instrument, or any (default: the instrument's)", 0, 0, false},
    {"bands", SB_OPT_FLAG, offsetof(specs_args, list), NULL, "list the bands of a kind", 0, 0,
     false},
};

static const sb_option answer_options[] = {
    {"json", SB_OPT_FLAG, offsetof(specs_args, json), NULL, "print one JSON object", 0, 0, false},
};

#define COUNT(array) (sizeof(array) / sizeof *(array))

static const sb_option_group groups[] = {
    {"measuring", measure_options, COUNT(measure_options), 0},
    {"the shop's own", shop_options, COUNT(shop_options), 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(specs_args, at)},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {
    "INSTRUMENT [NAME=VALUE...] [OPTIONS]",
    "--band NAME=LOW..HIGH --kind KIND",
    "--bands --kind KIND",
    "--unit UNIT",
    NULL,
};

static const char *const examples[] = {
    "setback specs practice relief=0.011in action17-treble=4/64in action17-bass=5/64in",
    "setback specs practice resistance-neck=6.87k resistance-neck+bridge=5.02k",
    "setback specs practice 'buzz-7=string 3, gone' screws='two, bridge pickup'",
    "setback specs --unit 64ths",
    "setback specs --band action17=4/64in..5/64in --kind electric",
    NULL,
};

/* --- the shop's own ---------------------------------------------------------------------- */

static int keep_own(const specs_args *args, sb_book *book, const char *kind, int unit) {
    return sb_specs_keep_own(&(sb_specs_own){&args->bands, kind, unit, args->at.path}, book);
}

static int list_bands(const specs_args *args, sb_book *book, const char *kind) {
    sb_spec_unit unit = SB_UNIT_MM;
    if (!kind[0])
        return sb_fail(EX_USAGE, "give --kind KIND, such as electric", NULL,
                       "a band belongs to a kind of instrument");
    sb_book_status status = book ? sb_specs_unit(book, &unit) : SB_BOOK_OK;
    if (args->unit != NOT_GIVEN)
        unit = (sb_spec_unit)args->unit;
    if (status == SB_BOOK_OK)
        status = sb_print_bands(stdout, book, kind, unit);
    return sb_book_complain(status, args->at.path, NULL);
}

static int run_shop(specs_args *args) {
    sb_book *book = NULL;
    bool unit = args->unit != NOT_GIVEN && !args->list;
    bool keep = unit || args->bands.n > 0;
    if (!keep && !args->list)
        return sb_fail(EX_USAGE, "setback book list shows what is in the book", NULL,
                       "the instrument's name is needed");
    if (args->changed || args->insist || args->json)
        return sb_fail(EX_USAGE, "name the instrument first", NULL,
                       "--changed, --insist and --json need an instrument");
    /* The shipped bands are there before the book is. */
    bool absent = !keep && sb_book_path(args->at.named, args->at.path, sizeof args->at.path) &&
                  access(args->at.path, F_OK) != 0;
    int code =
        absent ? EX_OK : sb_book_open_at(&args->at, keep ? SB_BOOK_WRITE : SB_BOOK_READ, &book);
    const char *kind = args->kind ? args->kind : "";
    if (code == EX_OK && keep)
        code = keep_own(args, book, kind, unit ? args->unit : NOT_GIVEN);
    if (code == EX_OK && args->list)
        code = list_bands(args, book, kind);
    sb_book_close(book);
    return code;
}

/* --- one instrument ---------------------------------------------------------------------- */

/* What a run works with; too large for the stack. */
typedef struct {
    sb_specs specs;
    sb_spec_taken taken[SB_TEXTS_MAX];
    sb_spec_id changed[SB_TEXTS_MAX];
    size_t n, n_changed;
} work;

static int take_all(const specs_args *args, const sb_texts *operands, work *w) {
    sb_spec_taking taking = {&w->specs, args->insist, args->changed};
    for (size_t i = 1; i < operands->n; i++) {
        sb_spec_taken *t = &w->taken[w->n];
        int code = sb_spec_take(&taking, operands->item[i], t);
        if (code != EX_OK)
            return code;
        for (size_t k = 0; k < w->n; k++)
            if (strcmp(w->taken[k].id.name, t->id.name) == 0)
                return sb_fail(EX_USAGE, "give it once", t->id.name, "measured twice");
        if (t->changed)
            w->changed[w->n_changed++] = t->id;
        w->n++;
    }
    if (args->changed && w->n == 0)
        return sb_fail(EX_USAGE, "such as relief=0.011in", NULL, "--changed needs a measurement");
    return EX_OK;
}

static int string_of(const sb_spec_id *id) {
    return id->side == SB_SIDE_STRING ? id->number : 0;
}

/* All or none; a visit is begun where there is none. */
static sb_book_status append(sb_book *book, int64_t id, const work *w) {
    sb_event events[SB_TEXTS_MAX];
    char *data[SB_TEXTS_MAX];
    size_t n = 0;
    bool whole = true;
    for (size_t i = 0; i < w->n; i++) {
        data[n] = sb_spec_data(&w->taken[i]);
        events[n++] = (sb_event){.kind = SB_EVENT_MEASURED, .string = string_of(&w->taken[i].id)};
    }
    for (size_t i = 0; i < n; i++) {
        events[i].at_ms = sb_book_now_ms();
        events[i].data = data[i];
        whole = whole && data[i];
    }
    sb_book_status status = whole ? sb_log_append_in_visit(book, id, events, n) : SB_BOOK_MEMORY;
    for (size_t i = 0; i < n; i++)
        free(data[i]);
    return status;
}

static int show(const specs_args *args, const sb_book_named *named, work *w) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    sb_specs_shown shown = {&w->specs, named->name, w->changed, w->n_changed};
    if (args->unit != NOT_GIVEN)
        w->specs.unit = (sb_spec_unit)args->unit;
    sb_specs_say_evenness(&w->specs);
    if (args->json)
        return sb_json_specs(stdout, &shown) ? EX_OK : sb_complain_memory();
    sb_print_specs(&page, &shown);
    return EX_OK;
}

static int run_named(const specs_args *args, const sb_texts *operands, const sb_book_named *named,
                     work *w) {
    sb_book_status status = sb_specs_read(named->book, named->id, &w->specs);
    int code = sb_book_complain(status, args->at.path, named->name);
    const char *kind = args->kind ? args->kind : w->specs.kind;
    if (code == EX_OK && args->list)
        return list_bands(args, named->book, kind);
    if (code == EX_OK && args->kind && args->bands.n == 0)
        return sb_fail(EX_USAGE, "kind=KIND without dashes judges the instrument as one",
                       args->kind, "--kind goes with --band and --bands");
    if (code == EX_OK)
        code = take_all(args, operands, w);
    if (code == EX_OK)
        code = keep_own(args, named->book, kind, NOT_GIVEN);
    if (code != EX_OK)
        return code;
    if (w->n > 0)
        status = append(named->book, named->id, w);
    if (status == SB_BOOK_OK)
        status = sb_specs_read(named->book, named->id, &w->specs);
    code = sb_book_complain(status, args->at.path, named->name);
    return code == EX_OK ? show(args, named, w) : code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    specs_args args = {.unit = NOT_GIVEN};
    sb_texts operands = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    int code = sb_command_args(self, argc, argv, &args, &operands);
    if (code != EX_OK)
        return code;
    if (operands.n == 0)
        return run_shop(&args);
    sb_texts first = {.item = {operands.item[0]}, .n = 1};
    bool writes = operands.n > 1 || args.bands.n > 0;
    code = sb_book_open_named(&args.at, &first, writes ? SB_BOOK_WRITE : SB_BOOK_READ, &named);
    if (code != EX_OK)
        return code;
    work *w = calloc(1, sizeof *w);
    code = w ? run_named(&args, &operands, &named, w) : sb_complain_memory();
    sb_book_close(named.book);
    free(w);
    return code;
}

const sb_command sb_cmd_specs = {
    "specs",
    "keep what rulers and meters say of an instrument, and judge it",
    "Keeps each NAME=VALUE in the instrument's log and prints all that is known, judged by the "
    "bands of its kind. Values with their unit: 0.010in, 10thou, 4.5/64in, 1.6mm, 6.87kohm; open "
    "for an open circuit; NAME= takes the value back. One that lies in no plausible range is asked "
    "for again.\n"
    "Names: relief (feeler at fret 7 under a straightedge), first-fret-SIDE, action12-SIDE and "
    "action17-SIDE (SIDE is treble, bass or a string's number: treble and bass stand for all "
    "strings, a number for that one alone), crown or crown-FRET, pickup-SIDE or pickup-NAME-SIDE, "
    "radius, resistance-POSITION by an ohmmeter at the lead (resistance-neck+bridge for coils that "
    "the selector joins), and words: buzz, screws, note, each also with -WORD behind it; kind is "
    "the kind of instrument as which it is judged.\n"
    "Relief, action and first-fret action that changed make readings stale, and setback predict "
    "reckons with them.",
    usage,
    examples,
    groups,
    run,
};
