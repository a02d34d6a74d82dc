/* hands: a repairer's, at a simulated instrument: they tune, pluck and move saddles, each
 * with an error of its own.
 */
#ifndef SB_TESTS_HANDS_H
#define SB_TESTS_HANDS_H

#include <stdbool.h>
#include <stddef.h>

#include "tests/support/prng.h"
#include "tests/support/specimen.h"

/* Standard deviations of normal errors. */
typedef struct {
    prng rng;
    double move_mm;     /* of where a saddle comes to stand, beside its screw's play; 0 = they
                           move exactly as asked */
    double move_ratio;  /* what a saddle truly moves over what is thought: 1, but for a screw of
                           another thread, or one that stands askew */
    double pluck_cents; /* of a note from pluck to pluck, open or fretted */
    double ear_cents;   /* of the reading of a note */
    double tune_cents;  /* of an open string that was tuned */
} hands;

/* 0.1 mm, 1, 0.3 cents, 0.03 cents, 1.5 cents. */
hands hands_usual(uint64_t seed);

/* Hands and ears without error. */
hands hands_exact(void);

/* A note that was plucked. */
typedef struct {
    bool fretted;
    double hz;      /* what truly sounds */
    double read_hz; /* what an ear reads */
} hands_note;

/* Plucks a string open and at fret 12 in turn, n of each, out[2n]. */
void hands_pluck(hands *h, const specimen *f, size_t string, size_t n, hands_note out[]);

/* Tunes a string. */
void hands_tune(hands *h, specimen *f, size_t string);

/* Moves an end of a saddle by what was asked, as well as it can: to the eighth of a turn of a
 * screw, or to 0.1 mm by a ruler, or exactly. Returns what the repairer believes to have done. The
 * strings are then out of tune. */
double hands_move(hands *h, specimen *f, size_t saddle, size_t end, double asked_mm);

#endif
