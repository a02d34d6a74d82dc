/* The command table, and from a word to its command. */
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "cli/command.h"
#include "cli/err.h"
#include "cli/term.h"
#include "cli/text.h"

/* One a line. */
/* clang-format off */
const sb_command *const sb_commands[] = {
    &sb_cmd_measure,
    &sb_cmd_move,
    &sb_cmd_compromise,
    &sb_cmd_predict,
    &sb_cmd_survey,
    &sb_cmd_bench,
    &sb_cmd_handover,
    &sb_cmd_specs,
    &sb_cmd_inputs,
    &sb_cmd_listen,
    &sb_cmd_book_add,
    &sb_cmd_book_show,
    &sb_cmd_book_list,
    &sb_cmd_book_edit,
    &sb_cmd_book_remove,
    &sb_cmd_book_export,
    &sb_cmd_book_import,
    NULL,
};
/* clang-format on */

#define COMMANDS (sizeof sb_commands / sizeof *sb_commands - 1)

/* How many of the words at argv the command's name takes: 0, 1 or 2. */
static int words_matched(const char *name, int argc, char *const argv[]) {
    const char *space = strchr(name, ' ');
    if (!space)
        return argc > 0 && strcmp(argv[0], name) == 0;
    size_t first = (size_t)(space - name);
    return argc > 1 && strlen(argv[0]) == first && strncmp(argv[0], name, first) == 0 &&
                   strcmp(argv[1], space + 1) == 0
               ? 2
               : 0;
}

static int unknown_command(const char *word) {
    const char *names[COMMANDS];
    size_t n = 0;
    for (const sb_command *const *c = sb_commands; *c && n < COMMANDS; c++)
        names[n++] = (*c)->name;
    const char *near = sb_text_nearest(word, names, n);
    char hint[100];
    (void)snprintf(hint, sizeof hint,
                   near ? "did you mean %s? setback --help lists all commands"
                        : "setback --help lists all commands",
                   near);
    return sb_fail(EX_USAGE, hint, word, "no such command");
}

static bool asks_for_help(int argc, char *const argv[]) {
    for (int i = 0; i < argc && strcmp(argv[i], "--") != 0; i++)
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)
            return true;
    return false;
}

static int run_command(int argc, char *const argv[]) {
    for (const sb_command *const *c = sb_commands; *c; c++) {
        int words = words_matched((*c)->name, argc, argv);
        if (words == 0)
            continue;
        if (!asks_for_help(argc - words, argv + words))
            return (*c)->run(*c, argc - words, argv + words);
        sb_help_command(stdout, *c);
        return EX_OK;
    }
    return unknown_command(argv[0]);
}

static int run(int argc, char *const argv[]) {
    if (argc < 1)
        return sb_fail(EX_USAGE, "setback --help lists the commands", NULL, "a command is needed");
    if (strcmp(argv[0], "--help") == 0 || strcmp(argv[0], "-h") == 0)
        sb_help_program(stdout);
    else if (strcmp(argv[0], "--version") == 0)
        (void)puts("setback " SB_VERSION);
    else if (strcmp(argv[0], "--man") == 0)
        sb_help_man(stdout);
    else
        return run_command(argc, argv);
    return EX_OK;
}

int main(int argc, char *argv[]) {
    (void)signal(SIGPIPE, SIG_IGN); /* a reader that leaves is seen when writing fails */
    sb_term_start();
    int code = run(argc - 1, argv + 1);
    return sb_term_end(sb_close_stdout(code));
}
