#include "cli/args.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/err.h"
#include "cli/text.h"
#include "core/length.h"
#include "core/pitch.h"
#include "core/screw.h"

typedef struct {
    const sb_option_group *groups;
    char *out;
    sb_args_error *error;
    bool given[SB_GROUP_OPTIONS_MAX];
} parser;

typedef struct {
    const sb_option *option;
    char *target; /* where its value goes */
    size_t index; /* among all of the command's */
} found;

static bool wrong(sb_args_error *error, const char *subject, const char *what, ...) SB_PRINTF(3, 4);

static bool wrong(sb_args_error *error, const char *subject, const char *what, ...) {
    va_list values;
    va_start(values, what);
    (void)vsnprintf(error->what, sizeof error->what, what, values);
    va_end(values);
    error->subject = subject;
    return false;
}

static void hint(sb_args_error *error, const char *format, ...) SB_PRINTF(2, 3);

static void hint(sb_args_error *error, const char *format, ...) {
    va_list values;
    va_start(values, format);
    (void)vsnprintf(error->hint, sizeof error->hint, format, values);
    va_end(values);
}

/* --- values -------------------------------------------------------------------------- */

bool sb_number_parse(const char *text, double *number) {
    char *end = NULL;
    if (text[0] == '\0' || strspn(text, "0123456789+-.eE") != strlen(text))
        return false;
    double value = strtod(text, &end);
    if (*end != '\0' || !isfinite(value))
        return false;
    *number = value;
    return true;
}

static bool in_range(parser *p, const sb_option *o, const char *text, double value) {
    if (value >= o->min && value <= o->max)
        return true;
    bool length = o->kind == SB_OPT_LENGTH || o->kind == SB_OPT_LENGTHS;
    hint(p->error, "it takes %.10g%s to %.10g%s", o->min, length ? " mm" : "", o->max,
         length ? " mm" : "");
    return wrong(p->error, text, "--%s is out of range", o->name);
}

static bool take_length(parser *p, const sb_option *o, const char *text, char *target) {
    double mm = 0;
    sb_status status = sb_length_parse(text, 0, &mm);
    if (status == SB_OK) {
        memcpy(target, &mm, sizeof mm);
        return in_range(p, o, text, mm);
    }
    hint(p->error, "write it as 25.5in, 25 1/2in, 648mm or 64.8cm");
    return wrong(p->error, text, "--%s needs a length with its unit", o->name);
}

static bool take_number(parser *p, const sb_option *o, const char *text, char *target) {
    double value = 0;
    if (!sb_number_parse(text, &value)) {
        hint(p->error, "write digits with a decimal point, such as 4.6 or -0.3");
        return wrong(p->error, text, "--%s needs a number", o->name);
    }
    memcpy(target, &value, sizeof value);
    return in_range(p, o, text, value);
}

static bool parse_item(sb_option_kind kind, const char *text, double *value) {
    return kind == SB_OPT_LENGTHS ? sb_length_parse(text, 1, value) == SB_OK
                                  : sb_number_parse(text, value);
}

static bool take_list(parser *p, const sb_option *o, const char *text, char *target) {
    sb_numbers list = {.n = 0};
    for (const char *item = text; item; item = strchr(item, ',') ? strchr(item, ',') + 1 : NULL) {
        char copy[32];
        size_t n = strcspn(item, ",");
        (void)snprintf(copy, sizeof copy, "%.*s", (int)n, item);
        if (n >= sizeof copy || list.n == SB_NUMBERS_MAX ||
            !parse_item(o->kind, copy, &list.item[list.n])) {
            hint(p->error, "write at most %d of them with commas between, no spaces: 1.2,3.2,2.6",
                 SB_NUMBERS_MAX);
            return wrong(p->error, text, "--%s needs a list", o->name);
        }
        if (!in_range(p, o, text, list.item[list.n++]))
            return false;
    }
    memcpy(target, &list, sizeof list);
    return true;
}

static bool take_whole(parser *p, const sb_option *o, const char *text, char *target) {
    double value = 0;
    if (!sb_number_parse(text, &value) || value != floor(value)) {
        hint(p->error, "it takes %.10g to %.10g", o->min, o->max);
        return wrong(p->error, text, "--%s needs a whole number", o->name);
    }
    if (!in_range(p, o, text, value))
        return false;
    int whole = (int)value;
    memcpy(target, &whole, sizeof whole);
    return true;
}

static bool take_note(parser *p, const sb_option *o, const char *text, char *target) {
    int semitone = 0;
    if (sb_note_parse(text, &semitone) != SB_OK) {
        hint(p->error, "write letter and octave, such as E2, F#3 or Bb1");
        return wrong(p->error, text, "--%s needs a note", o->name);
    }
    memcpy(target, &semitone, sizeof semitone);
    return true;
}

static bool take_thread(parser *p, const sb_option *o, const char *text, char *target) {
    double pitch_mm = 0;
    if (sb_thread_parse(text, &pitch_mm) != SB_OK) {
        hint(p->error, SB_THREADS_TEXT);
        return wrong(p->error, text, "--%s: no such thread", o->name);
    }
    memcpy(target, &pitch_mm, sizeof pitch_mm);
    return true;
}

static bool take_choice(parser *p, const sb_option *o, const char *text, char *target) {
    int index = 0;
    size_t length = strlen(text);
    for (const char *word = o->value; *word; index++) {
        size_t n = strcspn(word, "|");
        if (n == length && strncmp(word, text, n) == 0) {
            memcpy(target, &index, sizeof index);
            return true;
        }
        word += n + (word[n] == '|');
    }
    hint(p->error, "it takes one of %s", o->value);
    return wrong(p->error, text, "--%s: no such choice", o->name);
}

static bool add_text(sb_texts *texts, const char *text, sb_args_error *error) {
    if (texts->n == SB_TEXTS_MAX) {
        hint(error, "give at most %d", SB_TEXTS_MAX);
        return wrong(error, text, "too many");
    }
    texts->item[texts->n++] = text;
    return true;
}

static bool take_text(parser *p, const sb_option *o, const char *text, char *target) {
    if (*text == '\0') {
        hint(p->error, "write it as --%s %s", o->name, o->value);
        return wrong(p->error, NULL, "--%s needs a value", o->name);
    }
    if (o->kind == SB_OPT_TEXT) {
        memcpy(target, &text, sizeof text);
        return true;
    }
    return add_text((sb_texts *)(void *)target, text, p->error);
}

static bool take(parser *p, const sb_option *o, const char *text, char *target) {
    switch (o->kind) {
    case SB_OPT_FLAG: break;
    case SB_OPT_TEXT:
    case SB_OPT_TEXTS: return take_text(p, o, text, target);
    case SB_OPT_LENGTH: return take_length(p, o, text, target);
    case SB_OPT_NUMBER: return take_number(p, o, text, target);
    case SB_OPT_LENGTHS:
    case SB_OPT_NUMBERS: return take_list(p, o, text, target);
    case SB_OPT_WHOLE: return take_whole(p, o, text, target);
    case SB_OPT_NOTE: return take_note(p, o, text, target);
    case SB_OPT_THREAD: return take_thread(p, o, text, target);
    case SB_OPT_CHOICE: return take_choice(p, o, text, target);
    }
    return false;
}

/* --- options ------------------------------------------------------------------------- */

static bool same_name(const char *name, const char *text, size_t n) {
    return strlen(name) == n && strncmp(name, text, n) == 0;
}

static bool find(const parser *p, const char *text, size_t n, found *out) {
    size_t index = 0;
    for (const sb_option_group *g = p->groups; g->title; g++)
        for (size_t i = 0; i < g->n; i++, index++)
            if (same_name(g->options[i].name, text, n)) {
                *out = (found){&g->options[i], p->out + g->offset + g->options[i].offset, index};
                return true;
            }
    return false;
}

static bool unknown(const parser *p, const char *argument, size_t n) {
    const char *names[SB_GROUP_OPTIONS_MAX];
    size_t count = 0;
    for (const sb_option_group *g = p->groups; g->title; g++)
        for (size_t i = 0; i < g->n; i++)
            names[count++] = g->options[i].name;
    char word[64];
    (void)snprintf(word, sizeof word, "%.*s", (int)n, argument + 2);
    const char *near = sb_text_nearest(word, names, count);
    if (near)
        hint(p->error, "did you mean --%s? --help lists all options", near);
    else
        hint(p->error, "--help lists all options");
    return wrong(p->error, argument, "no such option");
}

/* Takes the option at argv[0], called `name`; returns how many arguments it used, 0 on error. */
static int take_option(parser *p, const char *name, int argc, char *const argv[]) {
    size_t n = strcspn(name, "=");
    found f;
    if (!find(p, name, n, &f)) {
        (void)unknown(p, argv[0], n);
        return 0;
    }
    p->given[f.index] = true;
    const char *value = name[n] == '=' ? name + n + 1 : NULL;
    if (f.option->kind == SB_OPT_FLAG) {
        const bool yes = true;
        memcpy(f.target, &yes, sizeof yes);
        hint(p->error, "write --%s alone", f.option->name);
        return value ? wrong(p->error, argv[0], "--%s takes no value", f.option->name) : 1;
    }
    if (value)
        return take(p, f.option, value, f.target);
    if (argc < 2 || strncmp(argv[1], "--", 2) == 0) {
        hint(p->error, "write it as --%s %s", f.option->name, f.option->value);
        return wrong(p->error, NULL, "--%s needs a value", f.option->name);
    }
    return take(p, f.option, argv[1], f.target) ? 2 : 0;
}

static bool take_operand(const parser *p, sb_texts *operands, const char *word) {
    found f;
    if (operands)
        return add_text(operands, word, p->error);
    if (strpbrk(word, "./") && find(p, "take", strlen("take"), &f))
        hint(p->error, "before each recording goes --take");
    else
        hint(p->error, "options begin with --; --help lists them");
    return wrong(p->error, word, "this belongs to no option");
}

static bool all_required(const parser *p) {
    size_t index = 0;
    for (const sb_option_group *g = p->groups; g->title; g++)
        for (size_t i = 0; i < g->n; i++, index++)
            if (g->options[i].required && !p->given[index]) {
                hint(p->error, "%s", g->options[i].help);
                return wrong(p->error, NULL, "--%s %s is needed", g->options[i].name,
                             g->options[i].value);
            }
    return true;
}

static bool short_output(const parser *p, const char *argument) {
    found f;
    return strcmp(argument, "-o") == 0 && find(p, "output", strlen("output"), &f);
}

bool sb_args_parse(const sb_option_group groups[], int argc, char *const argv[], void *out,
                   sb_texts *operands, sb_args_error *error) {
    parser p = {.groups = groups, .out = out, .error = error};
    bool options = true;
    for (int i = 0; i < argc;) {
        if (options && strcmp(argv[i], "--") == 0) {
            options = false;
            i++;
        } else if (options && (strncmp(argv[i], "--", 2) == 0 || short_output(&p, argv[i]))) {
            int used =
                take_option(&p, argv[i][1] == '-' ? argv[i] + 2 : "output", argc - i, argv + i);
            if (used == 0)
                return false;
            i += used;
        } else if (!take_operand(&p, operands, argv[i++])) {
            return false;
        }
    }
    return all_required(&p);
}
