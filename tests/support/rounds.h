/* rounds: an instrument set up in rounds of plucking, planning, moving and tuning again, by
 * numbers alone; who plans is what is compared. The truth is the simulated instrument's.
 */
#ifndef SB_TESTS_ROUNDS_H
#define SB_TESTS_ROUNDS_H

#include <stddef.h>
#include <stdint.h>

#include "tests/support/fretted.h"
#include "tests/support/hands.h"

#define ROUNDS_TRUE_CENTS 1.0 /* a string is true within this of 0 at fret 12 */
#define ROUNDS_MOST       6   /* moves a saddle */

typedef enum {
    ROUNDS_RULE,     /* S ln2/1200 a cent, the reading rounded to a whole cent, until it reads 0 */
    ROUNDS_CALCULUS, /* core/saddle.h afresh each time, nothing learned, until within 1 cent */
    ROUNDS_LEARNER,  /* core/learn.h */
    ROUNDS_PLANNERS
} rounds_planner;

const char *rounds_name(rounds_planner planner);

typedef struct {
    rounds_planner planner;
    hands hands;   /* errors; its seed is not used */
    size_t plucks; /* open and fretted each, a round; as many again, twice at most, where the
                      learner cannot tell */
    uint64_t seed;
    size_t instruments;
} rounds_setting;

/* What came out for instruments with a saddle a string. */
typedef struct {
    size_t strings;
    size_t true_after[ROUNDS_MOST + 1]; /* after so many moves or fewer, [0] before any */
    size_t moves, notes;                /* notes plucked */
    double squares;                     /* of the true error in the end */
    double worst_cents;
} rounds_single;

/* Adds instruments of a kind. */
void rounds_run_single(const rounds_setting *setting, fretted_kind kind, rounds_single *out);

/* What came out for shared saddles: how far the largest error on one is from the least that
 * it could be, in cents. */
typedef struct {
    size_t saddles;
    double sum[ROUNDS_MOST + 1], worst[ROUNDS_MOST + 1]; /* after so many moves or fewer */
    size_t within[ROUNDS_MOST + 1];                      /* of ROUNDS_SHARED_CENTS */
    size_t moves;
} rounds_shared;

#define ROUNDS_SHARED_CENTS 0.05

void rounds_run_shared(const rounds_setting *setting, fretted_kind kind, rounds_shared *out);

#endif
