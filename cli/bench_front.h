/* bench_front: what a session shows itself through: lines, JSON Lines or a screen.
 */
#ifndef SB_BENCH_FRONT_H
#define SB_BENCH_FRONT_H

#include <stdbool.h>
#include <stddef.h>

#include "cli/bench.h"
#include "cli/bench_source.h"

typedef struct {
    void *context;
    /* The session begins; once. */
    void (*begin)(void *context, const sb_bench *bench);
    void (*tell)(void *context, const sb_bench *bench, const sb_news *news);
    /* An order or a take that cannot be, in words; `subject` may be NULL. */
    void (*trouble)(void *context, const char *what, const char *subject);
    /* The next thing that was typed; false where there is none now. */
    bool (*typed)(void *context, const sb_bench *bench, char *line, size_t size);
    /* Called at each step; NULL where nothing is drawn. */
    void (*step)(void *context, const sb_bench *bench, const sb_source *source);
    /* Prints the state, or the help, when asked to. */
    void (*show)(void *context, const sb_bench *bench, bool help);
    /* The session ends; false when out of memory. */
    bool (*end)(void *context, const sb_bench *bench);
} sb_front;

/* Said once, where the first move is asked for. */
#define SB_BENCH_CAUTION                                                                           \
    "slacken a string before its saddle is moved, with your eyes protected; then tune it and "     \
    "pluck both notes again."

/* Lines for people, logs and screen readers, or JSON Lines (setback.bench/1), on standard
 * output. `listens`: what is typed on standard input is taken. */
typedef struct {
    bool listens, ended; /* ended: standard input has */
    char input[SB_ORDER_TEXT_MAX];
    size_t n;
    bool cautioned;
    bool failed;      /* out of memory */
    const char *what; /* the command that it is, NULL = bench */
} sb_lines;

sb_front sb_plain_front(sb_lines *lines);
sb_front sb_json_front(sb_lines *lines);

/* A caution as an event of setback.bench/1. */
void sb_json_caution(sb_lines *lines, const char *words);

/* The next whole line of standard input, without waiting; false where there is none. */
bool sb_lines_typed(void *lines, const sb_bench *bench, char *line, size_t size);

/* --- the loop ---------------------------------------------------------------------------- */

typedef struct {
    const sb_front *front;
    sb_bench *bench;
    sb_source *source;
    bool stays;             /* goes on when no recording is left, until told to quit */
    const sb_lines *typist; /* NULL, or whose standard input may end, so that nobody will tell */
    bool (*enough)(const sb_bench *bench); /* NULL, or live: whether all is in, so that it ends
                                              once nothing sounds */
    double timeout_s;                      /* 0 = none */
} sb_bench_run;

/* Runs the session to its end and returns the exit code, failures not reported yet: `status`
 * receives the book's where that is what failed. */
typedef struct {
    sb_source_state state;
    sb_book_status status;
    size_t bad_takes;   /* that could not be read */
    size_t empty_takes; /* in which no note was good */
    int signal;
} sb_bench_end;
sb_bench_end sb_bench_loop(const sb_bench_run *run);

#endif
