/* compromise: one saddle under several strings.
 *
 * Each string wants the saddle in its own place; a shared saddle can only stand where the
 * errors that remain are least. The place of a straight saddle is position + slope *
 * across, in mm of move, positive = back, away from the nut. What remains of string i is
 *     e_i = cents_per_mm_i (needed_i - place_i),
 * sharp positive: the saddle then stands too far forward for it. This is the first order
 * of sb_saddle_error_after about the string's own optimum; 0.6 mm from it, at 647.7 mm, it
 * gives 1.604 cents where the length ratio alone gives 1.587 and 1.582: no matter to where
 * the saddle should stand, but sb_saddle_error_after is the one to predict a reading by.
 *
 * Two ways to choose, both exact and within the travel:
 *   LARGEST  the largest weighted error is made as small as it can be: a linear program in
 *            two numbers and the error (for a slanted saddle without limits the optimum
 *            alternates between three strings: Chebyshev; e.g. Cheney, Introduction to
 *            Approximation Theory, ch. 1-2, 1966, from memory). Where many places share
 *            that largest error, the one among them with the least sum of squares.
 *   SQUARES  the least sum of squared weighted errors (Anderson & Beausoleil, J. Acoust.
 *            Soc. Am. 156(1), 683, 2024: the mean of the strings' own optima).
 */
#ifndef SB_COMPROMISE_H
#define SB_COMPROMISE_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_MAX_SHARED 24 /* strings on one saddle */

typedef enum {
    SB_SHAPE_FLAT, /* moves as a whole */
    SB_SHAPE_SLANT /* adjustable at both ends: a slope besides */
} sb_saddle_shape;

typedef enum { SB_FIT_LARGEST, SB_FIT_SQUARES } sb_compromise_fit;

typedef struct {
    double needed_mm;    /* the move that would make this string true, as sb_saddle_move has
                            it; within 1 m */
    double across_mm;    /* its place across the bridge, any origin; within 1 m */
    double cents_per_mm; /* how fast its error falls as the saddle goes back; 1e-9 .. 1e9.
                            At the 12th fret SB_CENTS_PER_LN / scale_mm, or as learned */
    double weight; /* 1e-9 .. 1e9; 1 for all unless some count for more: a player's priority, or
                      one over the reading's standard error */
} sb_shared_string;

/* How far one end of a saddle can go, mm of move: least <= move <= most; least is negative
 * where it can go forward. */
typedef struct {
    double across_mm; /* where this end's adjustment sits, on the strings' scale */
    double least_mm, most_mm;
} sb_travel;

typedef struct {
    sb_saddle_shape shape;
    sb_compromise_fit fit;
    bool limited;      /* `ends` hold; otherwise they are not looked at */
    sb_travel ends[2]; /* infinite where one way is free; a flat saddle must meet both */
} sb_compromise_options;

typedef struct {
    double position_mm;                    /* the saddle's move where across_mm is 0 */
    double slope;                          /* mm of move per mm across; 0 for a flat saddle */
    double remaining_cents[SB_MAX_SHARED]; /* of each string, signed, in the order given */
    double worst_cents;                    /* largest size among them, weights aside */
    double rms_cents;                      /* root mean square, weights aside */
    bool at_limit;                         /* an end stands at its travel's limit */
} sb_compromise;

/* Places a saddle under strings[0..n-1]. A slope that the strings do not determine (one
 * string, or all at one place across) is the least that the travel allows.
 * Errors: SB_E_TOO_SHORT (n == 0), SB_E_RANGE (n > SB_MAX_SHARED, a value outside its domain
 * or not finite, travel that leaves no place). On error nothing is written. */
SB_MUST_CHECK sb_status sb_compromise_place(const sb_shared_string strings[], size_t n,
                                            const sb_compromise_options *options,
                                            sb_compromise *out);

#endif
