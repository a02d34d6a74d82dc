/* frets: sorts the notes of one string to the frets that they were played at, by pitch.
 *
 * Every note may be the open string; all others are then so many cents above it and go to the
 * nearest fret. The one is taken for which the notes lie nearest to frets, fewest belong to none
 * and fewest to frets that were not asked for.
 */
#ifndef SB_FRETS_H
#define SB_FRETS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_FRETS_LAST     36
#define SB_FRET_NOTES_MAX 128
#define SB_FRET_REACH_CENTS                                                                        \
    45.0 /* how far a note may be from its fret, at most; and under half                           \
            way to the next */

typedef struct {
    double cents[SB_FRETS_LAST + 1]; /* of each fret above the open string, [0] = 0, rising */
    bool asked[SB_FRETS_LAST + 1];   /* [0] is taken as asked for */
    bool only_asked;                 /* a note at another fret belongs to none */
    int last;                        /* the highest fret there is, 1..SB_FRETS_LAST */
    const double *open_hz;           /* what the open string may be; within 150 cents */
    size_t n_open;                   /* 0 = not known */
} sb_fret_plan;

/* fret[i] receives the fret of hz[i], 0 = the open string, -1 = none of them; *open_hz the open
 * string's median. Errors: SB_E_RANGE (a value outside its domain, n > SB_FRET_NOTES_MAX),
 * SB_E_TOO_SHORT (no notes, or the open string alone), SB_E_UNDETERMINED (no note can be the
 * open string, or most then lie at no fret that was asked for). Written on success only. */
SB_MUST_CHECK sb_status sb_frets_sort(const double hz[], size_t n, const sb_fret_plan *plan,
                                      int fret[], double *open_hz);

#endif
