/* The command table, and from a word to its command. */
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "cli/command.h"
#include "cli/err.h"
#include "cli/json_memory.h"
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
    &sb_cmd_restring,
    &sb_cmd_recheck,
    &sb_cmd_quiet,
    &sb_cmd_taps,
    &sb_cmd_balance,
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

/* The words that may follow this first word of commands of two, "add, show"; false for others. */
static bool second_words(const char *first, char *list, size_t size) {
    size_t n = strlen(first), used = 0;
    for (const sb_command *const *c = sb_commands; *c; c++)
        if (strncmp((*c)->name, first, n) == 0 && (*c)->name[n] == ' ' && used < size)
            used += (size_t)snprintf(list + used, size - used, "%s%s", used ? ", " : "",
                                     (*c)->name + n + 1);
    return used > 0;
}

static int unknown_command(const char *word) {
    const char *names[COMMANDS];
    size_t n = 0;
    for (const sb_command *const *c = sb_commands; *c && n < COMMANDS; c++)
        names[n++] = (*c)->name;
    const char *near = sb_text_nearest(word, names, n);
    char hint[200], list[120];
    if (second_words(word, list, sizeof list)) {
        (void)snprintf(hint, sizeof hint, "write one of these behind it: %s", list);
        return sb_fail(EX_USAGE, hint, word, "a second word is needed");
    }
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
    char list[120];
    if (!asks_for_help(argc, argv) || !second_words(argv[0], list, sizeof list))
        return unknown_command(argv[0]);
    sb_help_program(stdout);
    return EX_OK;
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
    else if (strcmp(argv[0], "--table") == 0)
        sb_complete_table(stdout);
    else
        return run_command(argc, argv);
    return EX_OK;
}

int main(int argc, char *argv[]) {
    (void)signal(SIGPIPE, SIG_IGN); /* a reader that leaves is seen when writing fails */
    (void)signal(SIGXFSZ, SIG_IGN); /* and so is a limit to the size of files */
    sb_term_start();
    sb_json_memory_start();
    int code = run(argc - 1, argv + 1);
    return sb_term_end(sb_close_stdout(code));
}
