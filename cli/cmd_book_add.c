/* book add, book edit: an instrument described by options or, on a terminal, by answers. */
#include <stddef.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/told_instrument.h"
#include "core/length.h"

typedef struct {
    sb_book_at at;
    const char *rename;
    sb_told_instrument told;
} instrument_args;

static const sb_option name_options[] = {
    {"name", SB_OPT_TEXT, offsetof(instrument_args, rename), "NAME", "the new name", 0, 0, false},
};

static const sb_option_group add_groups[] = {
    {"the instrument", sb_told_instrument_rows, SB_TOLD_INSTRUMENT_OPTIONS,
     offsetof(instrument_args, told)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(instrument_args, at)},
    {NULL, NULL, 0, 0},
};

static const sb_option_group edit_groups[] = {
    {"the name", name_options, 1, 0},
    {"the instrument", sb_told_instrument_rows, SB_TOLD_INSTRUMENT_OPTIONS,
     offsetof(instrument_args, told)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(instrument_args, at)},
    {NULL, NULL, 0, 0},
};

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
    if (sb_command_args(self, 2, words, &tried, NULL) != EX_OK ||
        sb_told_apply(&tried.told, &d) != EX_OK)
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
        (void)sb_told_apply(&args->told, &now);
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
        (void)sb_told_apply(&args->told, &now);
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
    bool enough = args->told.kind || (args->told.scale_mm.n > 0 && args->told.strings);
    int code = EX_OK;
    if (!enough && !sb_book_may_ask())
        return sb_fail(EX_USAGE, "give --scale and --strings, or a --kind to start from", NULL,
                       "the instrument is not described");
    if (!enough)
        code = ask_all(self, questions, args, d);
    return code == EX_OK ? sb_told_apply(&args->told, d) : code;
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
    instrument_args args = {.told = SB_TOLD_NOTHING};
    sb_description d = {.owner = ""};
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
    int code = sb_told_apply(&args->told, &d);
    if (code != EX_OK)
        return code;
    status = sb_book_edit(book, id, args->rename, &d, sb_book_now_ms());
    return sb_book_complain(status, args->at.path, args->rename ? args->rename : name);
}

static int run_edit(const sb_command *self, int argc, char *const argv[]) {
    instrument_args args = {.told = SB_TOLD_NOTHING};
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
