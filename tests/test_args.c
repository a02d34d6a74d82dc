/* The option parser on a table of every kind of option. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "cli/args.h"
#include "tests/support/within.h"

typedef struct {
    double length_mm;
    double number;
    int whole;
} inner;

typedef struct {
    bool flag;
    const char *text, *output;
    sb_texts texts;
    int note;
    double thread_mm;
    int choice;
    sb_numbers lengths, numbers;
    inner in;
} options;

static const sb_option outer_rows[] = {
    {"flag", SB_OPT_FLAG, offsetof(options, flag), NULL, "a flag", 0, 0, false},
    {"text", SB_OPT_TEXT, offsetof(options, text), "FILE", "a text", 0, 0, false},
    {"texts", SB_OPT_TEXTS, offsetof(options, texts), "FILE", "texts", 0, 0, false},
    {"note", SB_OPT_NOTE, offsetof(options, note), "NOTE", "a note", 0, 0, false},
    {"thread", SB_OPT_THREAD, offsetof(options, thread_mm), "NAME", "a thread", 0, 0, false},
    {"choice", SB_OPT_CHOICE, offsetof(options, choice), "each|pairs|one", "a choice", 0, 0, false},
    {"lengths", SB_OPT_LENGTHS, offsetof(options, lengths), "LEN,LEN", "lengths", -50, 2000, false},
    {"numbers", SB_OPT_NUMBERS, offsetof(options, numbers), "W,W", "numbers", 0.5, 9, false},
    {"output", SB_OPT_TEXT, offsetof(options, output), "FILE", "where to", 0, 0, false},
};

static const sb_option inner_rows[] = {
    {"length", SB_OPT_LENGTH, offsetof(inner, length_mm), "LEN", "a length", 100, 2000, true},
    {"number", SB_OPT_NUMBER, offsetof(inner, number), "C", "a number", -100, 100, false},
    {"whole", SB_OPT_WHOLE, offsetof(inner, whole), "N", "a whole number", 1, 36, false},
};

static const sb_option_group groups[] = {
    {"outer", outer_rows, 9, 0},
    {"inner", inner_rows, 3, offsetof(options, in)},
    {NULL, NULL, 0, 0},
};

#define PARSE(o, error, operands, ...)                                                             \
    sb_args_parse(groups, (int)(sizeof((char *[]){__VA_ARGS__}) / sizeof(char *)),                 \
                  (char *[]){__VA_ARGS__}, o, operands, error)

/* String literals for argv, which is not const. */
#define ARG(text)                                                                                  \
    (char[]) {                                                                                     \
        text                                                                                       \
    }

static void every_kind_is_taken(void **state) {
    (void)state;
    options o = {.note = -1000};
    sb_args_error error;
    assert_true(PARSE(&o, &error, NULL, ARG("--flag"), ARG("--text"), ARG("a b.wav"),
                      ARG("--texts"), ARG("x"), ARG("--texts=y"), ARG("--note"), ARG("Bb1"),
                      ARG("--thread=4-40"), ARG("--choice"), ARG("pairs"), ARG("--length"),
                      ARG("25-1/2\""), ARG("--number"), ARG("-4.6"), ARG("--whole=12")));
    assert_true(o.flag);
    assert_string_equal(o.text, "a b.wav");
    assert_int_equal(o.texts.n, 2);
    assert_string_equal(o.texts.item[0], "x");
    assert_string_equal(o.texts.item[1], "y");
    assert_int_equal(o.note, 34);                       /* Bb1: 12 (1 + 1) + 10 */
    assert_true(fabs(o.thread_mm - 25.4 / 40) < 1e-12); /* ASME B1.1: 40 threads an inch */
    assert_int_equal(o.choice, 1);
    assert_true(fabs(o.in.length_mm - 25.5 * 25.4) < 1e-9);
    assert_true(fabs(o.in.number + 4.6) < 1e-12);
    assert_int_equal(o.in.whole, 12);
}

static void what_is_not_given_keeps_its_default(void **state) {
    (void)state;
    options o = {.choice = 2, .note = 7, .in.number = 1.5};
    sb_args_error error;
    assert_true(PARSE(&o, &error, NULL, ARG("--length=648mm")));
    assert_false(o.flag);
    assert_null(o.text);
    assert_int_equal(o.choice, 2);
    assert_int_equal(o.note, 7);
    assert_true(o.in.number == 1.5);
}

static void lists_are_divided_by_commas(void **state) {
    (void)state;
    options o = {.choice = 0};
    sb_args_error error;
    assert_true(PARSE(&o, &error, NULL, ARG("--length=648mm"), ARG("--lengths"),
                      ARG("-1.2,25 1/2in,3"), ARG("--numbers=1.5")));
    assert_int_equal(o.lengths.n, 3);
    assert_within(o.lengths.item[0], -1.2, 1e-12);
    assert_within(o.lengths.item[1], 647.7, 1e-9);
    assert_within(o.lengths.item[2], 3, 1e-12);
    assert_int_equal(o.numbers.n, 1);
    assert_within(o.numbers.item[0], 1.5, 1e-12);
    char many[3 * SB_NUMBERS_MAX] = "";
    for (int i = 0; i < SB_NUMBERS_MAX; i++)
        (void)strcat(many, i ? ",1" : "1");
    assert_true(PARSE(&o, &error, NULL, ARG("--length=648mm"), ARG("--numbers"), many));
    assert_int_equal(o.numbers.n, SB_NUMBERS_MAX);
    (void)strcat(many, ",1");
    assert_false(PARSE(&o, &error, NULL, ARG("--length=648mm"), ARG("--numbers"), many));
    assert_string_equal(error.what, "--numbers needs a list");
}

static void the_last_of_several_counts(void **state) {
    (void)state;
    options o = {.choice = 0};
    sb_args_error error;
    assert_true(PARSE(&o, &error, NULL, ARG("--length=648mm"), ARG("--length=650mm")));
    assert_true(o.in.length_mm == 650.0);
}

typedef struct {
    const char *argument[2]; /* after a valid --length */
    const char *what, *subject, *hint;
} mistake;

/* The words of each message, as the command line shows them. */
static const mistake mistakes[] = {
    {{"--nubmer", "3"},
     "no such option",
     "--nubmer",
     "did you mean --number? --help lists all options"},
    {{"--zebra", "3"}, "no such option", "--zebra", "--help lists all options"},
    {{"--nubmer=3", NULL},
     "no such option",
     "--nubmer=3",
     "did you mean --number? --help lists all options"},
    {{"--", NULL}, NULL, NULL, NULL},
    {{"stray", NULL},
     "this belongs to no option",
     "stray",
     "options begin with --; --help lists them"},
    {{"-x", NULL}, "this belongs to no option", "-x", "options begin with --; --help lists them"},
    {{"--flag=1", NULL}, "--flag takes no value", "--flag=1", "write --flag alone"},
    {{"--text", NULL}, "--text needs a value", NULL, "write it as --text FILE"},
    {{"--text", "--flag"}, "--text needs a value", NULL, "write it as --text FILE"},
    {{"--text=", NULL}, "--text needs a value", NULL, "write it as --text FILE"},
    {{"--texts", ""}, "--texts needs a value", NULL, "write it as --texts FILE"},
    {{"--length", "25.5"},
     "--length needs a length with its unit",
     "25.5",
     "write it as 25.5in, 25 1/2in, 648mm or 64.8cm"},
    {{"--length", "nanmm"},
     "--length needs a length with its unit",
     "nanmm",
     "write it as 25.5in, 25 1/2in, 648mm or 64.8cm"},
    {{"--length", "99mm"}, "--length is out of range", "99mm", "it takes 100 mm to 2000 mm"},
    {{"--number", "ten"},
     "--number needs a number",
     "ten",
     "write digits with a decimal point, such as 4.6 or -0.3"},
    {{"--number", "nan"},
     "--number needs a number",
     "nan",
     "write digits with a decimal point, such as 4.6 or -0.3"},
    {{"--number", "1e999"},
     "--number needs a number",
     "1e999",
     "write digits with a decimal point, such as 4.6 or -0.3"},
    {{"--number", "100.1"}, "--number is out of range", "100.1", "it takes -100 to 100"},
    {{"--whole", "12.5"}, "--whole needs a whole number", "12.5", "it takes 1 to 36"},
    {{"--whole", "0"}, "--whole is out of range", "0", "it takes 1 to 36"},
    {{"--whole", "99999999999"}, "--whole is out of range", "99999999999", "it takes 1 to 36"},
    {{"--note", "H2"},
     "--note needs a note",
     "H2",
     "write letter and octave, such as E2, F#3 or Bb1"},
    {{"--thread", "M99"},
     "--thread: no such thread",
     "M99",
     "M2 M2.5 M3 M3.5 M4 2-56 4-40 6-32 8-32, or mm a turn such as 0.5mm"},
    {{"--numbers", "1,,2"},
     "--numbers needs a list",
     "1,,2",
     "write at most 64 of them with commas between, no spaces: 1.2,3.2,2.6"},
    {{"--numbers", "1,2,"},
     "--numbers needs a list",
     "1,2,",
     "write at most 64 of them with commas between, no spaces: 1.2,3.2,2.6"},
    {{"--numbers", "1,nan"},
     "--numbers needs a list",
     "1,nan",
     "write at most 64 of them with commas between, no spaces: 1.2,3.2,2.6"},
    {{"--numbers", "1,10"}, "--numbers is out of range", "1,10", "it takes 0.5 to 9"},
    {{"--lengths", "1mm,3m"}, "--lengths is out of range", "1mm,3m", "it takes -50 mm to 2000 mm"},
    {{"--choice", "pair"}, "--choice: no such choice", "pair", "it takes one of each|pairs|one"},
    {{"--choice", "each|pairs"},
     "--choice: no such choice",
     "each|pairs",
     "it takes one of each|pairs|one"},
};

static void every_mistake_has_its_words(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof mistakes / sizeof *mistakes; i++) {
        const mistake *m = &mistakes[i];
        char first[64], second[64], length[] = "--length=648mm";
        (void)snprintf(first, sizeof first, "%s", m->argument[0]);
        (void)snprintf(second, sizeof second, "%s", m->argument[1] ? m->argument[1] : "");
        char *argv[] = {length, first, second};
        options o = {.choice = 0};
        sb_args_error error = {.what = ""};
        bool ok = sb_args_parse(groups, m->argument[1] ? 3 : 2, argv, &o, NULL, &error);
        assert_int_equal(ok, m->what == NULL);
        if (ok)
            continue;
        assert_string_equal(error.what, m->what);
        assert_string_equal(error.hint, m->hint);
        if (m->subject)
            assert_string_equal(error.subject, m->subject);
        else
            assert_null(error.subject);
    }
}

static void a_needed_option_is_asked_for(void **state) {
    (void)state;
    options o = {.choice = 0};
    sb_args_error error = {.what = ""};
    assert_false(PARSE(&o, &error, NULL, ARG("--flag")));
    assert_string_equal(error.what, "--length LEN is needed");
    assert_string_equal(error.hint, "a length");
    assert_null(error.subject);
}

static void output_has_a_short_form(void **state) {
    (void)state;
    options o = {.choice = 0};
    sb_texts operands = {.n = 0};
    sb_args_error error = {.what = ""};
    assert_true(PARSE(&o, &error, &operands, ARG("--length=648mm"), ARG("-o"), ARG("a.html")));
    assert_string_equal(o.output, "a.html");
    assert_int_equal(operands.n, 0);
    assert_false(PARSE(&o, &error, &operands, ARG("--length=648mm"), ARG("-o")));
    assert_string_equal(error.what, "--output needs a value");
    assert_true(PARSE(&o, &error, &operands, ARG("--length=648mm"), ARG("--"), ARG("-o")));
    assert_string_equal(operands.item[0], "-o");
}

static void operands_are_kept_apart(void **state) {
    (void)state;
    options o = {.choice = 0};
    sb_texts operands = {.n = 0};
    sb_args_error error = {.what = ""};
    assert_true(PARSE(&o, &error, &operands, ARG("one"), ARG("--length=648mm"), ARG("-two"),
                      ARG("--"), ARG("--flag")));
    assert_false(o.flag);
    assert_int_equal(operands.n, 3);
    assert_string_equal(operands.item[0], "one");
    assert_string_equal(operands.item[1], "-two");
    assert_string_equal(operands.item[2], "--flag");
}

static void more_than_fit_are_refused(void **state) {
    (void)state;
    enum { N = 2 * SB_TEXTS_MAX + 4 };
    char name[] = "--texts", value[] = "x", length[] = "--length=648mm";
    char *argv[N];
    argv[0] = length;
    for (int i = 1; i + 1 < N; i += 2) {
        argv[i] = name;
        argv[i + 1] = value;
    }
    options o = {.choice = 0};
    sb_args_error error = {.what = ""};
    assert_true(sb_args_parse(groups, 1 + 2 * SB_TEXTS_MAX, argv, &o, NULL, &error));
    assert_int_equal(o.texts.n, SB_TEXTS_MAX);
    o = (options){.choice = 0};
    assert_false(sb_args_parse(groups, 3 + 2 * SB_TEXTS_MAX, argv, &o, NULL, &error));
    assert_string_equal(error.what, "too many");
}

static void numbers_are_decimal_and_finite(void **state) {
    (void)state;
    double x = 0;
    assert_true(sb_number_parse("+4.6", &x) && fabs(x - 4.6) < 1e-12);
    assert_true(sb_number_parse("-.5e1", &x) && fabs(x + 5) < 1e-12);
    const char *bad[] = {"",    " 1",    "1 ", "1,5", "0x1p3", "inf",
                         "nan", "1e999", "e",  "+",   "1-2",   "--1"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(sb_number_parse(bad[i], &x));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_is_taken),
        cmocka_unit_test(what_is_not_given_keeps_its_default),
        cmocka_unit_test(lists_are_divided_by_commas),
        cmocka_unit_test(the_last_of_several_counts),
        cmocka_unit_test(every_mistake_has_its_words),
        cmocka_unit_test(a_needed_option_is_asked_for),
        cmocka_unit_test(output_has_a_short_form),
        cmocka_unit_test(operands_are_kept_apart),
        cmocka_unit_test(more_than_fit_are_refused),
        cmocka_unit_test(numbers_are_decimal_and_finite),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
