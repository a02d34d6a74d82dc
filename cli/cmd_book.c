/* book list, show, remove, export, import: the record as a whole. add and edit are in
 * cmd_book_add.c. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/book_print.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/term.h"

typedef struct {
    sb_book_at at;
    bool json, log, yes;
} book_args;

static const sb_option json_option[] = {
    {"json", SB_OPT_FLAG, offsetof(book_args, json), NULL, "print one JSON object a line", 0, 0,
     false},
    {"log", SB_OPT_FLAG, offsetof(book_args, log), NULL, "print the log too, oldest first", 0, 0,
     false},
};

static const sb_option yes_option[] = {
    {"yes", SB_OPT_FLAG, offsetof(book_args, yes), NULL, "do not ask", 0, 0, false},
};

#define BOOK_GROUP                                                                                 \
    { "the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(book_args, at) }
#define END_GROUP                                                                                  \
    { NULL, NULL, 0, 0 }

/* --- list, show ------------------------------------------------------------------------ */

typedef struct {
    const book_args *args;
    sb_list_columns columns;
    bool failed, damaged;
} printing;

static bool measure_entry(void *context, const sb_book_entry *entry) {
    printing *p = context;
    sb_list_measure(&p->columns, entry);
    return true;
}

static bool list_entry(void *context, const sb_book_entry *entry) {
    printing *p = context;
    sb_description d;
    if (!p->args->json)
        sb_list_print(stdout, &p->columns, entry);
    else if (!sb_entry_state(entry, &d))
        p->damaged = true;
    else if (!sb_json_entry(stdout, entry, &d))
        p->failed = true;
    return !p->failed && !p->damaged && !ferror(stdout);
}

static bool show_entry(void *context, const sb_book_entry *entry) {
    printing *p = context;
    sb_description d;
    p->damaged = !sb_entry_state(entry, &d);
    if (p->damaged)
        return false;
    if (p->args->json)
        p->failed = !sb_json_entry(stdout, entry, &d);
    else
        sb_print_entry(stdout, entry, &d, sb_term_styled(stdout));
    return true;
}

static bool show_event(void *context, const sb_event *event) {
    printing *p = context;
    if (p->args->json)
        p->failed = !sb_json_event(stdout, event);
    else
        sb_print_event(stdout, event);
    return !p->failed && !ferror(stdout);
}

static int printed(const printing *p, sb_book_status status, const sb_book_at *at) {
    if (p->failed)
        return sb_complain_memory();
    return sb_book_complain(p->damaged ? SB_BOOK_DAMAGED : status, at->path, NULL);
}

/* Whole names where no terminal limits them. */
static sb_book_status list(sb_book *book, printing *p) {
    size_t width = sb_term_columns(stdout);
    sb_book_status status = p->args->json ? SB_BOOK_OK : sb_book_list(book, 0, measure_entry, p);
    if (width > 0)
        sb_list_fit(&p->columns, width);
    return status == SB_BOOK_OK ? sb_book_list(book, 0, list_entry, p) : status;
}

static int run_list(const sb_command *self, int argc, char *const argv[]) {
    book_args args = {.json = false};
    sb_book *book = NULL;
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code != EX_OK)
        return code;
    /* Before the first instrument the book is no file yet; one that was named should be there. */
    const char *set = getenv("SETBACK_BOOK");
    if (!args.at.named && !(set && *set) && sb_book_path(NULL, args.at.path, sizeof args.at.path) &&
        access(args.at.path, F_OK) != 0)
        return EX_OK;
    code = sb_book_open_at(&args.at, SB_BOOK_READ, &book);
    if (code != EX_OK)
        return code;
    printing p = {.args = &args};
    code = printed(&p, list(book, &p), &args.at);
    sb_book_close(book);
    return code;
}

static int run_show(const sb_command *self, int argc, char *const argv[]) {
    book_args args = {.json = false};
    sb_texts names = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_book_open_named(&args.at, &names, SB_BOOK_READ, &named);
    if (code != EX_OK)
        return code;
    printing p = {.args = &args};
    sb_book_status status = sb_book_list(named.book, named.id, show_entry, &p);
    if (status == SB_BOOK_OK && args.log && !p.failed) {
        (void)fputs(args.json ? "" : "\n", stdout);
        status = sb_book_read(named.book, named.id, 0, show_event, &p);
    }
    code = printed(&p, status, &args.at);
    sb_book_close(named.book);
    return code;
}

/* --- remove ---------------------------------------------------------------------------- */

static int confirm(const char *name) {
    if (!sb_book_may_ask())
        return sb_fail(EX_USAGE, "give --yes to remove it and its log for good", name,
                       "nobody is there to be asked");
    char question[2 * SB_NAME_MAX], answer[16];
    (void)snprintf(question, sizeof question, "Remove '%s' and its whole log for good? [no]", name);
    if (sb_book_ask(question, answer, sizeof answer) &&
        (strcmp(answer, "y") == 0 || strcmp(answer, "yes") == 0))
        return EX_OK;
    return sb_fail(EX_USAGE, "answer yes to remove it", name, "not removed");
}

static int run_remove(const sb_command *self, int argc, char *const argv[]) {
    book_args args = {.json = false};
    sb_texts names = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = sb_book_open_named(&args.at, &names, SB_BOOK_WRITE, &named);
    if (code != EX_OK)
        return code;
    code = args.yes ? EX_OK : confirm(named.name);
    if (code == EX_OK)
        code = sb_book_complain(sb_book_remove(named.book, named.id), args.at.path, named.name);
    sb_book_close(named.book);
    return code;
}

/* --- export, import -------------------------------------------------------------------- */

static int run_export(const sb_command *self, int argc, char *const argv[]) {
    book_args args = {.json = false};
    sb_book *book = NULL;
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code == EX_OK)
        code = sb_book_open_at(&args.at, SB_BOOK_READ, &book);
    if (code != EX_OK)
        return code;
    sb_book_status status = sb_book_export(book, stdout);
    /* Where it was the output that failed, main says so. */
    code = status == SB_BOOK_IO && ferror(stdout) ? EX_IOERR
                                                  : sb_book_complain(status, args.at.path, NULL);
    sb_book_close(book);
    return code;
}

static int import_from(const char *path, sb_book_at *at) {
    bool standard = strcmp(path, "-") == 0;
    sb_book_import_report report = {.line = 0};
    sb_book *book = NULL;
    FILE *file = standard ? stdin : fopen(path, "r");
    if (!file)
        return sb_complain_open(path);
    int code = sb_book_open_at(at, SB_BOOK_WRITE, &book);
    if (code == EX_OK) {
        sb_book_status status = sb_book_import(book, file, &report);
        if (status == SB_BOOK_BAD_DATA)
            code = sb_fail(EX_DATAERR, "nothing was added; give what setback book export wrote",
                           path, "line %zu: %s", report.line, report.what);
        else if (status == SB_BOOK_IO && ferror(file))
            code = sb_fail(EX_IOERR,
                           "nothing was added; see whether it is a file and the disk is in order",
                           path, "reading failed");
        else
            code = sb_book_complain(status, at->path, report.name);
    }
    sb_book_close(book);
    if (!standard)
        (void)fclose(file);
    if (code == EX_OK)
        (void)printf("%zu instrument%s added\n", report.added, report.added == 1 ? "" : "s");
    return code;
}

static int run_import(const sb_command *self, int argc, char *const argv[]) {
    book_args args = {.json = false};
    sb_texts files = {.n = 0};
    int code = sb_command_args(self, argc, argv, &args, &files);
    if (code != EX_OK)
        return code;
    if (files.n != 1)
        return sb_fail(EX_USAGE, "write setback book import FILE, or - for standard input", NULL,
                       "one file is needed");
    return import_from(files.item[0], &args.at);
}

/* --- the table ------------------------------------------------------------------------- */

static const sb_option_group list_groups[] = {
    {"the answer", json_option, 1, 0}, BOOK_GROUP, END_GROUP};
static const sb_option_group show_groups[] = {
    {"the answer", json_option, 2, 0}, BOOK_GROUP, END_GROUP};
static const sb_option_group remove_groups[] = {{"sure", yes_option, 1, 0}, BOOK_GROUP, END_GROUP};
static const sb_option_group book_groups[] = {BOOK_GROUP, END_GROUP};

static const char *const no_operand[] = {"[OPTIONS]", NULL};
static const char *const one_name[] = {"NAME [OPTIONS]", NULL};
static const char *const one_file[] = {"FILE [OPTIONS]", NULL};

static const char *const list_examples[] = {"setback book list", NULL};
static const char *const show_examples[] = {"setback book show 'blue bass' --log", NULL};
static const char *const remove_examples[] = {"setback book remove 'blue bass' --yes", NULL};
static const char *const export_examples[] = {"setback book export >book.jsonl", NULL};
static const char *const import_examples[] = {"setback book import book.jsonl", NULL};

const sb_command sb_cmd_book_list = {
    "book list",
    "list the instruments in the book",
    "Prints one line an instrument, in the order of their names.",
    no_operand,
    list_examples,
    list_groups,
    run_list,
};

const sb_command sb_cmd_book_show = {
    "book show",
    "show an instrument of the book",
    "Prints what the instrument is now: its strings, scale and saddles; with --log also all "
    "that was ever noted of it.",
    one_name,
    show_examples,
    show_groups,
    run_show,
};

const sb_command sb_cmd_book_remove = {
    "book remove",
    "remove an instrument and its log from the book",
    "Asks first, on a terminal. What is removed cannot be brought back, unless it was exported.",
    one_name,
    remove_examples,
    remove_groups,
    run_remove,
};

const sb_command sb_cmd_book_export = {
    "book export",
    "write the whole book as JSON Lines",
    "Prints every instrument with its whole log, as they are at one moment, to be kept elsewhere "
    "or imported again.",
    no_operand,
    export_examples,
    book_groups,
    run_export,
};

const sb_command sb_cmd_book_import = {
    "book import",
    "add the instruments of an export to the book",
    "Adds all of them with their logs, or none: where a name is in the book already, or a line "
    "is not as it should be, the book stays as it was.",
    one_file,
    import_examples,
    book_groups,
    run_import,
};
