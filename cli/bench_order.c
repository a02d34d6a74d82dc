#include "cli/bench_order.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/length.h"

#define WORD_MAX   64
#define MOST_TURNS 200.0
#define MOST_MM    50.0

static const char help[] =
    "moved 3 1.7 back       string 3's saddle was moved; or 0.5 forward,\n"
    "                       or 2 1/4 turns clockwise; without an amount: as asked\n"
    "moved 1-6 1.2,0.4 back a slanted saddle, at its first and its last string\n"
    "moved all              every move that was asked for was made\n"
    "changed relief [3]     or nut, action, strings, tuning; of string 3 or of all\n"
    "string 2               only string 2 is plucked; string any: any\n"
    "visit                  another visit begins\n"
    "note WORDS             keep a note\n"
    "take FILE              hear a recording\n"
    "show, help, quit\n";

const char *sb_order_help(void) {
    return help;
}

/* --- words --------------------------------------------------------------------------- */

static const char *skip_spaces(const char *text) {
    return text + strspn(text, " \t=");
}

/* Takes the next word; false at the end. */
static bool take_word(const char **text, char word[WORD_MAX]) {
    const char *from = skip_spaces(*text);
    size_t n = strcspn(from, " \t=");
    if (n == 0 || n >= WORD_MAX)
        return false;
    memcpy(word, from, n);
    word[n] = '\0';
    *text = from + n;
    return true;
}

static bool at_end(const char *text) {
    return *skip_spaces(text) == '\0';
}

/* A string's number, or a saddle's strings "5-6", of which the first stands for all. */
static bool string_number(const char *word, size_t *string) {
    char *end = NULL;
    long first = strtol(word, &end, 10);
    if (end == word || first < 1 || first > SB_STRINGS_MAX)
        return false;
    if (*end == '-') {
        const char *from = end + 1;
        long last = strtol(from, &end, 10);
        if (end == from || last < first || last > SB_STRINGS_MAX)
            return false;
    }
    *string = (size_t)first;
    return *end == '\0';
}

static bool cut_word(char *text, const char *word) {
    size_t n = strlen(text), m = strlen(word);
    while (n > 0 && text[n - 1] == ' ')
        n--;
    if (n < m || strncmp(text + n - m, word, m) != 0)
        return false;
    n -= m;
    while (n > 0 && text[n - 1] == ' ')
        n--;
    text[n] = '\0';
    return true;
}

/* --- moved --------------------------------------------------------------------------- */

static const char bad_amount[] = "write it as 1.7 back, 0.5mm forward or 2 1/4 turns clockwise";

static const char *parse_turns(char *text, sb_order *o) {
    o->in_turns = true;
    if (sb_length_parse(text, 1.0, &o->turns) != SB_OK || !(o->turns >= 0))
        return bad_amount;
    if (!(o->turns <= MOST_TURNS) || o->turns == 0)
        return "no saddle moves that far, or not at all";
    if (o->turn == SB_TURN_NONE)
        return "say which way the screw was turned: clockwise or anticlockwise";
    return NULL;
}

/* "1.7" or "1.2,0.4", with a way or with signs. */
static const char *parse_lengths(char *text, double way, sb_order *o) {
    char *comma = strchr(text, ',');
    if (comma)
        *comma = '\0';
    if (sb_length_parse(text, 1.0, &o->move_mm) != SB_OK)
        return bad_amount;
    o->end_mm = o->move_mm;
    if (comma && sb_length_parse(comma + 1, 1.0, &o->end_mm) != SB_OK)
        return bad_amount;
    if (way != 0 && (o->move_mm < 0 || o->end_mm < 0))
        return "give a sign or a way, not both";
    if (o->move_mm == 0 && o->end_mm == 0)
        return "that is no move";
    o->move_mm *= way != 0 ? way : 1;
    o->end_mm *= way != 0 ? way : 1;
    bool far = fabs(o->move_mm) > MOST_MM || fabs(o->end_mm) > MOST_MM;
    return far ? "no saddle moves that far" : NULL;
}

static const char *parse_amount(const char *from, sb_order *o) {
    char text[WORD_MAX];
    (void)snprintf(text, sizeof text, "%s", skip_spaces(from));
    if (strlen(skip_spaces(from)) >= sizeof text)
        return bad_amount;
    if (text[0] == '\0' || strcmp(text, "as asked") == 0) {
        o->as_asked = true;
        return NULL;
    }
    if (cut_word(text, "anticlockwise"))
        o->turn = SB_TURN_ANTICLOCKWISE;
    else if (cut_word(text, "clockwise"))
        o->turn = SB_TURN_CLOCKWISE;
    if (cut_word(text, "turns") || cut_word(text, "turn") || o->turn != SB_TURN_NONE)
        return parse_turns(text, o);
    double way = cut_word(text, "back") ? 1 : cut_word(text, "forward") ? -1 : 0;
    return parse_lengths(text, way, o);
}

/* Whether another number comes: then the word before it was a string. */
static bool number_follows(const char *text) {
    const char *from = skip_spaces(text);
    return strspn(from, "+-.0123456789") > 0 && strncmp(from, "1/", 2) != 0 &&
           strncmp(from, "3/", 2) != 0 && strncmp(from, "5/", 2) != 0 &&
           strncmp(from, "7/", 2) != 0;
}

static const char *parse_moved(const char *text, sb_order *o) {
    const char *rest = skip_spaces(text);
    char word[WORD_MAX];
    if (strncmp(rest, "string ", 7) == 0)
        rest = skip_spaces(rest + 7);
    const char *after = rest;
    if (take_word(&after, word)) {
        if (strcmp(word, "all") == 0) {
            o->all = true;
            return parse_amount(after, o) || !o->as_asked ? "say moved all, and no amount" : NULL;
        }
        bool saddle = strchr(word, '-') != NULL;
        bool named = string_number(word, &o->string);
        if (named && (saddle || *after == '=' || at_end(after) || number_follows(after) ||
                      strcmp(skip_spaces(after), "as asked") == 0))
            rest = after;
        else
            o->string = 0;
    }
    return parse_amount(rest, o);
}

/* --- the rest ------------------------------------------------------------------------ */

static const char *parse_changed(const char *text, sb_order *o) {
    char word[WORD_MAX];
    if (!take_word(&text, word) || !sb_change_named(word, &o->change) ||
        o->change == SB_CHANGE_VISIT)
        return "say what was changed: relief, nut, action, strings or tuning";
    if (at_end(text))
        return NULL;
    if (!take_word(&text, word) || (strcmp(word, "string") == 0 && !take_word(&text, word)))
        return "say which string";
    return string_number(word, &o->string) && at_end(text) ? NULL : "say which string";
}

static const char *parse_string(const char *text, sb_order *o) {
    char word[WORD_MAX];
    if (!take_word(&text, word) || !at_end(text) ||
        (strcmp(word, "any") != 0 && !string_number(word, &o->string)))
        return "say string and its number, or string any";
    return NULL;
}

static const char *parse_text(const char *text, sb_order *o) {
    const char *from = text + strspn(text, " \t");
    if (*from == '\0')
        return "words are missing";
    if (strlen(from) >= sizeof o->text)
        return "too long";
    memcpy(o->text, from, strlen(from) + 1);
    return NULL;
}

typedef struct {
    const char *word;
    sb_order_kind kind;
    const char *(*parse)(const char *, sb_order *);
} row;

static const row rows[] = {
    {"moved", SB_ORDER_MOVED, parse_moved},
    {"changed", SB_ORDER_CHANGED, parse_changed},
    {"string", SB_ORDER_STRING, parse_string},
    {"visit", SB_ORDER_VISIT, NULL},
    {"note", SB_ORDER_NOTE, parse_text},
    {"take", SB_ORDER_TAKE, parse_text},
    {"show", SB_ORDER_SHOW, NULL},
    {"help", SB_ORDER_HELP, NULL},
    {"quit", SB_ORDER_QUIT, NULL},
};

const char *sb_order_parse(const char *line, sb_order *out) {
    char word[WORD_MAX];
    const char *rest = line;
    sb_order order = {.kind = SB_ORDER_HELP};
    const char *fault = "no such word: help lists them";
    if (!take_word(&rest, word))
        return fault;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (strcmp(word, rows[i].word) != 0)
            continue;
        order.kind = rows[i].kind;
        fault = rows[i].parse ? rows[i].parse(rest, &order) : NULL;
    }
    if (!fault)
        *out = order;
    return fault;
}
