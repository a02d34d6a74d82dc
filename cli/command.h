/* command: one row of the command table, from which parsing, `--help` and the manual page
 * are made.
 *
 * To add a command: write cli/cmd_NAME.c with an `sb_command`, declare it here and put it
 * in the table of cli/main.c.
 */
#ifndef SB_COMMAND_H
#define SB_COMMAND_H

#include <stdio.h>

#include "cli/args.h"

typedef struct sb_command sb_command;

struct sb_command {
    const char *name;              /* one word, or two: "book add" */
    const char *summary;           /* one line */
    const char *description;       /* ASCII; '\n' ends a paragraph */
    const char *const *usage;      /* forms without the name, ended by NULL */
    const char *const *examples;   /* whole command lines, ended by NULL */
    const sb_option_group *groups; /* ended by a NULL title */
    int (*run)(const sb_command *self, int argc, char *const argv[]); /* after the name */
};

/* All commands in the order of `--help`, ended by NULL; in main.c. */
extern const sb_command *const sb_commands[];

extern const sb_command sb_cmd_balance;
extern const sb_command sb_cmd_bench;
extern const sb_command sb_cmd_book_add;
extern const sb_command sb_cmd_book_edit;
extern const sb_command sb_cmd_book_export;
extern const sb_command sb_cmd_book_import;
extern const sb_command sb_cmd_book_list;
extern const sb_command sb_cmd_book_remove;
extern const sb_command sb_cmd_book_show;
extern const sb_command sb_cmd_compromise;
extern const sb_command sb_cmd_handover;
extern const sb_command sb_cmd_inputs;
extern const sb_command sb_cmd_listen;
extern const sb_command sb_cmd_measure;
extern const sb_command sb_cmd_move;
extern const sb_command sb_cmd_predict;
extern const sb_command sb_cmd_recheck;
extern const sb_command sb_cmd_restring;
extern const sb_command sb_cmd_quiet;
extern const sb_command sb_cmd_specs;
extern const sb_command sb_cmd_survey;
extern const sb_command sb_cmd_taps;

/* Parses a command's own arguments; 0, or the exit code with the error reported. */
int sb_command_args(const sb_command *self, int argc, char *const argv[], void *out,
                    sb_texts *operands);

/* Prints the list of commands. */
void sb_help_program(FILE *out);

/* Prints one command's options. */
void sb_help_command(FILE *out, const sb_command *command);

/* Prints the manual page as roff (man macros). */
void sb_help_man(FILE *out);

/* Prints the table for the shells' completions in cli/share/, a line a command and an option,
 * divided by tabs: command, --option (or . for the command), `once' or `many', what can be
 * completed (`flag' where there is no value or operand, else - and words, of which FILE and
 * INSTRUMENT stand for theirs), the value's name, help. */
void sb_complete_table(FILE *out);

#endif
