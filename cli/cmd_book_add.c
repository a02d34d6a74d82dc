/* book add, book edit: an instrument described by options or, on a terminal, by answers. */
#include <stddef.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "core/length.h"

#define NOT_GIVEN (-1)
#define NOTHING   "" /* an owner that was not given */

typedef struct {
    sb_book_at at;
    const char *rename, *owner, *kind, *strings, *saddles;
    sb_numbers scale_mm, travel_mm;
    double spacing_mm, thread_mm; /* 0 = not given */
    int frets, way, shape, screw; /* NOT_GIVEN, or the choice */
} instrument_args;

static const sb_option instrument_options[] = {
    {"kind", SB_OPT_TEXT, offsetof(instrument_args, kind), "KIND",
     "what to start from: electric, electric-short, acoustic, classical, bass-4, bass-5, baritone, "
     "7-string, 8-string, 12-string, mandolin, tenor-banjo or ukulele",
     0, 0, false},
    {"scale", SB_OPT_LENGTHS, offsetof(instrument_args, scale_mm), "LEN[,LEN...]",
     "the nominal scale length with its unit, or one a string for fanned frets", 100, 2000, false},
    {"strings", SB_OPT_TEXT, offsetof(instrument_args, strings), "NOTE:GAUGE,...",
     "string 1 first; gauges in thousandths of an inch or with a unit, w = wound: "
     "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w; + joins the strings of a course: E5:11+E5:11",
     0, 0, false},
    {"saddles", SB_OPT_TEXT, offsetof(instrument_args, saddles), "each|pairs|one|1-2,3-4,...",
     "which strings stand on one saddle (default each)", 0, 0, false},
    {"moves", SB_OPT_CHOICE, offsetof(instrument_args, way), "screw|hand|fixed",
     "how the saddles move (default screw)", 0, 0, false},
    {"shape", SB_OPT_CHOICE, offsetof(instrument_args, shape), "flat|slant",
     "whether a saddle moves as a whole (flat, default) or at each end (slant)", 0, 0, false},
    {"thread", SB_OPT_THREAD, offsetof(instrument_args, thread_mm), "NAME",
     "the adjustment screws: " SB_THREADS_TEXT, 0, 0, false},
    {"screw", SB_OPT_CHOICE, offsetof(instrument_args, screw), "pulls|pushes",
     "what a clockwise turn does as you face the screw's head: draws the saddle back (pulls, "
     "default) or drives it forward (pushes)",
     0, 0, false},
    {"travel", SB_OPT_LENGTHS, offsetof(instrument_args, travel_mm), "LEN,LEN[,...]",
     "how far the saddles can still go forward and back, or two lengths for each saddle", 0, 100,
     false},
    {"spacing", SB_OPT_LENGTH, offsetof(instrument_args, spacing_mm), "LEN",
     "from string to string across the bridge", 0.1, 100, false},
    {"frets", SB_OPT_WHOLE, offsetof(instrument_args, frets), "N", "how many frets it has", 1,
     SB_FRETS_MAX, false},
    {"owner", SB_OPT_TEXT, offsetof(instrument_args, owner), "TEXT",
     "the owner's reference, as the shop writes it", 0, 0, false},
};
#define INSTRUMENT_OPTIONS (sizeof instrument_options / sizeof *instrument_options)

static const sb_option name_options[] = {
    {"name", SB_OPT_TEXT, offsetof(instrument_args, rename), "NAME", "the new name", 0, 0, false},
};

static const sb_option_group add_groups[] = {
    {"the instrument", instrument_options, INSTRUMENT_OPTIONS, 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(instrument_args, at)},
    {NULL, NULL, 0, 0},
};

static const sb_option_group edit_groups[] = {
    {"the name", name_options, 1, 0},
    {"the instrument", instrument_options, INSTRUMENT_OPTIONS, 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(instrument_args, at)},
    {NULL, NULL, 0, 0},
};

static instrument_args no_args(void) {
    return (instrument_args){
        .frets = NOT_GIVEN, .way = NOT_GIVEN, .shape = NOT_GIVEN, .screw = NOT_GIVEN};
}

/* --- from options to a description ----------------------------------------------------- */

static int set_kind(const instrument_args *args, sb_description *d) {
    const sb_kind *kind = args->kind ? sb_kind_named(args->kind) : NULL;
    if (args->kind && !kind)
        return sb_fail(EX_USAGE, "setback book add --help lists them", args->kind,
                       "no such kind of instrument");
    if (kind) {
        sb_kind_instrument(kind, &d->instrument);
        (void)snprintf(d->kind, sizeof d->kind, "%s", kind->name);
    }
    return EX_OK;
}

/* New strings keep the scale lengths of those in their places, and the old division into
 * saddles where that can be said without counting them. */
static int set_strings(const char *text, sb_instrument *it) {
    sb_string strings[SB_STRINGS_MAX];
    char division[SB_SADDLES_TEXT_MAX];
    size_t n = 0;
    if (sb_strings_parse(text, strings, &n) != SB_OK)
        return sb_fail(EX_USAGE, "write them as E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w", text,
                       "these strings cannot be understood");
    for (size_t i = 0; i < n; i++)
        strings[i].scale_mm = it->strings[i < it->n_strings ? i : it->n_strings - 1].scale_mm;
    sb_saddles_format(it->saddles, it->n_saddles, division, sizeof division);
    if (n != it->n_strings) {
        sb_saddle like = it->saddles[0], saddles[SB_STRINGS_MAX];
        if (sb_saddles_parse(division, n, saddles, &it->n_saddles) == SB_OK)
            for (size_t i = 0; i < it->n_saddles; i++) {
                it->saddles[i] = like;
                it->saddles[i].first = saddles[i].first;
                it->saddles[i].last = saddles[i].last;
            }
    }
    memcpy(it->strings, strings, n * sizeof *strings);
    it->n_strings = n;
    return EX_OK;
}

static int set_saddles(const char *text, sb_instrument *it) {
    sb_saddle saddles[SB_STRINGS_MAX];
    sb_saddle like = it->saddles[0];
    size_t n = 0;
    if (sb_saddles_parse(text, it->n_strings, saddles, &n) != SB_OK)
        return sb_fail(EX_USAGE, "each, pairs, one, or every string once: 1-2,3-4,5-6", text,
                       "these saddles do not fit %zu strings", it->n_strings);
    for (size_t i = 0; i < n; i++) {
        it->saddles[i] = like;
        it->saddles[i].first = saddles[i].first;
        it->saddles[i].last = saddles[i].last;
    }
    it->n_saddles = n;
    return EX_OK;
}

static int set_scale(const sb_numbers *scale_mm, sb_instrument *it) {
    if (scale_mm->n > 1 && scale_mm->n != it->n_strings)
        return sb_fail(EX_USAGE, "one for all, or one a string", NULL,
                       "%zu scale lengths for %zu strings", scale_mm->n, it->n_strings);
    for (size_t i = 0; scale_mm->n > 0 && i < it->n_strings; i++)
        it->strings[i].scale_mm = scale_mm->item[scale_mm->n == 1 ? 0 : i];
    return EX_OK;
}

static int set_travel(const sb_numbers *travel_mm, sb_instrument *it) {
    if (travel_mm->n > 0 && travel_mm->n != 2 && travel_mm->n != 2 * it->n_saddles)
        return sb_fail(EX_USAGE, "forward and back, such as --travel 2mm,5mm, or both for each",
                       NULL, "%zu travels for %zu saddles", travel_mm->n, it->n_saddles);
    for (size_t i = 0; travel_mm->n > 0 && i < it->n_saddles; i++) {
        const double *of = &travel_mm->item[travel_mm->n == 2 ? 0 : 2 * i];
        it->saddles[i].limited = true;
        it->saddles[i].forward_mm = of[0];
        it->saddles[i].back_mm = of[1];
    }
    return EX_OK;
}

static void set_ways(const instrument_args *args, sb_instrument *it) {
    for (size_t i = 0; i < it->n_saddles; i++) {
        sb_saddle *s = &it->saddles[i];
        if (args->thread_mm > 0) {
            s->thread_mm = args->thread_mm;
            s->way = SB_WAY_SCREW;
        }
        if (args->way != NOT_GIVEN)
            s->way = (sb_saddle_way)args->way;
        if (s->way != SB_WAY_SCREW)
            s->thread_mm = 0;
        if (args->shape != NOT_GIVEN)
            s->shape = (sb_saddle_shape)args->shape;
        if (args->screw != NOT_GIVEN)
            s->screw = (sb_screw_action)args->screw;
    }
}

/* Changes what was given; 0, or the exit code with what is wrong reported. */
static int apply(const instrument_args *args, sb_description *d) {
    sb_instrument *it = &d->instrument;
    int code = set_kind(args, d);
    if (code == EX_OK && args->strings)
        code = set_strings(args->strings, it);
    if (code == EX_OK && args->saddles)
        code = set_saddles(args->saddles, it);
    if (code == EX_OK)
        code = set_scale(&args->scale_mm, it);
    if (code == EX_OK)
        code = set_travel(&args->travel_mm, it);
    if (code != EX_OK)
        return code;
    set_ways(args, it);
    if (args->frets != NOT_GIVEN)
        it->frets = args->frets;
    if (args->spacing_mm > 0)
        it->spacing_mm = args->spacing_mm;
    if (args->owner && !sb_book_name_good(args->owner))
        return sb_book_complain(SB_BOOK_BAD_NAME, NULL, args->owner);
    if (args->owner)
        (void)snprintf(d->owner, sizeof d->owner, "%s", args->owner);
    const char *fault = sb_instrument_fault(it);
    return fault ? sb_fail(EX_USAGE, "give --saddles and --scale that fit the strings", NULL, "%s",
                           fault)
                 : EX_OK;
}

/* --- by answers ------------------------------------------------------------------------ */

typedef struct {
    const char *option, *question;
    char answer[SB_STRINGS_TEXT_MAX];
} question;

enum { ASK_KIND, ASK_SCALE, ASK_STRINGS, ASK_SADDLES, ASK_MOVES, ASK_THREAD, ASK_OWNER, QUESTIONS };

/* What Enter alone stands for. */
static void default_answer(int which, const sb_description *d, char *text, size_t size) {
    static const char *const ways[] = {"screw", "hand", "fixed"};
    const sb_instrument *it = &d->instrument;
    (void)snprintf(text, size, "%s", which == ASK_KIND ? "electric" : "none");
    if (which == ASK_SCALE)
        sb_length_format_mm(it->strings[0].scale_mm, 2, text, size);
    else if (which == ASK_STRINGS)
        sb_strings_format(it->strings, it->n_strings, text, size);
    else if (which == ASK_SADDLES)
        sb_saddles_format(it->saddles, it->n_saddles, text, size);
    else if (which == ASK_MOVES)
        (void)snprintf(text, size, "%s", ways[it->saddles[0].way]);
    else if (which == ASK_THREAD)
        (void)snprintf(text, size, "not known");
}

/* Takes the answer as if it had been the option's value; false: it was wrong, and said so. */
static bool take_answer(const sb_command *self, question *q, instrument_args *args,
                        const sb_description *base) {
    char option[SB_STRINGS_TEXT_MAX + 16];
    (void)snprintf(option, sizeof option, "--%s", q->option);
    char *const words[] = {option, q->answer};
    instrument_args tried = *args;
    sb_description d = *base;
    if (sb_command_args(self, 2, words, &tried, NULL) != EX_OK || apply(&tried, &d) != EX_OK)
        return false;
    *args = tried;
    return true;
}

/* Asks until the answer can be used; false at the end of input. */
static bool ask_one(const sb_command *self, int which, question *q, instrument_args *args,
                    const sb_description *base) {
    char text[SB_STRINGS_TEXT_MAX], line[SB_STRINGS_TEXT_MAX + 120];
    for (;;) {
        sb_description now = *base;
        (void)apply(args, &now);
        default_answer(which, &now, text, sizeof text);
        (void)snprintf(line, sizeof line, "%s [%s]", q->question, text);
        if (!sb_book_ask(line, q->answer, sizeof q->answer))
            return false;
        if (!q->answer[0] && which == ASK_KIND)
            (void)snprintf(q->answer, sizeof q->answer, "electric");
        if (!q->answer[0] || take_answer(self, q, args, base))
            return true;
    }
}

static int ask_all(const sb_command *self, question questions[], instrument_args *args,
                   const sb_description *base) {
    for (int i = 0; i < QUESTIONS; i++) {
        sb_description now = *base;
        (void)apply(args, &now);
        if (i == ASK_THREAD && now.instrument.saddles[0].way != SB_WAY_SCREW)
            continue;
        if (!ask_one(self, i, &questions[i], args, base))
            return sb_fail(EX_USAGE, "answer the questions, or give the options", NULL,
                           "nothing was added");
    }
    return EX_OK;
}

/* --- the commands ---------------------------------------------------------------------- */

/* The name, asked for where it was not given and someone is there. */
static int name_for(const sb_texts *names, char *asked, size_t size, const char **name) {
    if (names->n > 0 || !sb_book_may_ask())
        return sb_book_one_name(names, name);
    do {
        if (!sb_book_ask("Name of the instrument:", asked, size))
            return sb_fail(EX_USAGE, "give the name after the command", NULL, "nothing was added");
    } while (!*asked);
    *name = asked;
    return EX_OK;
}

static int describe_new(const sb_command *self, question questions[], instrument_args *args,
                        sb_description *d) {
    sb_kind_instrument(sb_kind_named("electric"), &d->instrument);
    bool enough = args->kind || (args->scale_mm.n > 0 && args->strings);
    int code = EX_OK;
    if (!enough && !sb_book_may_ask())
        return sb_fail(EX_USAGE, "give --scale and --strings, or a --kind to start from", NULL,
                       "the instrument is not described");
    if (!enough)
        code = ask_all(self, questions, args, d);
    return code == EX_OK ? apply(args, d) : code;
}

static int run_add(const sb_command *self, int argc, char *const argv[]) {
    question questions[QUESTIONS] = {
        {"kind", "Kind (--help lists them)", ""},
        {"scale", "Scale length, with its unit", ""},
        {"strings", "Strings, string 1 first", ""},
        {"saddles", "Strings on one saddle: each, pairs, one, or 1-2,3-4,...", ""},
        {"moves", "How the saddles move: screw, hand or fixed", ""},
        {"thread", "Thread of their screws, such as 4-40 or M3", ""},
        {"owner", "Owner's reference", ""},
    };
    instrument_args args = no_args();
    sb_description d = {.owner = NOTHING};
    sb_texts names = {.n = 0};
    char asked[SB_NAME_MAX];
    const char *name = NULL;
    sb_book *book = NULL;
    int64_t id = 0;
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = name_for(&names, asked, sizeof asked, &name);
    if (code == EX_OK && !sb_book_name_good(name))
        code = sb_book_complain(SB_BOOK_BAD_NAME, NULL, name);
    if (code == EX_OK)
        code = describe_new(self, questions, &args, &d);
    if (code == EX_OK)
        code = sb_book_open_at(&args.at, SB_BOOK_WRITE, &book);
    if (code == EX_OK)
        code = sb_book_complain(sb_book_add(book, name, &d, sb_book_now_ms(), &id), args.at.path,
                                name);
    sb_book_close(book);
    return code;
}

static int edit(sb_book *book, int64_t id, const char *name, instrument_args *args) {
    sb_description d;
    sb_book_status status = sb_book_describe(book, id, &d);
    if (status != SB_BOOK_OK)
        return sb_book_complain(status, args->at.path, name);
    int code = apply(args, &d);
    if (code != EX_OK)
        return code;
    status = sb_book_edit(book, id, args->rename, &d, sb_book_now_ms());
    return sb_book_complain(status, args->at.path, args->rename ? args->rename : name);
}

static int run_edit(const sb_command *self, int argc, char *const argv[]) {
    instrument_args args = no_args();
    sb_texts names = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_book_open_named(&args.at, &names, SB_BOOK_WRITE, &named);
    if (code != EX_OK)
        return code;
    code = edit(named.book, named.id, named.name, &args);
    sb_book_close(named.book);
    return code;
}

static const char *const add_usage[] = {
    "NAME --scale LEN --strings NOTE:GAUGE,... [OPTIONS]",
    "NAME --kind KIND [OPTIONS]",
    "[NAME]",
    NULL,
};
static const char *const edit_usage[] = {"NAME OPTIONS", NULL};

static const char *const add_examples[] = {
    "setback book add 'blue bass' --kind bass-4 --scale 34in --thread M3 --owner J-17",
    "setback book add practice --scale 25.5in --strings E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w "
    "--saddles pairs",
    NULL,
};
static const char *const edit_examples[] = {
    "setback book edit 'blue bass' --travel 2mm,6mm",
    "setback book edit 'blue bass' --name 'blue bass, fretless'",
    NULL,
};

const sb_command sb_cmd_book_add = {
    "book add",
    "add an instrument to the book",
    "Takes an instrument into the book. A kind is a starting point, to be corrected by the other "
    "options; without one, --scale and --strings are needed. On a terminal, what is missing is "
    "asked for.",
    add_usage,
    add_examples,
    add_groups,
    run_add,
};

const sb_command sb_cmd_book_edit = {
    "book edit",
    "correct what the book says of an instrument",
    "Changes what is given and leaves the rest; what was said before stays in the log.",
    edit_usage,
    edit_examples,
    edit_groups,
    run_edit,
};
