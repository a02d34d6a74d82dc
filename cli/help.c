#include <string.h>

#include "cli/command.h"
#include "cli/err.h"
#include "cli/text.h"

#define WIDTH  78
#define COLUMN 22 /* where the explanations begin */

static const char purpose[] =
    "setback listens to a string of a fretted instrument, open and at its 12th fret, and "
    "says how far, which way and how many screw turns to move the saddle, how sure it is, "
    "and when the fault is not at the saddle.";

typedef struct {
    const char *key;
    const char *meaning;
} entry;

static const entry exits[] = {
    {"0", "done: an answer was given, be it `move', `leave' or `measure again'"},
    {"1", "recheck: not all strings are known to be inside the tolerance; taps: the pickups do not "
          "sound as --meant says"},
    {"64", "the command line is wrong"},
    {"65", "the sound cannot be used: no clear pluck, a note missing, or the wrong note; or what "
           "is in the book or an export cannot be, or the name is in use"},
    {"66", "no such file, no such instrument"},
    {"69", "no such input, or the input went away"},
    {"71", "out of memory"},
    {"73", "the book cannot be made"},
    {"74", "reading or writing failed"},
    {"75", "another program is using the book"},
    {"77", "the book may not be read or written"},
    {"130", "interrupted before there was an answer"},
};

static const entry general[] = {
    {"--help", "this list; after a command, its options"},
    {"--version", "the version"},
    {"--man", "the manual page, as roff"},
};

static const entry environment[] = {
    {"SETBACK_BOOK", "the book, where --book does not name one"},
    {"XDG_DATA_HOME", "the folder with setback/book.db, otherwise ~/.local/share"},
    {"NO_COLOR", "set to anything but nothing: no bold and no colour"},
    {"LC_ALL", "or LC_CTYPE, or LANG: where its characters are not UTF-8, +- and 1/2 are printed"},
    {"TERM", "`dumb' or not set: no bold, no colour, no level meter"},
};

#define COUNT(array) (sizeof(array) / sizeof *(array))

/* --- for the screen ------------------------------------------------------------------ */

static void print_entry(FILE *out, const char *key, const char *meaning) {
    char left[64];
    (void)snprintf(left, sizeof left, "  %s", key);
    size_t width = sb_text_width(left);
    sb_text_pad(out, left, COLUMN);
    if (width + 2 > COLUMN) {
        (void)fputc('\n', out);
        sb_text_pad(out, "", COLUMN);
    }
    sb_text_wrap(out, meaning, COLUMN, COLUMN, WIDTH);
}

static void option_key(const sb_option *o, char *key, size_t size) {
    (void)snprintf(key, size, "--%s%s%s", o->name, o->value ? " " : "", o->value ? o->value : "");
}

void sb_help_program(FILE *out) {
    sb_text_wrap(out, purpose, 0, 0, WIDTH);
    (void)fputs("\nusage: setback COMMAND [OPTIONS]\n\n", out);
    for (const sb_command *const *c = sb_commands; *c; c++)
        print_entry(out, (*c)->name, (*c)->summary);
    (void)fputc('\n', out);
    for (size_t i = 0; i < COUNT(general); i++)
        print_entry(out, general[i].key, general[i].meaning);
    (void)fputs("\nexit codes\n", out);
    for (size_t i = 0; i < COUNT(exits); i++)
        print_entry(out, exits[i].key, exits[i].meaning);
}

void sb_help_command(FILE *out, const sb_command *command) {
    (void)fprintf(out, "setback %s: %s\n\n", command->name, command->summary);
    for (const char *const *form = command->usage; *form; form++)
        (void)fprintf(out, "%s setback %s%s%s\n", form == command->usage ? "usage:" : "      ",
                      command->name, **form ? " " : "", *form);
    (void)fputc('\n', out);
    sb_text_wrap(out, command->description, 0, 0, WIDTH);
    for (const sb_option_group *g = command->groups; g->title; g++) {
        (void)fprintf(out, "\n%s\n", g->title);
        for (size_t i = 0; i < g->n; i++) {
            char key[64];
            option_key(&g->options[i], key, sizeof key);
            print_entry(out, key, g->options[i].help);
        }
    }
    (void)fputs("\nexamples\n", out);
    for (const char *const *line = command->examples; *line; line++)
        (void)fprintf(out, "  %s\n", *line);
}

/* --- for man ------------------------------------------------------------------------- */

/* roff takes a backslash, a dash and a leading dot or quote for its own. */
static void roff(FILE *out, const char *text) {
    for (const char *c = text; *c; c++) {
        if (*c == '\n')
            (void)fputs("\n.PP\n", out);
        else if (*c == '\\')
            (void)fputs("\\e", out);
        else if (*c == '-')
            (void)fputs("\\-", out);
        else if ((*c == '.' || *c == '\'') && (c == text || c[-1] == '\n'))
            (void)fprintf(out, "\\&%c", *c);
        else
            (void)fputc(*c, out);
    }
    (void)fputc('\n', out);
}

static void roff_entry(FILE *out, const char *key, const char *meaning) {
    (void)fputs(".TP\n.B ", out);
    roff(out, key);
    roff(out, meaning);
}

static void roff_usage(FILE *out, const sb_command *c) {
    for (const char *const *form = c->usage; *form; form++) {
        char line[200];
        (void)snprintf(line, sizeof line, "setback %s %s", c->name, *form);
        (void)fputs(form == c->usage ? "" : ".br\n", out);
        roff(out, line);
    }
}

static void roff_command(FILE *out, const sb_command *c) {
    (void)fprintf(out, ".SS setback %s\n", c->name);
    roff_usage(out, c);
    (void)fputs(".PP\n", out);
    roff(out, c->description);
    for (const sb_option_group *g = c->groups; g->title; g++) {
        (void)fputs(".PP\n.I ", out);
        roff(out, g->title);
        for (size_t i = 0; i < g->n; i++) {
            char key[64];
            option_key(&g->options[i], key, sizeof key);
            roff_entry(out, key, g->options[i].help);
        }
    }
}

static void roff_examples(FILE *out) {
    (void)fputs(".SH EXAMPLES\n.nf\n", out);
    for (const sb_command *const *c = sb_commands; *c; c++)
        for (const char *const *line = (*c)->examples; *line; line++)
            roff(out, *line);
    (void)fputs(".fi\n", out);
}

static void roff_entries(FILE *out, const char *title, const entry entries[], size_t n) {
    (void)fprintf(out, ".SH %s\n", title);
    for (size_t i = 0; i < n; i++)
        roff_entry(out, entries[i].key, entries[i].meaning);
}

void sb_help_man(FILE *out) {
    (void)fputs(".TH SETBACK 1 \"\" \"setback " SB_VERSION "\"\n.SH NAME\n"
                "setback \\- how far to move a saddle, by ear\n.SH SYNOPSIS\n",
                out);
    for (const sb_command *const *c = sb_commands; *c; c++) {
        (void)fputs(c == sb_commands ? "" : ".br\n", out);
        roff_usage(out, *c);
    }
    (void)fputs(".SH DESCRIPTION\n", out);
    roff(out, purpose);
    (void)fputs(".SH COMMANDS\n", out);
    for (const sb_command *const *c = sb_commands; *c; c++)
        roff_command(out, *c);
    roff_entries(out, "OPTIONS", general, COUNT(general));
    roff_entries(out, "EXIT STATUS", exits, COUNT(exits));
    roff_entries(out, "ENVIRONMENT", environment, COUNT(environment));
    roff_examples(out);
    (void)fputs(".SH SEE ALSO\n.BR setback\\-book (5)\n", out);
}
