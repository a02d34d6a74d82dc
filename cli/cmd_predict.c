/* predict: compensation from the strings themselves, without sound. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/prediction.h"
#include "cli/term.h"
#include "cli/text.h"
#include "core/pitch.h"

#define NOT_GIVEN (-1)
typedef struct {
    sb_book_at at;
    sb_numbers scale_mm;
    sb_texts strings;
    sb_data_texts data;
    sb_heights heights;
    const char *from_readings, *frets, *saddles, *restring;
    double a4_hz, spacing_mm; /* spacing 0 = not given */
    int ends, shape, fit;
    bool nut, json;
} predict_args;

static const sb_option string_options[] = {
    {"scale", SB_OPT_LENGTHS, offsetof(predict_args, scale_mm), "LEN[,LEN...]",
     "the nominal scale length with its unit, or one a string", 100, 2000, false},
    {"string", SB_OPT_TEXTS, offsetof(predict_args, strings), "NOTE:GAUGE[,...]",
     "a string, or several, string 1 first; gauges in thousandths of an inch or with a unit, w = "
     "wound: E4:10,B3:13,G3:17,D3:26w, E4:0.712mm; may be given several times",
     0, 0, false},
    SB_ROW_MATERIAL(predict_args, data.material),
    {"unit-mass", SB_OPT_TEXT, offsetof(predict_args, data.unit_mass), "MASS[,...]",
     "mass per length, where it is known: 0.374g/m, .00002215lb/in; - for a string where not", 0, 0,
     false},
    {"tension", SB_OPT_TEXT, offsetof(predict_args, data.tension), "FORCE[,...]",
     "or the tension at pitch, as on the packet: 72N, 16.2lbf", 0, 0, false},
    {"core", SB_OPT_TEXT, offsetof(predict_args, data.core), "LEN[,...]",
     "diameter of the core, with its unit", 0, 0, false},
    {"modulus", SB_OPT_TEXT, offsetof(predict_args, data.modulus), "MODULUS[,...]",
     "the core's modulus, so that modulus x area of the core is what the string resists: 203GPa, "
     "29.4e6psi",
     0, 0, false},
    {"from-readings", SB_OPT_TEXT, offsetof(predict_args, from_readings), "book|FILE",
     "take the inharmonicity that was measured, and from it the core: from the instrument's log, "
     "or from what setback measure --json printed (- for standard input)",
     0, 0, false},
    SB_ROW_A4(predict_args, a4_hz, 500),
};

static const sb_option fit_options[] = {
    {"nut", SB_OPT_FLAG, offsetof(predict_args, nut), NULL,
     "move the nut as well; otherwise the saddle alone", 0, 0, false},
    {"frets", SB_OPT_TEXT, offsetof(predict_args, frets), "1-12",
     "the frets that count, such as 1-12 (default) or 1,3,5,7-12; 12 alone is what setback measure "
     "goes by",
     0, 0, false},
    {"ends", SB_OPT_CHOICE, offsetof(predict_args, ends), "hybrid|pinned|clamped",
     "how the string is held at its ends: one clamped and one pinned (hybrid, default), neither "
     "(pinned) or both (clamped)",
     0, 0, false},
};

static const sb_option saddle_options[] = {
    {"saddles", SB_OPT_TEXT, offsetof(predict_args, saddles), "each|pairs|one|1-2,3-4,...",
     "which strings stand on one saddle (default each, or as the book says)", 0, 0, false},
    {"shape", SB_OPT_CHOICE, offsetof(predict_args, shape), "flat|slant",
     "whether a shared saddle stands square or slanted (default: the best straight line, slant, "
     "but flat where the book says that it moves as a whole by screw)",
     0, 0, false},
    {"spacing", SB_OPT_LENGTH, offsetof(predict_args, spacing_mm), "LEN",
     "from string to string across the bridge (default 10.5mm, or as the book says)", 0.1, 100,
     false},
    {"fit", SB_OPT_CHOICE, offsetof(predict_args, fit), "largest|squares",
     "what a shared saddle makes least: the largest error (default) or the sum of squares", 0, 0,
     false},
};

static const sb_option restring_options[] = {
    {"restring", SB_OPT_TEXT, offsetof(predict_args, restring), "NOTE:GAUGE,...",
     "compare with these strings, or tuning, in place of those: which saddle will have to move, "
     "which way and how far, and the change of tension; wound ones are taken to be of the same "
     "make",
     0, 0, false},
};

static const sb_option answer_options[] = {
    {"json", SB_OPT_FLAG, offsetof(predict_args, json), NULL, "print one JSON object", 0, 0, false},
};

#define COUNT(array) (sizeof(array) / sizeof *(array))

static const sb_option_group groups[] = {
    {"the strings", string_options, COUNT(string_options), 0},
    {"the neck", sb_height_options, SB_HEIGHT_OPTIONS, offsetof(predict_args, heights)},
    {"what is solved", fit_options, COUNT(fit_options), 0},
    {"the saddles", saddle_options, COUNT(saddle_options), 0},
    {"other strings", restring_options, COUNT(restring_options), 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(predict_args, at)},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {
    "--scale LEN --string NOTE:GAUGE... --action17 LEN [OPTIONS]",
    "--scale LEN --string NOTE:GAUGE... --nut-height LEN --rise LEN [OPTIONS]",
    "INSTRUMENT [--action17 LEN] [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback predict --scale 25.5in --string E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w --action17 "
    "4.5/64in",
    "setback predict --scale 650mm --string E4:28 --tension 68.6N --nut-height 1mm --rise 4mm "
    "--nut",
    "setback predict practice --action17 1.8mm --restring E4:9,B3:11,G3:16,D3:24w,A2:32w,E2:42w",
    NULL,
};

static int set_fit(const predict_args *args, sb_prediction_task *task) {
    static const double ends[] = {SB_ENDS_HYBRID, SB_ENDS_PINNED, SB_ENDS_CLAMPED};
    static const char *const names[] = {"hybrid", "pinned", "clamped"};
    int code = sb_frets_parse(args->frets, task->fit.frets, &task->fit.n_frets);
    task->fit.ends = ends[args->ends];
    task->ends = names[args->ends];
    task->fit.ends_std_error = SB_ENDS_STD_ERROR;
    task->fit.nut = args->nut;
    task->a4_hz = args->a4_hz;
    task->shared_fit = (sb_compromise_fit)args->fit;
    if (code == EX_OK && args->nut && task->fit.n_frets < 2)
        return sb_fail(EX_USAGE, "such as --frets 1-12", args->frets,
                       "--nut needs two frets at least");
    return code;
}

/* --- the strings ----------------------------------------------------------------------- */

static int set_scales(const sb_numbers *scale_mm, sb_string_set *set) {
    if (scale_mm->n != 1 && scale_mm->n != set->n)
        return sb_fail(EX_USAGE, "one for all, or one a string", NULL,
                       "%zu scale lengths for %zu strings", scale_mm->n, set->n);
    for (size_t i = 0; i < set->n; i++)
        set->strings[i].scale_mm = scale_mm->item[scale_mm->n == 1 ? 0 : i];
    return EX_OK;
}

/* What INSTRUMENT is in the book; its readings are looked up while the book is open. */
typedef struct {
    sb_book_named named; /* no book where no instrument was named */
    sb_description d;
} source;

static int open_source(predict_args *args, const sb_texts *operands, source *from) {
    if (operands->n == 0) {
        if (args->scale_mm.n > 0 && args->strings.n > 0)
            return EX_OK;
        return sb_fail(EX_USAGE,
                       "give --scale and --string, or the name of an instrument in the "
                       "book",
                       NULL, "which strings are meant");
    }
    if (args->scale_mm.n > 0 || args->strings.n > 0)
        return sb_fail(EX_USAGE, "the book knows both; --restring names other strings",
                       operands->item[0], "--scale and --string do not go with an instrument");
    int code = sb_book_open_named(&args->at, operands, SB_BOOK_READ, &from->named);
    if (code != EX_OK) {
        from->named.book = NULL;
        return code;
    }
    sb_book_status status = sb_book_describe(from->named.book, from->named.id, &from->d);
    return sb_book_complain(status, args->at.path, from->named.name);
}

static int set_strings(const predict_args *args, const source *from, sb_string_set *set) {
    const sb_instrument *it = &from->d.instrument;
    if (from->named.book) {
        set->n = it->n_strings;
        memcpy(set->strings, it->strings, it->n_strings * sizeof *it->strings);
        return EX_OK;
    }
    int code = sb_strings_set(&args->strings, set);
    return code == EX_OK ? set_scales(&args->scale_mm, set) : code;
}

static int set_saddles(const predict_args *args, const source *from, size_t n,
                       sb_prediction_task *task) {
    const sb_instrument *it = &from->d.instrument;
    task->spacing_mm = 10.5;
    if (from->named.book && task->fit.frets[task->fit.n_frets - 1] > it->frets)
        return sb_fail(EX_USAGE, "--frets says which count", from->named.name,
                       "the instrument has %d frets only", it->frets);
    const char *saddles = from->named.book || args->saddles ? args->saddles : "each";
    if (from->named.book)
        sb_saddles_of(it, task);
    if (saddles && sb_saddles_parse(saddles, n, task->saddles, &task->n_saddles) != SB_OK)
        return sb_fail(EX_USAGE, "each, pairs, one, or every string once: 1-2,3-4,5-6", saddles,
                       "these saddles do not fit %zu strings", n);
    if (saddles)
        sb_saddles_slant(task);
    for (size_t i = 0; args->shape != NOT_GIVEN && i < task->n_saddles; i++)
        task->saddles[i].shape = (sb_saddle_shape)args->shape;
    if (args->spacing_mm > 0)
        task->spacing_mm = args->spacing_mm;
    return EX_OK;
}

/* --- the answer ------------------------------------------------------------------------ */

/* What a run works with; too large for the stack. */
typedef struct {
    sb_prediction_task task;
    sb_string_set set[2];
    sb_prediction p[2];
    source from;
} work;

static int predict(const predict_args *args, work *w) {
    sb_predicted q[2] = {{&w->task, &w->set[0], &w->p[0]}, {&w->task, &w->set[1], &w->p[1]}};
    sb_page page = {stdout, sb_term_styled(stdout)};
    size_t sets = args->restring ? 2 : 1;
    int code = EX_OK;
    for (size_t i = 0; i < sets && code == EX_OK; i++)
        code = sb_predict_or_say(&w->task, &w->set[i], &w->p[i]);
    if (code != EX_OK)
        return code;
    if (args->json)
        return sb_json_prediction(stdout, &q[sets - 1], sets == 2 ? &q[0] : NULL)
                   ? EX_OK
                   : sb_complain_memory();
    if (sets == 2)
        sb_print_restring(&page, &q[0], &q[1]);
    else
        sb_print_prediction(&page, &q[0]);
    sb_text_wrap(stdout, SB_CAUTION, 0, 0, SB_PRINT_WIDTH);
    return EX_OK;
}

static int prepare(predict_args *args, const sb_texts *operands, work *w) {
    const sb_texts restring = {.item = {args->restring}, .n = 1};
    const sb_book_named *b = &w->from.named;
    int code = open_source(args, operands, &w->from);
    if (code == EX_OK)
        code = set_fit(args, &w->task);
    if (code == EX_OK)
        code = sb_set_heights_book(&args->heights, b->book, b->id, b->name, &w->task);
    if (code == EX_OK)
        code = set_strings(args, &w->from, &w->set[0]);
    if (code == EX_OK)
        code = sb_set_data(&w->set[0], &args->data, w->from.d.kind, args->a4_hz);
    if (code == EX_OK)
        code = set_saddles(args, &w->from, w->set[0].n, &w->task);
    if (code == EX_OK)
        code = sb_set_heard(&w->set[0], args->from_readings, b->book, b->id, b->name);
    if (code == EX_OK && args->restring)
        code = sb_restring_set(&restring, args->data.material, w->from.d.kind, args->a4_hz,
                               &w->set[0], &w->set[1]);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    predict_args args = {
        .frets = "1-12", .a4_hz = SB_A4_HZ, .heights = SB_HEIGHTS_UNTOLD, .shape = NOT_GIVEN};
    sb_texts operands = {.n = 0};
    int code = sb_command_args(self, argc, argv, &args, &operands);
    if (code != EX_OK)
        return code;
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    code = prepare(&args, &operands, w);
    if (code == EX_OK)
        code = predict(&args, w);
    sb_book_close(w->from.named.book);
    free(w);
    return code;
}

const sb_command sb_cmd_predict = {
    "predict",
    "say from the strings where saddle and nut have to stand, without sound",
    "Computes the compensation that fretted notes need: the exact length of the pressed string, "
    "the tension that pressing adds through the core, the stiffness, and the open string retuned; "
    "by least squares over the frets that count. Gauge and plain or wound are enough; what is "
    "known better stands in for the model, and what is not known shows in the error.\n"
    "Setbacks are from the nominal scale length, back positive; a nut's are positive away from the "
    "frets.\n"
    "The stiffness acts by how the ends are held, which is the model's largest doubt. A string "
    "goes on behind nut, fret and saddle, and what lies behind holds it half as well as a clamp "
    "would at each end: together as one clamped and one pinned end, hybrid. Measured on nylon: "
    "1.1 +- 0.2 clamped ends (Anderson and Beausoleil, 2024), and +- 0.2 is what the error counts "
    "with. Clamped ends would ask for about twice the setback, pinned ones for the stretch's part "
    "alone.",
    usage,
    examples,
    groups,
    run,
};
