/* sitting: one run of a session from a command's options: recordings or a device, lines or JSON
 * or the screen, to the exit code.
 */
#ifndef SB_SITTING_H
#define SB_SITTING_H

#include "cli/args.h"
#include "cli/bench_front.h"

typedef struct {
    sb_input_options input;
    sb_texts takes;
    double pace; /* under 0 = not told */
    double timeout_s;
    bool plain, json, commands;
} sb_sitting_options;

#define SB_SITTING_UNTOLD                                                                          \
    { .pace = -1 }

/* Groups of the option table; their struct is sb_sitting_options. */
#define SB_SITTING_SOUND 3
extern const sb_option sb_sitting_sound[SB_SITTING_SOUND];
#define SB_SITTING_ANSWER 3
extern const sb_option sb_sitting_answer[SB_SITTING_ANSWER];

/* Whether the options go together and the recordings can be opened, before anything is written; 0
 * or the exit code. */
int sb_sitting_check(const sb_sitting_options *options);

typedef struct {
    const sb_sitting_options *options;
    const char *book; /* its path, for messages */
    sb_bench *bench;
    const sb_front *front; /* lines or JSON */
    const sb_lines *lines; /* what is typed */
    bool screen;           /* the screen in place of that */
    /* What is done before the session, NULL for nothing: once `trial`, without doing it, before
     * sound is opened, and once in earnest. 0 or the exit code. */
    int (*before)(void *context, bool trial);
    void *context;
    /* NULL, or live: whether all is in, so that it ends by itself. */
    bool (*enough)(const sb_bench *bench);
} sb_sitting;

/* Runs it to its end; 0 or the exit code with the failure reported. */
int sb_sitting_run(const sb_sitting *sitting);

#endif
