/* The patch reader on bytes made here and, where installed, on the Debian package's files. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/patch.h"

/* A patch of one layer with two notes of four samples each: 16 bit signed looped after the
 * third, and 8 bit unsigned not looped. */
enum { FIRST = 129 + 63 + 47, SECOND = FIRST + 96 + 8, SIZE = SECOND + 96 + 4 };

static void put(unsigned char *p, uint32_t value, int bytes) {
    for (int i = 0; i < bytes; i++)
        p[i] = (unsigned char)(value >> (8 * i));
}

static void make(unsigned char b[SIZE]) {
    const unsigned char wide[] = {0x00, 0x40, 0x00, 0x80, 0xff, 0x7f, 0x11, 0x11};
    const unsigned char narrow[] = {0x00, 0x80, 0xff, 0xc0};
    memset(b, 0, SIZE);
    memcpy(b, "GF1PATCH110", 11);
    b[82] = 1;
    b[129 + 22] = 1;
    b[129 + 63 + 6] = 2;
    memcpy(b + FIRST, "wide", 4);
    put(b + FIRST + 8, 8, 4);
    put(b + FIRST + 12, 6, 4);
    put(b + FIRST + 20, 45000, 2);
    put(b + FIRST + 30, 450000, 4);
    b[FIRST + 55] = 1 | 4;
    memcpy(b + FIRST + 96, wide, 8);
    memcpy(b + SECOND, "narrow!", 7);
    put(b + SECOND + 8, 4, 4);
    put(b + SECOND + 20, 22050, 2);
    put(b + SECOND + 30, 110500, 4);
    b[SECOND + 55] = 2;
    memcpy(b + SECOND + 96, narrow, 4);
}

static void test_reads_both_sample_formats(void **state) {
    (void)state;
    unsigned char bytes[SIZE];
    make(bytes);
    patch p;
    assert_true(patch_parse(bytes, SIZE, &p));
    assert_int_equal(p.n, 2);
    const patch_note *w = &p.notes[0], *v = &p.notes[1];
    assert_string_equal(w->name, "wide");
    assert_int_equal(w->n, 3);
    assert_true(w->rate_hz == 44100.0 && fabs(w->nominal_hz - 441.0) < 1e-9);
    assert_true(w->samples[0] == 0.5f && w->samples[1] == -1.0f);
    assert_true(w->samples[2] == 32767.0f / 32768.0f);
    assert_string_equal(v->name, "narrow!");
    assert_int_equal(v->n, 4);
    assert_true(v->rate_hz == 22050.0 && fabs(v->nominal_hz - 110.5) < 1e-9);
    assert_true(v->samples[0] == -1.0f && v->samples[1] == 0.0f && v->samples[3] == 0.5f);
    patch_free(&p);
    assert_int_equal(p.n, 0);
}

static void test_every_truncation_is_refused(void **state) {
    (void)state;
    unsigned char bytes[SIZE];
    make(bytes);
    for (size_t size = 0; size < SIZE; size++) {
        unsigned char *cut = malloc(size + 1); /* its own block, so that a sanitizer sees */
        patch p;
        memcpy(cut, bytes, size);
        assert_false(patch_parse(cut, size, &p));
        assert_int_equal(p.n, 0);
        free(cut);
    }
}

static void test_a_loop_beyond_the_data_is_refused(void **state) {
    (void)state;
    unsigned char bytes[SIZE];
    make(bytes);
    put(bytes + FIRST + 12, 9, 4);
    patch p;
    assert_false(patch_parse(bytes, SIZE, &p));
    assert_false(patch_read("/nonexistent", &p));
}

typedef struct {
    const char *name;
    double nominal_hz, seconds;
} known_note;

static void check_file(const char *path, const known_note known[], size_t n) {
    patch p;
    if (!patch_read(path, &p))
        skip();
    assert_int_equal(p.n, n);
    for (size_t i = 0; i < n; i++) {
        assert_string_equal(p.notes[i].name, known[i].name);
        assert_true(fabs(p.notes[i].nominal_hz - known[i].nominal_hz) < 0.1);
        assert_true(fabs((double)p.notes[i].n / 44100.0 - known[i].seconds) < 0.06);
    }
    patch_free(&p);
}

static void test_nylon_guitar(void **state) {
    (void)state;
    const known_note known[] = {{"e1", 82.4, 3.7},  {"a1", 110.0, 3.2}, {"d2", 146.8, 3.9},
                                {"g2", 196.0, 2.9}, {"b2", 246.9, 1.8}, {"e3", 329.6, 2.5},
                                {"a3", 440.0, 1.8}, {"d4", 590.7, 1.1}};
    check_file(PATCH_NYLON, known, sizeof known / sizeof *known);
}

static void test_steel_guitar(void **state) {
    (void)state;
    const known_note known[] = {{"e0", 80.8, 3.2},    {"g0", 98.0, 2.2},    {"d", 146.8, 3.5},
                                {"g_d5", 196.0, 1.8}, {"c_g5", 261.6, 2.6}, {"e_b5", 329.6, 2.5},
                                {"a_e5", 440.3, 2.0}, {"c_e8", 523.2, 1.6}, {"e_e12", 663.8, 1.7},
                                {"a_e17", 886.1, 1.8}};
    check_file(PATCH_STEEL, known, sizeof known / sizeof *known);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads_both_sample_formats),
        cmocka_unit_test(test_every_truncation_is_refused),
        cmocka_unit_test(test_a_loop_beyond_the_data_is_refused),
        cmocka_unit_test(test_nylon_guitar),
        cmocka_unit_test(test_steel_guitar),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
