/* necks: strings on necks with known faults, for the tests of the survey.
 *
 * A whole elastic string, written out here and sharing nothing with core/: exact straight
 * pieces nut - fret - saddle in side view, tension raised by EA times the strain, mass thinned
 * by it, bending stiffness at one clamped and one pinned end, the open string tuned (after
 * Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683, 2024, which see for each factor).
 * Nut and saddle of the sound neck stand where they make its own frets least out in squares,
 * found here by search; faults are counted from there.
 */
#ifndef SB_TESTS_NECKS_H
#define SB_TESTS_NECKS_H

#include <stdbool.h>
#include <stddef.h>

#include "tests/support/prng.h"

enum { NECKS_DEFAULT_FRETS = 9 };
extern const int necks_default_frets[NECKS_DEFAULT_FRETS]; /* 1 2 3 5 7 9 12 15 17 */

typedef struct {
    double scale_mm, kappa, stiffness; /* EA/T; sqrt(EI/T)/S */
    double slot_mm, saddle_height_mm;  /* a good slot, and the saddle, over the frets */
    double nut_mm, saddle_mm;          /* offsets of the sound neck, found by necks_settle */
} neck_string;

typedef struct {
    double nut_mm, saddle_mm; /* too far back */
    double slot_mm;           /* too high */
    int bad_fret;             /* 0 = none */
    double bad_cents;         /* how sharp that is */
} neck_fault;

/* A steel string at random: scale 620..660 mm, kappa 140..400, action 1.5..2.1 mm. */
neck_string necks_random(prng *rng);

/* Finds nut_mm and saddle_mm. */
void necks_settle(neck_string *string);

/* Error of a fret in cents with these faults, against the open string. */
double necks_error_cents(const neck_string *string, const neck_fault *fault, int fret);

#endif
