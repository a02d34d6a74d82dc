/* predict: compensation from the strings themselves, without sound. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/prediction.h"
#include "cli/term.h"
#include "core/pitch.h"

#define NOT_GIVEN (-1)

typedef struct {
    sb_book_at at;
    sb_numbers scale_mm;
    sb_texts strings;
    sb_data_texts data;
    const char *from_readings, *frets, *saddles, *restring;
    double a4_hz;
    sb_heights heights;
    double behind_mm, spacing_mm; /* 0 = not given */
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
    {"material", SB_OPT_TEXT, offsetof(predict_args, data.material), "NAME[,...]",
     "steel, bronze (steel, wound in bronze), nylon, fluorocarbon or gut, for all or one a string "
     "(default nylon for a kind that has it and where steel would pull over 200 N, else steel)",
     0, 0, false},
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
    {"a4", SB_OPT_NUMBER, offsetof(predict_args, a4_hz), "HZ", "the pitch of A4 (default 440)", 380,
     500, false},
};

static const sb_option neck_options[] = {
    {"nut-height", SB_OPT_LENGTH, offsetof(predict_args, heights.nut_height_mm), "LEN",
     "height of the string at the nut over the fret crowns", 0, 20, false},
    {"rise", SB_OPT_LENGTH, offsetof(predict_args, heights.rise_mm), "LEN",
     "height of the saddle over the nut", -20, 50, false},
    {"action17", SB_OPT_LENGTH, offsetof(predict_args, heights.action17_mm), "LEN",
     "instead of these two: the open string's height over the crown of fret 17 (default as "
     "measured, "
     "see setback specs)",
     0.1, 50, false},
    {"action", SB_OPT_TEXT, offsetof(predict_args, heights.action), "FRET:LEN",
     "or over that of another fret: 12:1.6mm", 0, 0, false},
    {"first-fret", SB_OPT_LENGTH, offsetof(predict_args, heights.first_fret_mm), "LEN",
     "with an action: the height over fret 1 (default as measured, or 0.5 mm, common practice)",
     0.01, 20, false},
    {"relief", SB_OPT_LENGTH, offsetof(predict_args, heights.relief_mm), "LEN",
     "depth of the neck's bow under a straightedge from fret 1 to 17 (default as measured, or 0)",
     -5, 5, false},
    {"finger", SB_OPT_LENGTH, offsetof(predict_args, heights.finger_mm), "LEN",
     "how far behind the fret the finger presses (default 0: on the fret)", 0, 30, false},
    {"behind", SB_OPT_LENGTH, offsetof(predict_args, behind_mm), "LEN",
     "string behind nut and saddle that slides over them and shares the stretch (default 0: it is "
     "held)",
     0, 1000, false},
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
    {"the neck", neck_options, COUNT(neck_options), 0},
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

/* --- what is solved ------------------------------------------------------------------- */

static int set_fit(const predict_args *args, sb_prediction_task *task) {
    static const double ends[] = {SB_ENDS_HYBRID, SB_ENDS_PINNED, SB_ENDS_CLAMPED};
    static const char *const names[] = {"hybrid", "pinned", "clamped"};
    int code = sb_frets_parse(args->frets, task->fit.frets, &task->fit.n_frets);
    task->fit.ends = ends[args->ends];
    task->ends = names[args->ends];
    task->fit.ends_std_error = SB_ENDS_STD_ERROR;
    task->fit.nut = args->nut;
    task->fit.behind_mm = args->behind_mm;
    task->a4_hz = args->a4_hz;
    task->shared_fit = (sb_compromise_fit)args->fit;
    if (code == EX_OK && args->nut && task->fit.n_frets < 2)
        return sb_fail(EX_USAGE, "such as --frets 1-12", args->frets,
                       "--nut needs two frets at least");
    return code;
}

/* --- the strings ----------------------------------------------------------------------- */

static int parse_strings(const char *text, sb_string_set *set) {
    if (sb_strings_parse(text, set->strings, &set->n) != SB_OK)
        return sb_fail(EX_USAGE, "write them as E4:10,B3:13,G3:17,D3:26w or E4:0.712mm", text,
                       "these strings cannot be understood");
    return EX_OK;
}

/* Several --string make one list. */
static int join_strings(const sb_texts *texts, sb_string_set *set) {
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
    int code = join_strings(&args->strings, set);
    return code == EX_OK ? set_scales(&args->scale_mm, set) : code;
}

/* A shared saddle that is filed or shimmed can have any slant; one that a screw moves has the
 * shape that the book says. */
static int set_saddles(const predict_args *args, const source *from, size_t n,
                       sb_prediction_task *task) {
    const sb_instrument *it = &from->d.instrument;
    bool known = from->named.book && !args->saddles;
    task->spacing_mm = args->spacing_mm > 0 ? args->spacing_mm
                       : from->named.book   ? it->spacing_mm
                                            : 10.5;
    if (from->named.book && task->fit.frets[task->fit.n_frets - 1] > it->frets)
        return sb_fail(EX_USAGE, "--frets says which count", from->named.name,
                       "the instrument has %d frets only", it->frets);
    if (known) {
        task->n_saddles = it->n_saddles;
        memcpy(task->saddles, it->saddles, it->n_saddles * sizeof *it->saddles);
    } else if (sb_saddles_parse(args->saddles ? args->saddles : "each", n, task->saddles,
                                &task->n_saddles) != SB_OK) {
        return sb_fail(EX_USAGE, "each, pairs, one, or every string once: 1-2,3-4,5-6",
                       args->saddles, "these saddles do not fit %zu strings", n);
    }
    for (size_t i = 0; i < task->n_saddles; i++) {
        sb_saddle *s = &task->saddles[i];
        if (args->shape != NOT_GIVEN)
            s->shape = (sb_saddle_shape)args->shape;
        else if (!known || s->way != SB_WAY_SCREW)
            s->shape = SB_SHAPE_SLANT;
    }
    return EX_OK;
}

static int set_heard(const predict_args *args, const source *from, sb_string_set *set) {
    if (!args->from_readings)
        return EX_OK;
    if (strcmp(args->from_readings, "book") != 0)
        return sb_set_heard_file(set, args->from_readings);
    if (!from->named.book)
        return sb_fail(EX_USAGE, "name the instrument, or give the file with the measurements",
                       NULL, "--from-readings book needs an instrument of the book");
    return sb_set_heard_book(set, from->named.book, from->named.id, from->named.name);
}

static int set_heights(const predict_args *args, const source *from, sb_prediction_task *task) {
    if (!from->named.book)
        return sb_set_heights(&args->heights, NULL, task);
    return sb_set_heights_book(&args->heights, from->named.book, from->named.id, from->named.name,
                               task);
}

/* The strings to come: the same places, other notes and gauges; nothing else is known of them. */
static int set_restring(const predict_args *args, const source *from, const sb_string_set *now,
                        sb_string_set *then) {
    const sb_data_texts material = {.material = args->data.material};
    int code = parse_strings(args->restring, then);
    if (code == EX_OK && then->n != now->n)
        return sb_fail(EX_USAGE, "name every string, in the same order", args->restring,
                       "%zu strings in place of %zu", then->n, now->n);
    for (size_t i = 0; code == EX_OK && i < then->n; i++)
        then->strings[i].scale_mm = now->strings[i].scale_mm;
    return code == EX_OK ? sb_set_data(then, &material, from->d.kind, args->a4_hz) : code;
}

/* --- the answer ------------------------------------------------------------------------ */

/* What a run works with; too large for the stack. */
typedef struct {
    sb_prediction_task task;
    sb_string_set set[2];
    sb_prediction p[2];
    source from;
} work;

/* What it is of a string that cannot be: its data, or else where it lies. */
static int complain(const work *w, const sb_string_set *set, sb_status status, size_t failed) {
    const sb_string *s = &set->strings[failed];
    char note[SB_NOTE_TEXT_MAX];
    sb_wire wire;
    sb_note_format(s->semitone, note, sizeof note);
    if (status == SB_E_UNDETERMINED)
        return sb_fail(EX_USAGE, "give its gauge, as in E4:10, or --unit-mass and --core", note,
                       "too little is known of string %zu", failed + 1);
    if (sb_wire_make(&set->data[failed], s->scale_mm, sb_note_hz(s->semitone, w->task.a4_hz), NULL,
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

static int predict(const predict_args *args, work *w) {
    sb_predicted q[2] = {{&w->task, &w->set[0], &w->p[0]}, {&w->task, &w->set[1], &w->p[1]}};
    sb_page page = {stdout, sb_term_styled(stdout)};
    size_t sets = args->restring ? 2 : 1;
    for (size_t i = 0; i < sets; i++) {
        size_t failed = 0;
        sb_status status = sb_predict(&w->task, &w->set[i], &w->p[i], &failed);
        if (status != SB_OK)
            return complain(w, &w->set[i], status, failed);
    }
    if (args->json)
        return sb_json_prediction(stdout, &q[sets - 1], sets == 2 ? &q[0] : NULL)
                   ? EX_OK
                   : sb_complain_memory();
    if (sets == 2)
        sb_print_restring(&page, &q[0], &q[1]);
    else
        sb_print_prediction(&page, &q[0]);
    return EX_OK;
}

static int prepare(predict_args *args, const sb_texts *operands, work *w) {
    int code = open_source(args, operands, &w->from);
    if (code == EX_OK)
        code = set_fit(args, &w->task);
    if (code == EX_OK)
        code = set_heights(args, &w->from, &w->task);
    if (code == EX_OK)
        code = set_strings(args, &w->from, &w->set[0]);
    if (code == EX_OK)
        code = sb_set_data(&w->set[0], &args->data, w->from.d.kind, args->a4_hz);
    if (code == EX_OK)
        code = set_saddles(args, &w->from, w->set[0].n, &w->task);
    if (code == EX_OK)
        code = set_heard(args, &w->from, &w->set[0]);
    if (code == EX_OK && args->restring)
        code = set_restring(args, &w->from, &w->set[0], &w->set[1]);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    predict_args args = {.frets = "1-12",
                         .a4_hz = SB_A4_HZ,
                         .heights = {.nut_height_mm = NOT_GIVEN,
                                     .rise_mm = SB_NO_LENGTH,
                                     .action17_mm = NOT_GIVEN,
                                     .first_fret_mm = NOT_GIVEN,
                                     .relief_mm = SB_NO_LENGTH},
                         .shape = NOT_GIVEN};
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
