/* The recordings kept in fixtures/ are those that mkfixtures makes: to one step of their 16
 * bits, since sin and exp may differ in the last bit from one libm to another. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sndfile.h>

#include "tests/support/fixtures.h"

enum { LINE_LENGTH = 256 };

static const char *folder = "fixtures";

static FILE *open_truth(void) {
    char path[LINE_LENGTH];
    (void)snprintf(path, sizeof path, "%s/truth.tsv", folder);
    FILE *f = fopen(path, "r");
    if (f == NULL)
        fail_msg("cannot read '%s'", path);
    return f;
}

static void test_truth_table_is_the_recipe(void **state) {
    (void)state;
    FILE *f = open_truth();
    char got[LINE_LENGTH], want[LINE_LENGTH];
    size_t heading = strlen(fixtures_heading());
    for (const char *h = fixtures_heading(); heading > 0;
         heading -= strlen(got), h += strlen(got)) {
        assert_non_null(fgets(got, sizeof got, f));
        assert_memory_equal(got, h, strlen(got));
    }
    for (size_t i = 0; i < fixtures_count(); i++) {
        const fixture known = fixtures_get(i);
        fixtures_line(&known, want, sizeof want);
        assert_non_null(fgets(got, sizeof got, f));
        got[strcspn(got, "\n")] = '\0';
        assert_string_equal(got, want);
    }
    assert_null(fgets(got, sizeof got, f));
    fclose(f);
}

static void check_sound(const char *path, const short want[], size_t n) {
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (file == NULL)
        fail_msg("cannot read '%s'", path);
    assert_int_equal(info.samplerate, FIXTURE_RATE_HZ);
    assert_int_equal(info.channels, 1);
    assert_int_equal(info.frames, n);
    short *got = calloc(n, sizeof *got);
    assert_non_null(got);
    assert_int_equal(sf_read_short(file, got, (sf_count_t)n), n);
    for (size_t k = 0; k < n; k++)
        if (abs(got[k] - want[k]) > 1)
            fail_msg("%s: sample %zu is %d, the recipe makes %d", path, k, got[k], want[k]);
    free(got);
    sf_close(file);
}

static void test_sounds_are_the_recipe(void **state) {
    (void)state;
    for (size_t i = 0; i < fixtures_count(); i++) {
        const fixture f = fixtures_get(i);
        char path[LINE_LENGTH];
        size_t n = 0;
        short *want = fixtures_render(i, &n);
        assert_non_null(want);
        (void)snprintf(path, sizeof path, "%s/%s", folder, f.file);
        check_sound(path, want, n);
        free(want);
    }
}

int main(int argc, char *argv[]) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_truth_table_is_the_recipe),
        cmocka_unit_test(test_sounds_are_the_recipe),
    };
    if (argc > 1)
        folder = argv[1];
    return cmocka_run_group_tests(tests, NULL, NULL);
}
