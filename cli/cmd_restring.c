/* restring: a new set of strings, from what it will change to measured strings. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/prediction.h"
#include "cli/sitting.h"
#include "cli/term.h"
#include "cli/text.h"
#include "cli/view_guard.h"
#include "core/pitch.h"

#define CAUTION                                                                                    \
    "wear eye protection: a wire that lets go whips. Slacken a string before it is cut, unwound "  \
    "or its saddle moved; cut ends are sharp: clip them short and bin them."

typedef struct {
    sb_book_at at;
    sb_sitting_options sitting;
    sb_texts strings;
    bool same;
    const char *material;
    sb_heights heights;
    double tolerance_cents, a4_hz;
} restring_args;

static const sb_option string_options[] = {
    {"string", SB_OPT_TEXTS, offsetof(restring_args, strings), "NOTE:GAUGE[,...]",
     "the new set, every string in the order of the old ones: "
     "E4:9,B3:11,G3:16,D3:24w,A2:32w,E2:42w",
     0, 0, false},
    {"same", SB_OPT_FLAG, offsetof(restring_args, same), NULL,
     "a new set of the same notes and gauges", 0, 0, false},
    SB_ROW_MATERIAL(restring_args, material),
};

static const sb_option work_options[] = {
    SB_ROW_TOLERANCE(restring_args, tolerance_cents),
    SB_ROW_A4(restring_args, a4_hz, 480),
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the strings", string_options, COUNT(string_options), 0},
    {"the neck, for the prediction", sb_height_options, SB_HEIGHT_OPTIONS,
     offsetof(restring_args, heights)},
    {"the sound", sb_sitting_sound, SB_SITTING_SOUND, offsetof(restring_args, sitting)},
    {"the work", work_options, COUNT(work_options), 0},
    {"the answer", sb_sitting_answer, SB_SITTING_ANSWER, offsetof(restring_args, sitting)},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(restring_args, sitting.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(restring_args, at)},
    {NULL, NULL, 0, 0},
};

/* What a run works with; too large for the stack. */
typedef struct {
    const restring_args *args;
    sb_book_named named;
    sb_description d;
    sb_prediction_task task;
    sb_string_set set[2]; /* that were on, that come */
    sb_prediction p[2];
    bool fits;      /* a set is fitted now; otherwise it goes on with that of this visit */
    bool predicted; /* set[1] and p[] hold */
    sb_bench *bench;
} work;

/* --- what will change -------------------------------------------------------------------- */

static int set_task(work *w) {
    w->task.fit.n_frets = 0;
    for (int fret = 1; fret <= 12; fret++)
        w->task.fit.frets[w->task.fit.n_frets++] = fret;
    w->task.fit.ends = SB_ENDS_HYBRID;
    w->task.fit.ends_std_error = SB_ENDS_STD_ERROR;
    w->task.ends = "hybrid";
    w->task.a4_hz = w->args->a4_hz;
    sb_saddles_of(&w->d.instrument, &w->task);
    return sb_set_heights_book(&w->args->heights, w->named.book, w->named.id, w->named.name,
                               &w->task);
}

/* The courses stay as they are. */
static int check_courses(const work *w) {
    for (size_t i = 0; i < w->set[0].n; i++)
        if (w->set[1].strings[i].course != w->set[0].strings[i].course)
            return sb_fail(EX_USAGE, "join the strings of a course by +, as in setback book show",
                           w->named.name, "string %zu belongs to another course", i + 1);
    return EX_OK;
}

static int set_strings(work *w) {
    const restring_args *a = w->args;
    const sb_instrument *it = &w->d.instrument;
    const sb_data_texts material = {.material = a->material};
    w->set[0].n = it->n_strings;
    memcpy(w->set[0].strings, it->strings, sizeof it->strings);
    int code = sb_set_data(&w->set[0], &material, w->d.kind, a->a4_hz);
    if (code == EX_OK && a->same)
        w->set[1] = w->set[0];
    else if (code == EX_OK)
        code =
            sb_restring_set(&a->strings, a->material, w->d.kind, a->a4_hz, &w->set[0], &w->set[1]);
    return code == EX_OK ? check_courses(w) : code;
}

/* Where too little is known of a string, the set is fitted all the same. */
static void predict(work *w) {
    w->predicted = !w->args->same;
    for (size_t i = 0; i < 2 && w->predicted; i++) {
        size_t failed = 0;
        w->predicted = sb_predict(&w->task, &w->set[i], &w->p[i], &failed) == SB_OK;
        if (!w->predicted)
            sb_warn(w->named.name,
                    "what will change cannot be predicted: %s string %zu cannot be "
                    "worked out from its gauge and its height",
                    i == 0 ? "the old" : "the new", failed + 1);
    }
}

static bool fitted(const sb_bench *bench) {
    for (size_t i = 0; i < bench->progress.instrument.n_strings; i++)
        if (bench->new_strings[i].fitted)
            return true;
    return false;
}

/* Nothing is written for it, not even that a visit begins. */
static int check_fitted(const work *w, sb_bench_options options) {
    sb_bench *bench = NULL;
    options.aside = true;
    sb_book_status status =
        sb_bench_new(&options, w->named.book, w->named.id, w->named.name, &bench);
    bool any = status == SB_BOOK_OK && fitted(bench);
    sb_bench_free(bench);
    if (status != SB_BOOK_OK)
        return sb_book_complain(status, w->args->at.path, w->named.name);
    return any ? EX_OK
               : sb_fail(EX_USAGE, "--string names the new set, --same repeats the old one",
                         w->named.name, "no new strings are noted in this visit");
}

static int prepare(work *w, const sb_bench_options *options) {
    w->fits = w->args->same || w->args->strings.n > 0;
    if (w->args->same && w->args->strings.n > 0)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--same and --string");
    if (!w->fits)
        return check_fitted(w, *options);
    int code = set_task(w);
    if (code == EX_OK)
        code = set_strings(w);
    if (code == EX_OK)
        predict(w);
    return code;
}

static int say_what_changes(const work *w, sb_lines *lines) {
    const sb_predicted now = {&w->task, &w->set[0], &w->p[0]};
    const sb_predicted then = {&w->task, &w->set[1], &w->p[1]};
    sb_page page = {stdout, sb_term_styled(stdout)};
    lines->cautioned = true;
    if (w->args->sitting.json) {
        if (w->predicted && !sb_json_prediction(stdout, &then, &now))
            return sb_complain_memory();
        sb_json_caution(lines, CAUTION);
        return EX_OK;
    }
    if (w->predicted)
        sb_print_restring(&page, &now, &then);
    sb_text_wrap(stdout, "caution: " CAUTION, 0, 0, SB_PRINT_WIDTH);
    (void)fputc('\n', stdout);
    return EX_OK;
}

/* --- the session ------------------------------------------------------------------------- */

static int fit(void *context, bool trial) {
    work *w = context;
    const char *fault = NULL;
    if (!w->fits)
        return EX_OK;
    sb_book_status status = sb_bench_restring(w->bench, w->set[1].strings, trial, &fault);
    if (fault)
        return sb_fail(EX_USAGE, fault, w->named.name, "such strings cannot be on it");
    return sb_book_complain(status, w->args->at.path, w->named.name);
}

/* The screen would cover what was said, and there is nothing to hear yet. */
static bool wait_for_strings(const work *w, bool screen) {
    char answer[16];
    return !screen || !w->fits || w->args->sitting.takes.n > 0 ||
           sb_book_ask("Enter when the strings are on and tuned: ", answer, sizeof answer);
}

static int run_sitting(work *w) {
    const sb_sitting_options *o = &w->args->sitting;
    bool screen = !o->plain && !o->json && sb_screen_possible();
    sb_lines lines = {.listens = o->commands || o->takes.n == 0, .what = "restring"};
    const sb_front front = o->json ? sb_json_front(&lines) : sb_plain_front(&lines);
    const sb_sitting sitting = {.options = o,
                                .book = w->args->at.path,
                                .bench = w->bench,
                                .front = &front,
                                .lines = &lines,
                                .screen = screen,
                                .before = fit,
                                .context = w,
                                .enough = sb_bench_strings_in};
    int code = w->fits ? say_what_changes(w, &lines) : EX_OK;
    if (code == EX_OK && !wait_for_strings(w, screen))
        return EX_OK;
    return code == EX_OK ? sb_sitting_run(&sitting) : code;
}

static int run_on(work *w, const sb_texts *names, restring_args *args) {
    int code = sb_book_open_named(&args->at, names, SB_BOOK_WRITE, &w->named);
    if (code != EX_OK) {
        w->named.book = NULL;
        return code;
    }
    sb_bench_options options = {.progress = sb_progress_default(), .a4_hz = args->a4_hz};
    options.progress.tolerance_cents = args->tolerance_cents;
    code = sb_book_complain(sb_book_describe(w->named.book, w->named.id, &w->d), args->at.path,
                            w->named.name);
    if (code == EX_OK)
        code = prepare(w, &options);
    if (code == EX_OK)
        code = sb_book_complain(
            sb_bench_new(&options, w->named.book, w->named.id, w->named.name, &w->bench),
            args->at.path, w->named.name);
    if (code == EX_OK)
        code = run_sitting(w);
    sb_bench_free(w->bench);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    restring_args args = {.sitting = SB_SITTING_UNTOLD,
                          .heights = SB_HEIGHTS_UNTOLD,
                          .tolerance_cents = SB_TOLERANCE_CENTS,
                          .a4_hz = SB_A4_HZ};
    sb_texts names = {.n = 0};
    args.heights.assumes = true;
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_sitting_check(&args.sitting);
    if (code != EX_OK)
        return code;
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args = &args;
    code = run_on(w, &names, &args);
    sb_book_close(w->named.book);
    free(w);
    return code;
}

static const char *const usage[] = {
    "INSTRUMENT --string NOTE:GAUGE,... [OPTIONS]",
    "INSTRUMENT --same [OPTIONS]",
    "INSTRUMENT [OPTIONS]",
    NULL,
};
static const char *const examples[] = {
    "setback restring practice --string E4:9,B3:11,G3:16,D3:24w,A2:32w,E2:42w",
    "setback restring practice --same --take stretched.wav --json",
    NULL,
};

const sb_command sb_cmd_restring = {
    "restring",
    "fit a new set: what it changes, until it holds its pitch and is measured",
    "Notes the new set in the book and says, from the strings alone, which saddle will have to "
    "move, which way and how far, and what becomes of tension and relief. Then it listens: to the "
    "open strings while they stretch, until each holds its pitch, and to both notes of each as "
    "setback bench does. Live it ends by itself when all are settled and measured. Without a set "
    "it goes on with the one noted in this visit.\n"
    "Wear eye protection, slacken a string before it is cut, unwound or its saddle moved, and mind "
    "the cut ends. A set of another tension bends the neck otherwise: relief and action come "
    "first.",
    usage,
    examples,
    groups,
    run,
};
