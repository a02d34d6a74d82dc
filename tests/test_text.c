/* Strings from outside made fit to print, and the nearest word. */
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/plain.h"
#include "cli/text.h"

static void expect_clean(const char *in, const char *want) {
    char out[64];
    sb_text_clean(in, out, sizeof out);
    assert_string_equal(out, want);
}

static void text_that_is_fit_stays(void **state) {
    (void)state;
    expect_clean("", "");
    expect_clean("low e.wav", "low e.wav");
    expect_clean("½ ⅛ é 𝄞", "½ ⅛ é 𝄞");
}

static void control_characters_go(void **state) {
    (void)state;
    expect_clean("a\033[31mb", "a?[31mb");
    expect_clean("a\nb\tc\177", "a?b?c?");
    expect_clean("a\xc2\x9b"
                 "31m",
                 "a??31m"); /* C1: the one-byte form of escape-bracket */
}

/* U+200B to 200F, 2028 to 202E, 2060 to 206F, 061C, FEFF, and their neighbours that stay. */
static void what_is_not_seen_goes(void **state) {
    (void)state;
    expect_clean("a\xe2\x80\x8b"
                 "b\xe2\x80\x8f"
                 "c",
                 "a?b?c");
    expect_clean("\xe2\x80\xa8\xe2\x80\xaa\xe2\x80\xae", "???");
    expect_clean("\xe2\x81\xa0\xe2\x81\xa6\xe2\x81\xa9\xe2\x81\xaf", "????");
    expect_clean("\xd8\x9c\xef\xbb\xbf", "??");
    expect_clean("\xe2\x80\x8a\xe2\x80\x90\xe2\x80\xa7\xe2\x80\xaf\xd8\x9b",
                 "\xe2\x80\x8a\xe2\x80\x90\xe2\x80\xa7\xe2\x80\xaf\xd8\x9b");
}

/* Ill-formed sequences of the Unicode Standard, table 3-7. */
static void malformed_utf8_goes(void **state) {
    (void)state;
    expect_clean("\x80", "?");
    expect_clean("\xc0\xaf", "??");           /* overlong */
    expect_clean("\xe0\x80\xaf", "???");      /* overlong */
    expect_clean("\xed\xa0\x80", "???");      /* surrogate */
    expect_clean("\xf4\x90\x80\x80", "????"); /* beyond the last plane */
    expect_clean("\xe2\x82", "??");           /* cut off */
    expect_clean("\xff", "?");
}

static void cutting_keeps_characters_whole(void **state) {
    (void)state;
    char out[5];
    sb_text_clean("ab½½", out, sizeof out);
    assert_string_equal(out, "ab½");
    sb_text_clean("abc½", out, sizeof out);
    assert_string_equal(out, "abc");
    sb_text_clean("½", out, 1);
    assert_string_equal(out, "");
}

static void width_counts_characters(void **state) {
    (void)state;
    assert_int_equal(sb_text_width(""), 0);
    assert_int_equal(sb_text_width("4½/64 in"), 8);
    assert_int_equal(sb_text_width("± ⅛"), 3);
}

/* UAX #11, East Asian Width, and combining marks; the locale may not be installed. */
static void width_is_that_of_the_terminal(void **state) {
    (void)state;
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        skip();
    assert_int_equal(sb_text_width("山田"), 4);
    assert_int_equal(sb_text_width("Cafe\xcc\x81"), 4);
    assert_int_equal(sb_text_width("±½"), 2);
    (void)setlocale(LC_CTYPE, "C");
    assert_int_equal(sb_text_width("山田"), 2);
}

/* What a printing function wrote; the caller frees. */
static char *wrapped(const char *text, size_t column, size_t indent, size_t width) {
    char *out = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&out, &size);
    assert_non_null(f);
    sb_text_wrap(f, text, column, indent, width);
    assert_int_equal(fclose(f), 0);
    return out;
}

static void expect_wrapped(const char *text, size_t column, size_t indent, const char *want) {
    char *got = wrapped(text, column, indent, 10);
    assert_string_equal(got, want);
    free(got);
}

static void wrapping_breaks_at_spaces(void **state) {
    (void)state;
    expect_wrapped("one", 0, 0, "one\n");
    expect_wrapped("one two three", 0, 0, "one two\nthree\n");
    expect_wrapped("123456 890", 0, 0, "123456 890\n");
    expect_wrapped("one two", 4, 4, "one\n    two\n");
    expect_wrapped("longerthanten x", 0, 0, "longerthanten\nx\n");
    expect_wrapped("a\nb", 2, 2, "a\n  b\n");
}

static void padding_fills_up(void **state) {
    (void)state;
    char *out = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&out, &size);
    assert_non_null(f);
    sb_text_pad(f, "½", 3);
    sb_text_pad(f, "longer", 3);
    assert_int_equal(fclose(f), 0);
    assert_string_equal(out, "½  longer");
    free(out);
}

static void expect_fitted(const char *text, size_t width, const char *want) {
    char *out = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&out, &size);
    assert_non_null(f);
    sb_text_fit(f, text, width);
    assert_int_equal(fclose(f), 0);
    assert_string_equal(out, want);
    free(out);
}

static void fitting_shortens(void **state) {
    (void)state;
    expect_fitted("name", 6, "name  ");
    expect_fitted("a name", 6, "a name");
    expect_fitted("a name!", 6, "a nam…");
    expect_fitted("½½½", 2, "½…");
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        skip();
    expect_fitted("山田山田", 6, "山田… "); /* a wide one has no half */
    expect_fitted("Cafe\xcc\x81s and", 5, "Cafe\xcc\x81…");
    (void)setlocale(LC_CTYPE, "C");
}

static void cutting_keeps_what_stands_on_it(void **state) {
    (void)state;
    char text[] = "ab½½";
    sb_text_cut(text, 9);
    assert_string_equal(text, "ab½½");
    sb_text_cut(text, 3);
    assert_string_equal(text, "ab½");
    sb_text_cut(text, 0);
    assert_string_equal(text, "");
}

static void expect_sign(char before, const char *text, const char *want, size_t want_length) {
    size_t length = 0;
    const char *sign = sb_plain_sign(before, text, &length);
    assert_non_null(sign);
    assert_string_equal(sign, want);
    assert_int_equal(length, want_length);
}

static void signs_have_stand_ins(void **state) {
    (void)state;
    size_t length;
    expect_sign(' ', "± 1", "+-", 2);
    expect_sign('\0', "½", "1/2", 2);
    expect_sign('8', "½/64", ".5", 2);
    expect_sign('2', "⅛", " 1/8", 3);
    expect_sign('-', "…", "...", 3);
    assert_null(sb_plain_sign(' ', "é", &length));
    assert_null(sb_plain_sign(' ', "", &length));
}

static const char *const words[] = {"measure", "move", "inputs", "listen"};

static void slips_of_the_finger_are_recognised(void **state) {
    (void)state;
    assert_string_equal(sb_text_nearest("mesure", words, 4), "measure");
    assert_string_equal(sb_text_nearest("measrue", words, 4), "measure");
    assert_string_equal(sb_text_nearest("mvoe", words, 4), "move");
    assert_string_equal(sb_text_nearest("imputs", words, 4), "inputs");
    assert_string_equal(sb_text_nearest("lis", words, 4), "listen");
    assert_string_equal(sb_text_nearest("move", words, 4), "move");
}

static void strange_words_are_not(void **state) {
    (void)state;
    assert_null(sb_text_nearest("banjo", words, 4));
    assert_null(sb_text_nearest("", words, 4));
    assert_null(sb_text_nearest("x", words, 4));
    char endless[5000];
    memset(endless, 'm', sizeof endless - 1);
    endless[sizeof endless - 1] = '\0';
    assert_null(sb_text_nearest(endless, words, 4));
    assert_null(sb_text_nearest("move", words, 0));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_that_is_fit_stays),
        cmocka_unit_test(control_characters_go),
        cmocka_unit_test(what_is_not_seen_goes),
        cmocka_unit_test(malformed_utf8_goes),
        cmocka_unit_test(cutting_keeps_characters_whole),
        cmocka_unit_test(width_counts_characters),
        cmocka_unit_test(wrapping_breaks_at_spaces),
        cmocka_unit_test(padding_fills_up),
        cmocka_unit_test(width_is_that_of_the_terminal),
        cmocka_unit_test(fitting_shortens),
        cmocka_unit_test(cutting_keeps_what_stands_on_it),
        cmocka_unit_test(signs_have_stand_ins),
        cmocka_unit_test(slips_of_the_finger_are_recognised),
        cmocka_unit_test(strange_words_are_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
