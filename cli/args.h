/* args: options described in tables, and the one parser for all commands.
 *
 * A table row says what the option is called, what value it takes and where that goes;
 * parsing, `--help`, the manual page and completion all read the same rows. Long options
 * only: `--name value` or `--name=value`; `--` ends them. `-o` is short for `--output` where a
 * command has that, as in other programs. A value may begin with one dash
 * (-1.2mm), but not with two, so that a forgotten value is noticed; use `=` for those.
 *
 * Nothing here prints or exits.
 */
#ifndef SB_ARGS_H
#define SB_ARGS_H

#include <stdbool.h>
#include <stddef.h>

#define SB_TEXTS_MAX         64
#define SB_NUMBERS_MAX       64 /* of one list */
#define SB_GROUP_OPTIONS_MAX 64 /* options of one command, all groups together */

/* What an option of type SB_OPT_THREAD takes, for its help and its hint. */
#define SB_THREADS_TEXT "M2 M2.5 M3 M3.5 M4 2-56 4-40 6-32 8-32, or mm a turn such as 0.5mm"

typedef enum {
    SB_OPT_FLAG,    /* bool: true when given */
    SB_OPT_TEXT,    /* const char * into argv, not empty */
    SB_OPT_TEXTS,   /* sb_texts: may be given several times */
    SB_OPT_LENGTH,  /* double, mm, with its unit */
    SB_OPT_NUMBER,  /* double, finite */
    SB_OPT_LENGTHS, /* sb_numbers: lengths divided by commas, mm where no unit is written */
    SB_OPT_NUMBERS, /* sb_numbers: numbers divided by commas */
    SB_OPT_WHOLE,   /* int */
    SB_OPT_NOTE,    /* int, semitone of core/pitch.h */
    SB_OPT_THREAD,  /* double, pitch in mm */
    SB_OPT_CHOICE   /* int, position in `value`, which lists the words: "pulls|pushes" */
} sb_option_kind;

typedef struct {
    const char *name; /* without the dashes */
    sb_option_kind kind;
    size_t offset;     /* of the member, in the group's struct */
    const char *value; /* what help calls the value, "LEN"; NULL for flags */
    const char *help;  /* ASCII, one or two sentences */
    double min, max;   /* of LENGTH (mm), NUMBER, WHOLE and every item of a list */
    bool required;
} sb_option;

typedef struct {
    const char *title;
    const sb_option *options;
    size_t n;
    size_t offset; /* of the struct that the group fills, within the command's */
} sb_option_group;

typedef struct {
    const char *item[SB_TEXTS_MAX];
    size_t n;
} sb_texts;

typedef struct {
    double item[SB_NUMBERS_MAX];
    size_t n;
} sb_numbers;

/* What was wrong, in the parts that a message has. */
typedef struct {
    char what[120];
    const char *subject; /* points into argv; NULL where there is none */
    char hint[200];
} sb_args_error;

/* Parses argv[0..argc-1] by `groups` (ended by a NULL title) into the command's struct at
 * `out`, whose defaults the caller has set. Words that are no options go to `operands`;
 * where that is NULL they are an error. False: `error` says what is wrong, and `out` may
 * be partly filled. */
bool sb_args_parse(const sb_option_group groups[], int argc, char *const argv[], void *out,
                   sb_texts *operands, sb_args_error *error);

/* A finite decimal number with nothing behind it; no hexadecimal, no names, no locale. */
bool sb_number_parse(const char *text, double *number);

#endif
