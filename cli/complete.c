/* What the shells' completions in cli/share/ need to know of the command table. */
#include <string.h>

#include "cli/command.h"
#include "core/instrument.h"

#define LETTERS "abcdefghijklmnopqrstuvwxyz"
#define WORD    LETTERS "0123456789-"

static bool first_word_is(const char *form, const char *word) {
    form += *form == '[';
    size_t n = strlen(word);
    return strncmp(form, word, n) == 0 && strchr(" .]", form[n]) != NULL;
}

/* An instrument that is to be added is not in the book yet. */
static const char *operand_of(const sb_command *c) {
    bool adds = strcmp(c->name, "book add") == 0;
    for (const char *const *form = c->usage; *form; form++) {
        if (first_word_is(*form, "NAME") || first_word_is(*form, "INSTRUMENT"))
            return adds ? "-" : "- INSTRUMENT";
        if (first_word_is(*form, "FILE"))
            return "- FILE";
    }
    return "flag";
}

/* Of what help calls the value, each part between `|` that is FILE or a plain word. */
static void print_parts(FILE *out, const char *value) {
    for (const char *part = value; *part;) {
        size_t n = strcspn(part, "|");
        bool word = strspn(part, WORD) == n && strcspn(part, LETTERS) < n;
        if (word || (n == 4 && strncmp(part, "FILE", n) == 0))
            (void)fprintf(out, " %.*s", (int)n, part);
        part += n + (part[n] == '|');
    }
}

static void print_takes(FILE *out, const sb_option *o) {
    if (o->kind == SB_OPT_FLAG) {
        (void)fputs("flag", out);
        return;
    }
    (void)fputc('-', out);
    if (o->kind == SB_OPT_THREAD)
        (void)fprintf(out, " %.*s", (int)strcspn(SB_THREADS_TEXT, ","), SB_THREADS_TEXT);
    else if (strcmp(o->value, "KIND") == 0)
        for (size_t i = 0; sb_kind_at(i); i++)
            (void)fprintf(out, " %s", sb_kind_at(i)->name);
    else
        print_parts(out, o->value);
}

void sb_complete_table(FILE *out) {
    for (const sb_command *const *c = sb_commands; *c; c++) {
        (void)fprintf(out, "%s\t.\tonce\t%s\t-\t%s\n", (*c)->name, operand_of(*c), (*c)->summary);
        for (const sb_option_group *g = (*c)->groups; g->title; g++)
            for (const sb_option *o = g->options; o < g->options + g->n; o++) {
                (void)fprintf(out, "%s\t--%s\t%s\t", (*c)->name, o->name,
                              o->kind == SB_OPT_TEXTS ? "many" : "once");
                print_takes(out, o);
                (void)fprintf(out, "\t%s\t%s\n", o->value ? o->value : "-", o->help);
            }
    }
}
