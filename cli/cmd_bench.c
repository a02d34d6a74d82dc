/* bench: the session at the bench, an instrument's strings to true. */
#include <stddef.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/sitting.h"
#include "cli/view_guard.h"
#include "core/pitch.h"

typedef struct {
    sb_book_at at;
    sb_sitting_options sitting;
    sb_texts moved, changed;
    double tolerance_cents, a4_hz;
    sb_numbers priority;
    int fit, string;
} bench_args;

#define NOT_GIVEN (-1)

static const sb_option work_options[] = {
    {"changed", SB_OPT_TEXTS, offsetof(bench_args, changed), "WHAT[=N]",
     "before the session relief, nut, action, strings or tuning were changed, of string N or of "
     "all: readings that it spoils are asked for again",
     0, 0, false},
    {"moved", SB_OPT_TEXTS, offsetof(bench_args, moved), "N[=AMOUNT]",
     "before the session string N's saddle was moved: 3=1.7mm, 3=-0.5mm, '3=1.7 back', '3=2 1/4 "
     "turns clockwise', 1-6=1.2,0.4 at the ends of a slanted one; without an amount as asked; "
     "all: every move that was asked for",
     0, 0, false},
    {"string", SB_OPT_WHOLE, offsetof(bench_args, string), "N",
     "only this string is plucked; needed for one of a pair in unison", 1, SB_STRINGS_MAX, false},
    SB_ROW_TOLERANCE(bench_args, tolerance_cents),
    {"fit", SB_OPT_CHOICE, offsetof(bench_args, fit), "largest|squares",
     "what is made least where strings share a saddle: the largest error (default) or the sum of "
     "squares",
     0, 0, false},
    {"priority", SB_OPT_NUMBERS, offsetof(bench_args, priority), "W,W,...",
     "how much each string counts on a shared saddle (default 1 each)", 1e-3, 1e3, false},
    SB_ROW_A4(bench_args, a4_hz, 480),
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sound", sb_sitting_sound, SB_SITTING_SOUND, offsetof(bench_args, sitting)},
    {"the work", work_options, COUNT(work_options), 0},
    {"the answer", sb_sitting_answer, SB_SITTING_ANSWER, offsetof(bench_args, sitting)},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(bench_args, sitting.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(bench_args, at)},
    {NULL, NULL, 0, 0},
};

/* --- before the session ------------------------------------------------------------------ */

static int options_of(const bench_args *args, const sb_description *d, sb_bench_options *o) {
    size_t n = d->instrument.n_strings;
    o->progress = sb_progress_default();
    o->progress.tolerance_cents = args->tolerance_cents;
    o->progress.fit = args->fit == NOT_GIVEN ? SB_FIT_LARGEST : (sb_compromise_fit)args->fit;
    o->a4_hz = args->a4_hz;
    if (args->priority.n != 0 && args->priority.n != n)
        return sb_fail(EX_USAGE, "one a string, string 1 first", NULL,
                       "%zu priorities for %zu strings", args->priority.n, n);
    for (size_t i = 0; i < args->priority.n; i++)
        o->progress.priority[i] = args->priority.item[i];
    return EX_OK;
}

typedef sb_book_status doing(sb_bench *bench, const sb_order *order, const char **fault);

static int carry_out(sb_bench *bench, doing *how, const char *word, const char *value) {
    char line[SB_ORDER_TEXT_MAX];
    sb_order order;
    int n = snprintf(line, sizeof line, "%s %s", word, value);
    const char *fault =
        n > 0 && (size_t)n < sizeof line ? sb_order_parse(line, &order) : "it is too long";
    sb_book_status status = SB_BOOK_OK;
    if (!fault)
        status = how(bench, &order, &fault);
    if (fault)
        return sb_fail(EX_USAGE, fault, value, "--%s cannot be understood or done", word);
    return sb_book_complain(status, NULL, NULL);
}

static int carry_out_all(sb_bench *bench, doing *how, const bench_args *args) {
    char string[24];
    int code = EX_OK;
    for (size_t i = 0; i < args->moved.n && code == EX_OK; i++)
        code = carry_out(bench, how, "moved", args->moved.item[i]);
    for (size_t i = 0; i < args->changed.n && code == EX_OK; i++)
        code = carry_out(bench, how, "changed", args->changed.item[i]);
    (void)snprintf(string, sizeof string, "%d", args->string);
    if (code == EX_OK && args->string != NOT_GIVEN)
        code = carry_out(bench, how, "string", string);
    return code;
}

/* --- the session ------------------------------------------------------------------------- */

typedef struct {
    const bench_args *args;
    sb_bench *bench;
} told_before;

static int carry_out_told(void *context, bool trial) {
    const told_before *t = context;
    return carry_out_all(t->bench, trial ? sb_bench_try : sb_bench_do, t->args);
}

static int run_bench(const bench_args *args, sb_book_named *named, sb_bench_options *options) {
    const sb_sitting_options *o = &args->sitting;
    bool screen = !o->plain && !o->json && sb_screen_possible();
    sb_lines lines = {.listens = o->commands || o->takes.n == 0};
    sb_front front = o->json ? sb_json_front(&lines) : sb_plain_front(&lines);
    told_before told = {args, NULL};
    if (!screen) {
        options->tell = front.tell;
        options->context = front.context;
    }
    sb_book_status status = sb_bench_new(options, named->book, named->id, named->name, &told.bench);
    const sb_sitting sitting = {.options = o,
                                .book = args->at.path,
                                .bench = told.bench,
                                .front = &front,
                                .lines = &lines,
                                .screen = screen,
                                .before = carry_out_told,
                                .context = &told};
    int code = sb_book_complain(status, args->at.path, named->name);
    if (code == EX_OK)
        code = sb_sitting_run(&sitting);
    sb_bench_free(told.bench);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    bench_args args = {.sitting = SB_SITTING_UNTOLD,
                       .fit = NOT_GIVEN,
                       .string = NOT_GIVEN,
                       .tolerance_cents = SB_TOLERANCE_CENTS,
                       .a4_hz = SB_A4_HZ};
    sb_texts names = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    sb_bench_options options = {.a4_hz = SB_A4_HZ};
    sb_description d;
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_sitting_check(&args.sitting);
    if (code == EX_OK)
        code = sb_book_open_named(&args.at, &names, SB_BOOK_WRITE, &named);
    if (code != EX_OK)
        return code;
    code = sb_book_complain(sb_book_describe(named.book, named.id, &d), args.at.path, named.name);
    if (code == EX_OK)
        code = options_of(&args, &d, &options);
    if (code == EX_OK)
        code = run_bench(&args, &named, &options);
    sb_book_close(named.book);
    return code;
}

static const char *const usage[] = {"INSTRUMENT [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback bench 'blue bass'",
    "setback bench practice --take before.wav --json",
    "setback bench practice --moved 6=1.7mm --moved '5=0.4 forward' --take after.wav --json",
    NULL,
};

const sb_command sb_cmd_bench = {
    "bench",
    "set an instrument's saddles, string by string, to true",
    "Listens while each string is plucked open and at the 12th fret, in any order, tells the "
    "strings apart by their pitch, and says which saddle to move, how far and which way, until "
    "all are true. Moves may be told or are seen from the readings; what a move did is used for "
    "the next. All is kept in the book, and a session that was broken off goes on where it "
    "stopped.\n"
    "Slacken a string before its saddle is moved, with your eyes protected, and tune it before "
    "it is plucked again. Relief, nut slots and action come first.",
    usage,
    examples,
    groups,
    run,
};
