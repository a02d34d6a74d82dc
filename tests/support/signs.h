/* signs: what is heard of a simulated instrument's strings at a visit, sound or false, in the
 * figures that strings are suspected by.
 *
 * The partials are the string's (strung.h), pulled by the body and by a lump (lump.h), and
 * scattered by the hand; what an ear makes of them is the series' fit (audio/series.h).
 */
#ifndef SB_TESTS_SIGNS_H
#define SB_TESTS_SIGNS_H

#include "core/suspect.h"
#include "tests/support/prng.h"
#include "tests/support/specimen.h"

enum { SIGNS_PARTIALS = 16 };

/* What shapes an instrument's sound besides its strings, and what is wrong with these. */
typedef struct {
    double pulls[SPECIMEN_STRINGS][2][SIGNS_PARTIALS]; /* the body's, cents: open, at fret 12 */
    double beats[SPECIMEN_STRINGS];                    /* cents */
    double lump[SPECIMEN_STRINGS], lump_at;            /* as in lump.h */
} signs_body;

/* A body of its own; no string has a lump. */
signs_body signs_random_body(prng *rng);

/* A few plucks of a string (from 0), open and at fret 12. */
void signs_hear(const specimen *f, const signs_body *b, size_t string, prng *rng,
                sb_figure out[SB_SIGNS]);

/* The inharmonicity by gauge alone, as the book has it. */
sb_figure signs_expected(const specimen *f, specimen_kind kind, size_t string);

/* A season and some months of playing: the neck bends, the strings get dirty; all are tuned. */
void signs_time_passes(specimen *f, prng *rng);

#endif
