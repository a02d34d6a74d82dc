/* handover: the sheet that goes home with an instrument, and the end of its visit. */
#include <stddef.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench_log.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/handover.h"
#include "cli/output_file.h"
#include "core/pitch.h"

typedef struct {
    sb_book_at at;
    const char *output;
    bool text, json, draft, end, force;
    double tolerance_cents;
    int fit;
} handover_args;

static const sb_option sheet_options[] = {
    {"output", SB_OPT_TEXT, offsetof(handover_args, output), "FILE",
     "write the sheet to FILE; -o FILE is the same", 0, 0, false},
    {"text", SB_OPT_FLAG, offsetof(handover_args, text), NULL,
     "lines in place of a page; to standard output where no file is named", 0, 0, false},
    {"json", SB_OPT_FLAG, offsetof(handover_args, json), NULL,
     "one JSON object in place of a page; to standard output where no file is named", 0, 0, false},
    {"draft", SB_OPT_FLAG, offsetof(handover_args, draft), NULL,
     "write it even if a reading is wanting, marked as a draft", 0, 0, false},
    {"end", SB_OPT_FLAG, offsetof(handover_args, end), NULL,
     "end the visit, once the sheet is written if one is asked for", 0, 0, false},
    {"force", SB_OPT_FLAG, offsetof(handover_args, force), NULL, "replace a file that is there", 0,
     0, false},
};

static const sb_option judge_options[] = {
    {"tolerance", SB_OPT_NUMBER, offsetof(handover_args, tolerance_cents), "CENTS",
     "the error that may stay, as at the bench (default 1)", 0.05, 50, false},
    {"fit", SB_OPT_CHOICE, offsetof(handover_args, fit), "largest|squares",
     "what was made least where strings share a saddle, as at the bench (default the largest "
     "error)",
     0, 0, false},
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sheet", sheet_options, COUNT(sheet_options), 0},
    {"how the strings are judged", judge_options, COUNT(judge_options), 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(handover_args, at)},
    {NULL, NULL, 0, 0},
};

static bool asks_for_sheet(const handover_args *args) {
    return args->output || args->text || args->json;
}

static int check(const handover_args *args) {
    if (args->text && args->json)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--text and --json");
    if (args->draft && args->end)
        return sb_fail(EX_USAGE, "give one of them: a draft is not handed over", NULL,
                       "--draft and --end");
    if (!args->end && !asks_for_sheet(args))
        return sb_fail(EX_USAGE, "name it with -o FILE, or ask for --text or --json", NULL,
                       "the sheet needs a file");
    return EX_OK;
}

/* --- writing ----------------------------------------------------------------------------- */

static bool write_sheet(FILE *out, const handover_args *args, const sb_handover *sheet) {
    if (args->json)
        return sb_json_handover(out, sheet);
    if (args->text)
        sb_print_handover(out, sheet);
    else
        sb_html_handover(out, sheet);
    return true;
}

static int write_out(const handover_args *args, const sb_handover *sheet) {
    sb_output_file file;
    if (!args->output) {
        if (!write_sheet(stdout, args, sheet))
            return sb_complain_memory();
        return fflush(stdout) == 0 && !ferror(stdout) ? EX_OK : EX_IOERR; /* said at the end */
    }
    int code = sb_output_begin(&file, args->output, args->force);
    if (code != EX_OK)
        return code;
    bool whole = write_sheet(file.out, args, sheet);
    code = sb_output_end(&file, whole);
    return whole ? code : sb_complain_memory();
}

/* --- the visit --------------------------------------------------------------------------- */

static int refuse(const handover_args *args, const sb_handover *sheet, const char *name) {
    char reasons[700] = "";
    for (size_t i = 0; i < sheet->wanting.n; i++) {
        size_t used = strlen(reasons);
        (void)snprintf(reasons + used, sizeof reasons - used, "%s%s", used ? "; " : "",
                       sheet->wanting.item[i]);
    }
    return sb_fail(EX_DATAERR,
                   "setback bench measures what is wanting; --draft writes the sheet all the same, "
                   "marked as a draft",
                   name, "%s, since a reading is wanting (%s)",
                   asks_for_sheet(args) ? "no sheet" : "the visit cannot end", reasons);
}

static int end_visit(const handover_args *args, sb_bench *bench, const char *name) {
    int64_t seen = bench->seen;
    sb_book_status status = sb_bench_refresh(bench);
    if (status == SB_BOOK_OK && bench->seen != seen)
        return sb_fail(EX_TEMPFAIL, "do it again; the visit is still open", name,
                       "something was added to the log while the sheet was written");
    if (status == SB_BOOK_OK)
        status = sb_bench_leave(bench);
    return sb_book_complain(status, args->at.path, name);
}

/* To look at the sheet changes nothing, but a file may be taken for the end. */
static int leave_open(const handover_args *args, const sb_bench *bench, const char *name) {
    if (args->output && !args->draft && bench->progress.in_visit)
        sb_warn(name, "the visit is still open; setback handover --end ends it");
    return EX_OK;
}

static int hand_over(const handover_args *args, sb_bench *bench, const sb_handover *sheet,
                     const char *name) {
    if (sheet->wanting.n > 0 && !args->draft)
        return refuse(args, sheet, name);
    int code = asks_for_sheet(args) ? write_out(args, sheet) : EX_OK;
    if (code != EX_OK || !args->end)
        return code == EX_OK ? leave_open(args, bench, name) : code;
    code = end_visit(args, bench, name);
    if (code != EX_OK && args->output && !args->force)
        (void)unlink(args->output); /* it was not there before; try again finds it so */
    return code;
}

static int gather(const handover_args *args, const sb_book_named *named) {
    sb_bench_options options = {
        .progress = sb_progress_default(), .a4_hz = SB_A4_HZ, .aside = true};
    options.progress.tolerance_cents = args->tolerance_cents;
    options.progress.fit = (sb_compromise_fit)args->fit;
    sb_bench *bench = NULL;
    sb_handover *sheet = NULL;
    sb_book_status status = sb_bench_new(&options, named->book, named->id, named->name, &bench);
    if (status == SB_BOOK_OK)
        status = sb_handover_gather(bench, args->draft, &sheet);
    int code = sheet ? hand_over(args, bench, sheet, named->name)
                     : sb_book_complain(status, args->at.path, named->name);
    sb_handover_free(sheet);
    sb_bench_free(bench);
    return code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    handover_args args = {.tolerance_cents = SB_TOLERANCE_CENTS, .fit = SB_FIT_LARGEST};
    sb_texts names = {.n = 0};
    sb_book_named named = {NULL, NULL, 0};
    int code = sb_command_args(self, argc, argv, &args, &names);
    if (code == EX_OK)
        code = check(&args);
    if (code == EX_OK)
        code =
            sb_book_open_named(&args.at, &names, args.end ? SB_BOOK_WRITE : SB_BOOK_READ, &named);
    if (code != EX_OK)
        return code;
    code = gather(&args, &named);
    sb_book_close(named.book);
    return code;
}

static const char *const usage[] = {"INSTRUMENT -o FILE [OPTIONS]",
                                    "INSTRUMENT --text|--json [OPTIONS]",
                                    "INSTRUMENT --end [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback handover practice --text",
    "setback handover practice --draft -o half-way.html",
    "setback handover 'blue bass' -o blue-bass.html --end",
    NULL,
};

const sb_command sb_cmd_handover = {
    "handover",
    "the sheet that goes home with an instrument",
    "Writes what a visit found and did, for the player: each string before and after, how far its "
    "saddle was moved, what rulers and meters said, what remains and why, what to expect. The page "
    "is one file that needs no other, for a telephone, a screen or one sheet of paper, A4 or "
    "Letter.\n"
    "It is refused while a string was never measured, or was not since something was changed; "
    "--draft writes it all the same, marked as one. It may be looked at, and written, as often as "
    "you like: the visit stays open, for a note that was forgotten or another move, until --end "
    "ends it. Written again after that it is the same; what is heard next begins another visit.",
    usage,
    examples,
    groups,
    run,
};
