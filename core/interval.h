/* interval: from several plucks, open and fretted, to one interval error.
 *
 * Each pluck is a point (time, cents, standard error). Plucks of a kind are combined by
 * inverse variance. Where they scatter beyond their standard errors (Birge ratio over 1:
 * R. T. Birge, Phys. Rev. 40, 207, 1932), a scatter common to all is added in quadrature
 * to each standard error, the one that brings the ratio back to 1 (R. C. Paule and
 * J. Mandel, J. Res. Natl. Bur. Stand. 87, 377, 1982): the hand's scatter does not shrink
 * with the reading's error, and Birge's own factor would leave a pair's mean to whichever
 * of the two claims the smaller error. A pair's mean so gets its half-difference.
 *
 * A pluck far from the rest is named and left out. Where open and fretted notes were played
 * in turn, a common linear drift of the string (it is still stretching) is fitted with the
 * two levels and taken out. Where one kind was played wholly before the other, a drift that
 * shows within the kinds cannot be told from the interval: what it would come to between
 * them widens the standard error instead. Plucks of two separate recordings have no common clock:
 * give them all the same time, and no drift is sought.
 */
#ifndef SB_INTERVAL_H
#define SB_INTERVAL_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_MAX_PLUCKS 64 /* of open and fretted together */

/* Scatter assumed between plucks where a drift fit leaves nothing to tell scatter by, as
 * with one fretted note between two open ones: a careful hand's (common practice, no
 * source). */
#define SB_UNSEEN_SCATTER_CENTS 0.3

/* The string is tracked through a take by pitch up to this far from where it should be. */
#define SB_MAX_DETUNE_CENTS 150.0

typedef struct {
    double time_s;          /* when it was plucked, any origin common to all; within 1e9 s */
    double hz;              /* 1e-3 .. 1e6 */
    double std_error_cents; /* > 0 */
    /* The part of it, 0 to all, that a further pluck of the note may repeat: a glide's shape, the
     * plane that is taken for the string's. It does not shrink with the number of plucks. */
    double common_std_error_cents;
    bool fretted;
    bool outlier; /* set by sb_interval_combine */
} sb_pluck;

typedef struct {
    double interval_cents;     /* what a true interval would be: 100 per fret, equal
                                  temperament; within 12000 */
    double hand_scatter_cents; /* least scatter assumed between plucks, 0 .. 12000;
                                  normally 0 */
} sb_interval_options;

typedef struct {
    double open_hz, fretted_hz;                           /* at the same moment, drift taken out */
    double open_std_error_cents, fretted_std_error_cents; /* scatter included */
    size_t n_open, n_fretted;                             /* plucks used */
    double error_cents;         /* fretted over open, less interval_cents; sharp positive */
    double std_error_cents;     /* with a drift taken out not the root sum of the two above,
                                   which then share the drift's error */
    bool drift_fitted;          /* the plucks' order lets drift be told from the interval: neither
                                   kind was played wholly before the other */
    bool drift_significant;     /* it is beyond twice its standard error (or Student's 95 % point,
                                   where the scatter had to be learned from few plucks) and was
                                   taken out */
    double drift_cents_per_min; /* positive = rising; 0 where not fitted */
    double drift_std_error;     /* cents per minute */
} sb_interval;

/* Combines plucks[0..n-1] in any order and marks outliers in place. At least one open and
 * one fretted pluck are needed. Outliers are sought only among three or more of a kind:
 * a pluck beyond max(4 robust standard deviations, 4 of its own standard errors, 1 cent)
 * of the median of its kind, a drift that the others show allowed for. The robust standard
 * deviation comes from the absolute deviations of both kinds, or of the kind alone where they
 * are larger; with few plucks more than 4 of them are asked for. So chance costs a pluck in
 * under 1 of 100 takes of four to eight plucks that scatter by 0.3 cents, in 3 to 20 of 100
 * at 2 cents (simulated).
 * Errors: SB_E_TOO_SHORT (a kind is missing), SB_E_RANGE (a value outside its domain or not
 * finite, or n > SB_MAX_PLUCKS). On error nothing is written, marks included. */
SB_MUST_CHECK sb_status sb_interval_combine(sb_pluck plucks[], size_t n,
                                            const sb_interval_options *options, sb_interval *out);

/* Sorts a take into open and fretted plucks by pitch: notes within 40 cents of a neighbour
 * form a group; of all pairs of groups within SB_MAX_DETUNE_CENTS of interval_cents apart, it
 * takes the one that best joins a small error to few notes left over. With
 * expected_open_hz > 0 the open group must lie within SB_MAX_DETUNE_CENTS of it.
 * `kind[i]` receives 0 = open, 1 = fretted, -1 = neither (another string, or a misread):
 * those take no part. hz[0..n-1] > 0; interval_cents >= 50.
 * Errors: SB_E_TOO_SHORT (n == 0, or all one pitch: *only_kind then says which of the two it is,
 * 0 or 1, by expected_open_hz, or -1 where that cannot be told),
 * SB_E_UNDETERMINED (several pitches, but no two that could be the open and the fretted note),
 * SB_E_RANGE (a value outside its domain, or n > SB_MAX_PLUCKS). kind[] is written on
 * success only, *only_kind with SB_E_TOO_SHORT only. */
SB_MUST_CHECK sb_status sb_interval_sort(const double hz[], size_t n, double interval_cents,
                                         double expected_open_hz, int kind[], int *only_kind);

#endif
