/* kill -9 in a session: what the session told as saved is in the book when it is opened again,
 * and the book is whole. Killed at every change of a file, of which a write is then half done, and
 * at random moments. SB_KILLS=1000 sets how many of those. */
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/support/child.h"
#include "tests/support/prng.h"

#define KILLS 16
#define SOME  12 /* changes of a session; SB_EVERY=1 takes them all */
#define WORDS 12 /* notes in a session, each with words of its own */

static const char session[] = "bench one --json --commands --book book.db --take @demo-1-E4.flac";

static child_home home;
static child_end end;
static char orders[2000];

static void make_orders(void) {
    size_t used = 0;
    for (int i = 0; i < WORDS; i++) {
        used += (size_t)snprintf(orders + used, sizeof orders - used, "note words-%02d.\n", i);
        used += (size_t)snprintf(orders + used, sizeof orders - used,
                                 i % 2 ? "changed relief\n" : "moved 2=0.%d back\n", 1 + i % 9);
    }
    (void)snprintf(orders + used, sizeof orders - used, "quit\n");
}

static pid_t begin(const child_fault *fault) {
    int ends[2];
    assert_true(child_copy(&home, "kept.db", "book.db"));
    child_remove(&home, "book.db-journal");
    assert_int_equal(pipe(ends), 0);
    pid_t pid = child_start(&home, session, fault, ends[0], -1);
    ssize_t n = write(ends[1], orders, strlen(orders)); /* less than a pipe holds */
    assert_int_equal(n, strlen(orders));
    (void)close(ends[0]);
    (void)close(ends[1]);
    return pid;
}

/* Of lines that came out whole. */
static size_t told(const char *event) {
    char *last = strrchr(end.out, '\n');
    if (last)
        last[1] = '\0';
    return last ? child_count(end.out, event) : 0;
}

/* NULL, or what is wrong. A line is printed after its event was committed: of each kind at most
 * the event under way is in the book and was not told. */
static const char *judge(const char *before, const char *now) {
    static const char *const kinds[][2] = {{"\"event\":\"note\"", " pluck "},
                                           {"\"event\":\"reading\"", " reading "},
                                           {"\"event\":\"moved\"", " move "},
                                           {"\"event\":\"changed\"", " measured "},
                                           {"\"event\":\"noted\"", "words-"}};
    if (!now)
        return "the book is damaged";
    if (strncmp(now, before, strlen(before)) != 0)
        return "what was there before is lost";
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (told(kinds[i][0]) > child_count(now, kinds[i][1]))
            return "what was told as saved is lost";
    for (size_t i = 0; i < told("\"event\":\"noted\""); i++) {
        char words[40];
        (void)snprintf(words, sizeof words, "words-%02zu.", i);
        if (!strstr(now, words))
            return "the words of a note are lost";
    }
    return NULL;
}

/* The program first, then SQLite alone. */
static bool is_lost(const char *before, const char *what, long n) {
    static child_end export;
    child_run(&home, "book export --book book.db", NULL, &export);
    char *now = child_book(&home, "book.db");
    const char *wrong = judge(before, now);
    if (!wrong && export.code != 0)
        wrong = "the program cannot read the book";
    if (!wrong && now && child_count(export.out, "\n{\"event\"") != 1 + child_count(now, "\n"))
        wrong = "the program does not read all of the book";
    if (wrong)
        print_message("killed at %s %ld: %s\n%s", what, n, wrong, end.out);
    free(now);
    return wrong != NULL;
}

static void test_unharmed(void **state) {
    (void)state;
    if (!child_can_fail())
        skip();
    const child_fault none = {.die = 0};
    child_wait(&home, begin(&none), &end);
    char *now = child_book(&home, "book.db");
    assert_non_null(now);
    assert_int_equal(end.code, 0);
    assert_int_equal(told("\"event\":\"noted\""), WORDS);
    assert_int_equal(child_count(now, "words-"), WORDS);
    assert_true(told("\"event\":\"note\"") > 3);
    assert_true(told("\"event\":\"reading\"") > 0);
    free(now);
}

static void test_killed_at_each_change(void **state) {
    (void)state;
    if (!child_can_fail())
        skip();
    const child_fault none = {.die = 0};
    char *before = child_book(&home, "kept.db");
    child_wait(&home, begin(&none), &end);
    assert_true(end.reported && end.changes > 100);
    long all = end.changes, step = getenv("SB_EVERY") ? 1 : 1 + all / SOME;
    unsigned lost = 0;
    for (long n = 1; n <= all; n += step) {
        const child_fault fault = {.die = n};
        child_wait(&home, begin(&fault), &end);
        assert_int_equal(end.code, 128 + SIGKILL);
        lost += is_lost(before, "change", n);
    }
    free(before);
    assert_int_equal(lost, 0);
}

static double clock_s(void) {
    struct timespec now = {0, 0};
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void sleep_s(double seconds) {
    struct timespec time = {.tv_nsec = (long)(1e9 * seconds)};
    (void)nanosleep(&time, NULL);
}

static void test_killed_at_random(void **state) {
    (void)state;
    if (!child_can_fail())
        skip();
    prng rng = prng_seeded(20240611);
    const char *wanted = getenv("SB_KILLS");
    long kills = wanted ? strtol(wanted, NULL, 10) : KILLS, killed = 0, told_of = 0;
    char *before = child_book(&home, "kept.db");
    unsigned lost = 0;
    double whole_s = clock_s();
    child_wait(&home, begin(NULL), &end);
    whole_s = fmin(0.9, clock_s() - whole_s);
    for (long i = 0; i < kills; i++) {
        pid_t pid = begin(NULL);
        sleep_s(prng_uniform(&rng, 0.0, whole_s));
        (void)kill(pid, SIGKILL);
        child_wait(&home, pid, &end);
        killed += end.code == 128 + SIGKILL;
        told_of += (long)told("\"event\":");
        lost += is_lost(before, "moment", i);
    }
    free(before);
    print_message(
        "%ld sessions, %ld killed before their end, %ld events told, %u books lost some\n", kills,
        killed, told_of, lost);
    assert_int_equal(lost, 0);
    assert_true(killed > kills / 4 && told_of > kills);
}

static int set_up(void **state) {
    (void)state;
    make_orders();
    if (!child_can_fail())
        return 0;
    if (!child_home_make(&home))
        return -1;
    child_run(&home, "book add one --kind electric --book kept.db", NULL, &end);
    return end.code;
}

static int tear_down(void **state) {
    (void)state;
    if (child_can_fail())
        child_home_free(&home);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_unharmed),
        cmocka_unit_test(test_killed_at_each_change),
        cmocka_unit_test(test_killed_at_random),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
