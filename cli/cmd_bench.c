/* bench: the session at the bench, an instrument's strings to true. */
#include <stddef.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench_front.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/term.h"
#include "cli/view.h"
#include "cli/view_guard.h"
#include "core/pitch.h"

typedef struct {
    sb_book_at at;
    sb_input_options input;
    sb_texts takes, moved, changed;
    bool plain, json, commands;
    double pace, timeout_s, tolerance_cents, a4_hz;
    sb_numbers priority;
    int fit, string;
} bench_args;

#define NOT_GIVEN (-1)

static const sb_option sound_options[] = {
    {"take", SB_OPT_TEXTS, offsetof(bench_args, takes), "FILE",
     "hear a recording in place of a device; several are heard in the order given", 0, 0, false},
    {"pace", SB_OPT_NUMBER, offsetof(bench_args, pace), "X",
     "how fast recordings are played: 1 as they were, 2 twice as fast, 0 at once (default 1 on "
     "the screen, else 0)",
     0, 1000, false},
    {"timeout", SB_OPT_NUMBER, offsetof(bench_args, timeout_s), "S",
     "end by itself after this time (default: when told to; 60 where there is no terminal)", 1,
     86400, false},
};

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
    {"tolerance", SB_OPT_NUMBER, offsetof(bench_args, tolerance_cents), "CENTS",
     "the error that may stay (default 1)", 0.05, 50, false},
    {"fit", SB_OPT_CHOICE, offsetof(bench_args, fit), "largest|squares",
     "what is made least where strings share a saddle: the largest error (default) or the sum of "
     "squares",
     0, 0, false},
    {"priority", SB_OPT_NUMBERS, offsetof(bench_args, priority), "W,W,...",
     "how much each string counts on a shared saddle (default 1 each)", 1e-3, 1e3, false},
    {"a4", SB_OPT_NUMBER, offsetof(bench_args, a4_hz), "HZ", "the pitch of A4 (default 440)", 380,
     480, false},
};

static const sb_option answer_options[] = {
    {"plain", SB_OPT_FLAG, offsetof(bench_args, plain), NULL,
     "print lines in place of a screen, for logs, scripts and screen readers", 0, 0, false},
    {"json", SB_OPT_FLAG, offsetof(bench_args, json), NULL,
     "print one JSON object an event, the last one the summary", 0, 0, false},
    {"commands", SB_OPT_FLAG, offsetof(bench_args, commands), NULL,
     "with --take and --plain or --json: go on with what is typed on standard input (help lists "
     "it), until its end or quit",
     0, 0, false},
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sound", sound_options, COUNT(sound_options), 0},
    {"the work", work_options, COUNT(work_options), 0},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(bench_args, input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(bench_args, at)},
    {NULL, NULL, 0, 0},
};

/* --- before the session ------------------------------------------------------------------ */

/* Recordings that cannot be opened are named before anything is written. */
static int check_takes(const bench_args *args) {
    for (size_t i = 0; i < args->takes.n; i++) {
        sb_recording *recording = NULL;
        double rate_hz = 0;
        sb_status status =
            sb_recording_open(args->takes.item[i], args->input.channel, &rate_hz, &recording);
        if (status != SB_OK)
            return sb_complain_recording(status, args->takes.item[i], rate_hz, args->input.channel);
        sb_recording_discard(recording);
    }
    return EX_OK;
}

static int check(const bench_args *args) {
    if (args->plain && args->json)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--plain does not go with --json");
    return check_takes(args);
}

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

static int open_source(const bench_args *args, bool screen, sb_source *source) {
    bool at_once = args->takes.n > 0 || (args->commands && !screen);
    if (!at_once)
        return sb_source_open_live(source, &args->input);
    double pace = args->pace >= 0 ? args->pace : screen ? 1 : 0;
    sb_term_catch_signals();
    sb_source_open_takes(source, pace, args->input.channel, screen);
    for (size_t i = 0; i < args->takes.n; i++)
        if (!sb_source_add(source, args->takes.item[i]))
            return sb_complain_memory();
    return EX_OK;
}

static int conclude(const sb_bench_end *end, const char *path) {
    if (end->status != SB_BOOK_OK)
        return sb_book_complain(end->status, path, NULL);
    if (end->state == SB_SOURCE_LOST)
        return sb_live_failure(SB_LIVE_LOST);
    if (end->state == SB_SOURCE_MEMORY)
        return sb_complain_memory();
    if (end->bad_takes > 0 || end->empty_takes > 0)
        return EX_DATAERR;
    return EX_OK;
}

static bool typist_gone(void *lines) {
    const sb_lines *l = lines;
    return !l->listens || (l->ended && l->n == 0);
}

/* Runs it on what it listens to, open by now, through a front. */
static int run_session(const bench_args *args, sb_bench *bench, sb_source *source,
                       const sb_front *front, bool screen) {
    bool unwatched = source->is_live && !screen && !isatty(STDIN_FILENO);
    double timeout_s = args->timeout_s > 0 ? args->timeout_s : unwatched ? SB_LIVE_UNWATCHED_S : 0;
    sb_bench_run run = {.front = front,
                        .bench = bench,
                        .source = source,
                        .stays = screen || args->commands,
                        .gone = screen ? NULL : typist_gone,
                        .timeout_s = timeout_s};
    sb_bench_end end = sb_bench_loop(&run);
    bool whole = front->end(front->context, bench);
    int code = conclude(&end, args->at.path);
    return whole || code != EX_OK ? code : sb_complain_memory();
}

/* The screen is taken last, so that what goes wrong before is said on it as it was. */
static int run_front(const bench_args *args, sb_bench *bench, sb_front *front, bool screen) {
    sb_source source;
    sb_view *view = NULL;
    int code = carry_out_all(bench, sb_bench_try, args); /* all of them or none */
    if (code == EX_OK)
        code = open_source(args, screen, &source);
    if (code != EX_OK)
        return code;
    if (screen)
        code = sb_view_open(&view);
    if (screen && code == EX_OK)
        *front = sb_view_front(view);
    if (code == EX_OK) {
        bench->options.tell = front->tell;
        bench->options.context = front->context;
        front->begin(front->context, bench);
        code = carry_out_all(bench, sb_bench_do, args);
    }
    if (code == EX_OK)
        code = run_session(args, bench, &source, front, screen);
    sb_view_close(view);
    sb_source_close(&source);
    return code;
}

static int run_bench(const bench_args *args, sb_book_named *named, sb_bench_options *options) {
    bool screen = !args->plain && !args->json && sb_screen_possible();
    sb_lines lines = {.listens = args->commands || args->takes.n == 0};
    sb_front front = args->json ? sb_json_front(&lines) : sb_plain_front(&lines);
    sb_bench *bench = NULL;
    if (!screen) {
        options->tell = front.tell;
        options->context = front.context;
    }
    sb_book_status status = sb_bench_new(options, named->book, named->id, named->name, &bench);
    int code = sb_book_complain(status, args->at.path, named->name);
    if (code == EX_OK)
        code = run_front(args, bench, &front, screen);
    sb_bench_free(bench);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    bench_args args = {.pace = NOT_GIVEN,
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
        code = check(&args);
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

static const char *const usage[] = {"NAME [OPTIONS]", NULL};
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
