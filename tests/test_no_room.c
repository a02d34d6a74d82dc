/* A disk that is full or fails: the n-th change of a file by a command fails (write, sync,
 * truncation, unlink, rename, a file made), for every n, once and from then on. The command ends
 * with its line and an exit code for it, or as usual; the book is whole and holds all that was
 * there and all that was acknowledged; the next command works, and nothing is left lying about. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/support/child.h"

/* Of a command's changes, spread evenly; SB_EVERY=1 takes them all. SB_ROWS: test_no_memory.c. */
#define SOME 7

static const char readings[] =
    "0\t0\t0.2\n1\t2.1\t0.2\n3\t1.9\t0.2\n5\t1.7\t0.2\n7\t2\t0.2\n12\t4\t0.2\n";

static child_home home;
static child_end usual, end, look;

static const char *const commands[] = {
    "book add two --kind bass-4 --book book.db",
    "book add two --kind bass-4 --book new/er/book.db",
    "book edit one --strings E4,B3,G3,D3,A2,D2 --book book.db",
    "book remove one --yes --book book.db",
    "book import --book book.db more.jsonl",
    "survey one --string 3 --readings readings.tsv --svg neck.svg --force --book book.db",
    "bench one --json --book book.db --take @demo-1-E4.flac --changed relief --moved 2=0.5mm",
    "specs one relief=0.008in resistance-neck=6.87k screws=two --book book.db",
    "quiet one --take 1=hum.wav --book book.db",
    "taps one --order neck,bridge --take 1=taps.wav --meant 1=neck --book book.db",
    "balance one --take strings.wav --plucks 2 --book book.db",
    "restring pair --same --json --take @demo-6-E2.flac --book book.db",
    "recheck pair --take @demo-6-E2.flac --book book.db",
    "handover pair -o sheet.html --end --book book.db",
    "handover pair --text --book book.db",
    "handover pair --json -o sheet.json --book book.db",
};

static const char *const sheets[] = {"sheet.html", "sheet.json"};

#define COMMANDS (sizeof commands / sizeof *commands)
#define SHEETS   (sizeof sheets / sizeof *sheets)

/* --- what must hold ---------------------------------------------------------------------- */

static const char *judge_words(void) {
    static const char *const lines[] = {"the disk is full", "reading or writing the book failed",
                                        "the file could not be written",
                                        "the book cannot be opened or made", NULL};
    if (end.code == usual.code)
        return strcmp(end.err, usual.err) == 0 ? NULL : "a complaint, and no exit code for it";
    if (end.code != 74 && end.code != 73)
        return "neither the usual end nor exit code 73 or 74";
    for (const char *const *line = lines; *line; line++)
        if (strstr(end.err, *line) && child_count(end.err, "setback: ") == 1 &&
            child_count(end.err, "\n") == 2)
            return NULL;
    return "another complaint";
}

/* What a session told as saved, and what came into the book; new strings are a kind of their own.
 */
static const char *judge_told(const char *added) {
    static const char *const told[][3] = {
        {"\"event\":\"note\"", " pluck "},
        {"\"event\":\"reading\"", " reading "},
        {"\"event\":\"moved\"", " move "},
        {"\"event\":\"changed\"", " measured ", " strings "},
    };
    for (size_t i = 0; i < sizeof told / sizeof *told; i++)
        if (child_count(end.out, told[i][0]) >
            child_count(added, told[i][1]) + (told[i][2] ? child_count(added, told[i][2]) : 0))
            return "what was told as saved is not there";
    return NULL;
}

static const char *judge_book(const char *command, const char *before, const char *after,
                              const char *now) {
    bool session = strncmp(command, "bench", 5) == 0 || strncmp(command, "restring", 8) == 0;
    if (!now)
        return "the book is damaged";
    if (session)
        return strncmp(now, before, strlen(before)) == 0 ? judge_told(now + strlen(before))
                                                         : "something is lost";
    if (end.code == usual.code)
        return strlen(now) == strlen(after) ? NULL : "it said that all is well, but it is not";
    /* A change may have come to its end before the failure: none is kept by half. */
    return strcmp(now, before) == 0 || strlen(now) == strlen(after) ? NULL : "half of it was kept";
}

/* --- the runs ---------------------------------------------------------------------------- */

static bool made_anew(const char *command) {
    return strstr(command, "new/er") != NULL;
}

static char *book_now(const char *command) {
    return child_book(&home, made_anew(command) ? "new/er/book.db" : "book.db");
}

static void run(const char *command, const child_fault *fault) {
    assert_true(child_copy(&home, "kept.db", "book.db"));
    child_remove(&home, "new/er/book.db");
    child_remove(&home, "neck.svg");
    for (size_t i = 0; i < SHEETS; i++)
        child_remove(&home, sheets[i]);
    child_run(&home, command, fault, &end);
}

static const char *judge_after(const char *command) {
    bool anew = made_anew(command);
    child_run(&home,
              anew ? "book add three --kind ukulele --book new/er/book.db"
                   : "book add three --kind ukulele --book book.db",
              NULL, &look);
    return look.code == 0 ? NULL : "the next command fails";
}

/* A sheet whose visit could not be ended would have to be replaced by the next one. */
static const char *judge_sheets(void) {
    char path[CHILD_PATH_MAX];
    for (size_t i = 0; i < SHEETS; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", home.folder, sheets[i]);
        if (end.code != usual.code && access(path, F_OK) == 0)
            return "it failed, but its sheet is there";
    }
    return NULL;
}

static unsigned try_one(const char *command, const child_fault *fault, const char *before,
                        const char *after, size_t files) {
    run(command, fault);
    size_t left = child_files(&home);
    /* A change that was undone in memory may leave its journal: SQLite undoes it at the next look.
     */
    char *now = book_now(command);
    const char *wrong = judge_words();
    if (!wrong && !made_anew(command))
        wrong = judge_book(command, before, after, now);
    if (!wrong)
        wrong = judge_sheets();
    if (!wrong)
        wrong = judge_after(command);
    if (!wrong && left > files && child_files(&home) > files)
        wrong = "a file was left lying about";
    if (wrong)
        print_message("change %ld%s of `%s', errno %d: %s\nexit %d, it says:\n%s\n", fault->file,
                      fault->on ? " on" : "", command, fault->error, wrong, end.code, end.err);
    free(now);
    return wrong != NULL;
}

static void test_command(void **state) {
    const char *command = *state;
    const child_fault none = {.file = 0};
    if (!child_can_fail())
        skip();
    char *before = child_book(&home, "kept.db");
    run(command, &none);
    usual = end;
    assert_true(usual.reported);
    size_t files = child_files(&home);
    char *after = book_now(command);
    assert_true(before && after);
    long step = child_step(usual.changes, SOME);
    unsigned wrong = 0;
    for (long n = 1; n <= usual.changes; n += step) {
        const child_fault full = {.file = n, .error = ENOSPC, .on = true};
        const child_fault faulty = {.file = n, .error = EIO};
        wrong += try_one(command, &full, before, after, files);
        wrong += try_one(command, &faulty, before, after, files);
    }
    free(before);
    free(after);
    assert_int_equal(wrong, 0);
}

static int set_up(void **state) {
    (void)state;
    if (!child_can_fail())
        return 0;
    if (!child_home_make(&home) || !child_put(&home, "readings.tsv", readings) ||
        !child_furnish(&home, &end))
        return -1;
    child_run(&home,
              "bench pair --plain --book kept.db --take @demo-1-E4.flac --take @demo-6-E2.flac",
              NULL, &end);
    return end.code;
}

static int tear_down(void **state) {
    (void)state;
    if (child_can_fail())
        child_home_free(&home);
    return 0;
}

int main(void) {
    struct CMUnitTest tests[COMMANDS];
    memset(tests, 0, sizeof tests);
    for (size_t i = 0; i < COMMANDS; i++) {
        tests[i].name = commands[i];
        tests[i].test_func = test_command;
        tests[i].initial_state = (void *)(size_t)commands[i];
    }
    cmocka_set_test_filter(getenv("SB_ROWS"));
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
