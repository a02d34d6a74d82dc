/* recheck: an instrument heard again, against what the book keeps of it. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/rechecked.h"
#include "cli/sitting.h"
#include "cli/term.h"
#include "core/pitch.h"

#define MOST_PLUCKS 6 /* of each kind after which scatter is what it is */

typedef struct {
    sb_book_at at;
    sb_sitting_options sitting;
    double tolerance_cents, a4_hz;
} recheck_args;

static const sb_option work_options[] = {
    SB_ROW_TOLERANCE(recheck_args, tolerance_cents),
    SB_ROW_A4(recheck_args, a4_hz, 480),
    {"json", SB_OPT_FLAG, offsetof(recheck_args, sitting.json), NULL, "print one JSON object", 0, 0,
     false},
    {"commands", SB_OPT_FLAG, offsetof(recheck_args, sitting.commands), NULL,
     "with --take: go on with what is typed on standard input, until its end or quit: string N "
     "where two strings sound the same (only that one is plucked next; any ends it), take FILE",
     0, 0, false},
};

static const sb_option_group groups[] = {
    {"the sound", sb_sitting_sound, SB_SITTING_SOUND, offsetof(recheck_args, sitting)},
    {"the answer", work_options, sizeof work_options / sizeof *work_options, 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(recheck_args, sitting.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(recheck_args, at)},
    {NULL, NULL, 0, 0},
};

/* What a run works with; too large for the stack. */
typedef struct {
    const recheck_args *args;
    sb_book_named named;
    sb_rechecked r;
    sb_lines lines;
    sb_front plain; /* for notes, and what is left out */
    sb_book_status status;
} work;

/* --- what is heard ----------------------------------------------------------------------- */

/* The running mean of n+1 values; the error is that of a pluck. */
static void take_figure(sb_figure *f, size_t n, double value, double std_error) {
    f->value = (f->value * (double)n + value) / (double)(n + 1);
    f->std_error = (fmax(f->std_error, 0) * (double)n + std_error) / (double)(n + 1);
}

static void take_note(sb_rechecked_string *s, const sb_news *news) {
    const sb_reading *r = news->reading;
    size_t all = s->plucks[0] + s->plucks[1];
    if (!news->fretted)
        take_figure(&s->signs.now[SB_SIGN_INHARMONICITY], s->plucks[0], r->inharmonicity,
                    r->inharmonicity_std_error);
    take_figure(&s->signs.now[SB_SIGN_SCATTER], all, r->scatter_cents, 0);
    take_figure(&s->signs.now[SB_SIGN_BEATING], all, r->beating_cents, 0);
    s->plucks[news->fretted]++;
}

static bool known_well(const sb_rechecked_string *s, double tolerance) {
    return s->now.std_error > 0 && (s->now.std_error <= tolerance / 2 ||
                                    (s->plucks[0] >= MOST_PLUCKS && s->plucks[1] >= MOST_PLUCKS));
}

/* Live, what was read and what is still to be heard. */
static void tell_reading(const work *w, size_t string) {
    const sb_rechecked_string *s = &w->r.strings[string - 1];
    char error[64];
    sb_format_error(s->now.cents, s->now.std_error, error, sizeof error);
    (void)printf("string %zu: %s; still to hear:", string, error);
    bool any = false;
    for (size_t i = 0; i < w->r.d.instrument.n_strings; i++) {
        if (known_well(&w->r.strings[i], w->r.tolerance_cents))
            continue;
        (void)printf(" %zu", i + 1);
        any = true;
    }
    (void)puts(any ? "" : " nothing");
    (void)fflush(stdout);
}

static void take_news(sb_rechecked_string *s, const sb_news *news) {
    if (news->kind == SB_NEWS_READING)
        s->now = (sb_error_reading){news->interval->error_cents, news->interval->std_error_cents};
    else if (news->kind == SB_NEWS_NOTE)
        take_note(s, news);
}

static void tell(void *context, const sb_bench *bench, const sb_news *news) {
    work *w = context;
    if (news->string > 0)
        take_news(&w->r.strings[news->string - 1], news);
    if (w->args->sitting.json)
        return;
    switch (news->kind) {
    case SB_NEWS_NOTE:
    case SB_NEWS_LEFT_OUT:
    case SB_NEWS_UNDECIDED:
    case SB_NEWS_ELSEWHERE: w->plain.tell(w->plain.context, bench, news); break;
    case SB_NEWS_READING:
        if (!bench->take)
            tell_reading(w, news->string);
        break;
    default: break;
    }
}

static bool enough(const sb_bench *bench) {
    const work *w = bench->options.context;
    for (size_t i = 0; i < w->r.d.instrument.n_strings; i++)
        if (!known_well(&w->r.strings[i], w->r.tolerance_cents))
            return false;
    return true;
}

/* --- the front --------------------------------------------------------------------------- */

static void begin(void *context, const sb_bench *bench) {
    work *w = context;
    if (w->args->sitting.json)
        return;
    (void)printf("recheck: pluck each string open and at fret %d, in any order\n",
                 bench->options.progress.fret);
    (void)fflush(stdout);
}

static void trouble(void *context, const char *what, const char *subject) {
    (void)context;
    sb_warn(subject, "%s", what);
}

/* Nothing that would change what is kept. */
static bool typed(void *context, const sb_bench *bench, char *line, size_t size) {
    work *w = context;
    sb_order order;
    while (sb_lines_typed(&w->lines, bench, line, size)) {
        if (!sb_order_parse(line, &order) &&
            (order.kind == SB_ORDER_STRING || order.kind == SB_ORDER_TAKE ||
             order.kind == SB_ORDER_QUIT))
            return true;
        sb_warn(line, "a recheck takes string N, take FILE and quit only");
    }
    return false;
}

static void show(void *context, const sb_bench *bench, bool help) {
    (void)context;
    (void)bench;
    (void)help;
}

/* It is in the book before it is shown. */
static bool end(void *context, const sb_bench *bench) {
    work *w = context;
    sb_page page = {stdout, sb_term_styled(stdout)};
    (void)bench;
    sb_rechecked_judge(&w->r);
    if (w->r.heard == 0)
        return true;
    w->status = sb_rechecked_write(w->named.book, w->named.id, &w->r);
    if (w->status != SB_BOOK_OK)
        return true;
    if (w->args->sitting.json)
        return sb_json_rechecked(stdout, &w->r);
    (void)fputc('\n', stdout);
    sb_print_rechecked(&page, &w->r);
    return true;
}

/* --- the run ----------------------------------------------------------------------------- */

static int conclude(const work *w) {
    if (w->status != SB_BOOK_OK)
        return sb_book_complain(w->status, w->args->at.path, w->named.name);
    if (w->r.heard == 0 && sb_term_signal() != 0)
        return sb_live_failure(SB_LIVE_SIGNAL);
    if (w->r.heard == 0)
        return sb_fail(EX_DATAERR, "pluck each string open and at fret 12, and let it ring",
                       w->named.name, "no string was heard with both notes");
    return w->r.inside == w->r.d.instrument.n_strings ? EX_OK : SB_EX_NOT_RIGHT;
}

static int hear(work *w, const sb_bench_options *options) {
    const recheck_args *a = w->args;
    const sb_front front = {w, begin, tell, trouble, typed, NULL, show, end};
    sb_bench *bench = NULL;
    sb_book_status status =
        sb_bench_new(options, w->named.book, w->named.id, w->named.name, &bench);
    const sb_sitting sitting = {.options = &a->sitting,
                                .book = a->at.path,
                                .bench = bench,
                                .front = &front,
                                .lines = &w->lines,
                                .enough = enough};
    int code = sb_book_complain(status, a->at.path, w->named.name);
    if (code == EX_OK)
        code = sb_sitting_run(&sitting);
    sb_bench_free(bench);
    return code == EX_OK ? conclude(w) : code;
}

static int recheck(work *w) {
    const recheck_args *a = w->args;
    sb_bench_options options = {
        .progress = sb_progress_default(), .a4_hz = a->a4_hz, .aside = true};
    options.progress.tolerance_cents = a->tolerance_cents;
    sb_book_status status =
        sb_rechecked_begin(w->named.book, w->named.id, w->named.name, &options, &w->r);
    if (status == SB_BOOK_BAD_DATA)
        return sb_fail(EX_DATAERR, "measure it first, with setback bench", w->named.name,
                       "nothing is kept of its strings to compare with");
    if (status != SB_BOOK_OK)
        return sb_book_complain(status, a->at.path, w->named.name);
    return hear(w, &options);
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    recheck_args args = {
        .sitting = SB_SITTING_UNTOLD, .tolerance_cents = SB_TOLERANCE_CENTS, .a4_hz = SB_A4_HZ};
    sb_texts names = {.n = 0};
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_sitting_check(&args.sitting);
    if (code != EX_OK)
        return code;
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args = &args;
    w->plain = sb_plain_front(&w->lines);
    w->lines.listens = args.sitting.commands || args.sitting.takes.n == 0;
    code = sb_book_open_named(&args.at, &names, SB_BOOK_WRITE, &w->named);
    if (code == EX_OK) {
        code = recheck(w);
        sb_book_close(w->named.book);
    }
    free(w);
    return code;
}

static const char *const usage[] = {"INSTRUMENT [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback recheck practice",
    "setback recheck practice --take today.wav --json",
    NULL,
};

const sb_command sb_cmd_recheck = {
    "recheck",
    "hear an instrument again, against what was kept of it",
    "Listens as setback bench does, and compares each string with its state at the end of the last "
    "visit or, where none was ended, with its latest reading: same, better or worse by so much, "
    "with the error of both. What is kept stays; the recheck is noted beside it. Live it ends by "
    "itself once every string is known to half the tolerance.\n"
    "A string is suspected of being false where its error, its inharmonicity, the scatter of its "
    "partials or their beating departs from its neighbours and from its own past. A saddle cannot "
    "cure it: replace it first.\n"
    "Exits with 0 when all strings are inside the tolerance, with 1 when one is not, or is not "
    "known to be. A string left as a compromise on a shared saddle is inside while it is no worse "
    "than it was kept.",
    usage,
    examples,
    groups,
    run,
};
