/* rounds: an instrument set up in rounds of plucking, planning, moving and tuning again, by
 * numbers alone; who plans is what is compared. The truth is the simulated instrument's.
 */
#ifndef SB_TESTS_ROUNDS_H
#define SB_TESTS_ROUNDS_H

#include <stddef.h>
#include <stdint.h>

#include "tests/support/hands.h"
#include "tests/support/specimen.h"

#define ROUNDS_TRUE_CENTS 1.0 /* a string is true within this of 0 at fret 12 */
#define ROUNDS_NEAR_CENTS 0.05
#define ROUNDS_MOST       6 /* moves a saddle */

typedef enum {
    ROUNDS_RULE,     /* S ln2/1200 a cent, the reading rounded to a whole cent, until it reads 0 */
    ROUNDS_CALCULUS, /* core/saddle.h afresh each time, nothing learned, until within 1 cent */
    ROUNDS_PROGRAM,  /* core/progress.h and core/learn.h, as the session has it */
    ROUNDS_PLANNERS
} rounds_planner;

/* A name for a table. */
const char *rounds_name(rounds_planner planner);

typedef struct {
    rounds_planner planner;
    hands hands;   /* errors; its seed is not used */
    size_t plucks; /* open and fretted each, a string and round; as many again, twice at most,
                      where the program asks for it */
    uint64_t seed;
    size_t instruments;
} rounds_setting;

/* What came out; [k] is after k moves of the saddle, or fewer where it was left alone then. */
typedef struct {
    size_t strings, saddles;
    size_t moves; /* of saddles */
    size_t notes; /* plucked */
    size_t true_after[ROUNDS_MOST + 1];
    double squares, worst_cents; /* true error of the strings in the end */
    /* By how much the largest error on each saddle exceeds the least that it could be: */
    double beyond[ROUNDS_MOST + 1], most_beyond[ROUNDS_MOST + 1]; /* sum, and largest */
    size_t near[ROUNDS_MOST + 1];                                 /* by ROUNDS_NEAR_CENTS or less */
} rounds_result;

/* Sets up instruments of a kind and adds what came out. */
void rounds_run(const rounds_setting *setting, specimen_kind kind, rounds_result *out);

/* Counts how a saddle stands after so many moves of it; best_cents is the least that its
 * largest error can be. */
void rounds_count(rounds_result *out, const specimen *f, size_t saddle, double best_cents,
                  int moves);

/* Adds the counts of `more`. */
void rounds_add(rounds_result *to, const rounds_result *more);

/* Counts how its strings stand in the end. */
void rounds_count_end(rounds_result *out, const specimen *f, size_t saddle);

#endif
