/* child: runs the program under test, `setback` beside the folder of the test, as its user would,
 * with faults put into it by tests/preload/interpose.c. For glibc on Linux without sanitizers;
 * elsewhere child_can_fail says no.
 */
#ifndef SB_TESTS_CHILD_H
#define SB_TESTS_CHILD_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#define CHILD_WORDS    32
#define CHILD_OUT_MAX  400000
#define CHILD_LIMIT_S  30 /* after which it is killed */
#define CHILD_PATH_MAX 256

/* A scratch folder, which is its HOME and working directory, and what it is run with. */
typedef struct {
    char folder[64];
    char program[CHILD_PATH_MAX], interposer[CHILD_PATH_MAX];
} child_home;

typedef struct {
    long alloc, file; /* which one fails, from 1; 0 = none */
    int error;        /* the errno of a change that fails */
    bool on;          /* all after it fail, too */
    long die;         /* at which change it is killed; 0 = none */
} child_fault;

typedef struct {
    int code; /* its exit code, or 128 and the signal */
    char out[CHILD_OUT_MAX], err[4096];
    size_t n_out;
    bool reported; /* it came to the end of main */
    long allocations, changes, held;
    char failed_for[CHILD_PATH_MAX]; /* the file of the code whose allocation failed, or "-" */
} child_end;

/* Whether faults can be put into a program here. */
bool child_can_fail(void);

/* In $TMPDIR, or else in memory. False where there is no folder or no program. Free with
 * child_home_free. */
bool child_home_make(child_home *home);
void child_home_free(child_home *home);

/* Removes a file of the home, or copies one; what is not there is removed already. */
void child_remove(const child_home *home, const char *name);
bool child_copy(const child_home *home, const char *from, const char *to);

/* Makes a file of a text. */
bool child_put(const child_home *home, const char *name, const char *text);

/* Runs one of the tools beside the test, such as mksignal, in the home. */
bool child_tool(const child_home *home, const char *words);

/* How many files are in the home, hidden ones too, beside those that running left. */
size_t child_files(const child_home *home);

/* The step that takes about `some` of `all`; $SB_EVERY where it is set. */
long child_step(long all, long some);

/* Starts the program on words divided by spaces; "@" in front of one stands for the folder of
 * fixtures. `input` is a descriptor, its standard input, or -1 for none; `output` takes its
 * standard output, or -1 for a file that child_wait reads. -1 where it cannot be started. */
pid_t child_start(const child_home *home, const char *words, const child_fault *fault, int input,
                  int output);

/* Waits for its end and takes in what it left. */
void child_wait(const child_home *home, pid_t pid, child_end *end);

/* Both, without input. */
void child_run(const child_home *home, const char *words, const child_fault *fault, child_end *end);

/* Puts into it what many commands need: hum.wav, taps.wav and strings.wav; the book kept.db with
 * the instruments "one" and "pair"; and more.jsonl, a book with a third. */
bool child_furnish(const child_home *home, child_end *end);

/* All that a book holds but the times, in its order, to be freed, read with SQLite alone; NULL
 * where the file is no whole book ("PRAGMA integrity_check"). */
char *child_book(const child_home *home, const char *name);

/* How many times a part stands in a text. */
size_t child_count(const char *text, const char *part);

#endif
