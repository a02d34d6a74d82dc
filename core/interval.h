/* interval: from several plucks, open and fretted, to one interval error.
 *
 * Each pluck is a point (time, cents, standard error). Plucks of a kind are combined by
 * inverse variance; scatter beyond the standard errors widens them (Birge ratio, Phys.
 * Rev. 40, 207, 1932); a pluck far from the rest is named and left out. Where open notes
 * were played before and after the fretted ones, a common linear drift of the string
 * (it is still stretching) is fitted with the two levels and taken out.
 */
#ifndef SB_INTERVAL_H
#define SB_INTERVAL_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_MAX_PLUCKS 64 /* of open and fretted together */

typedef struct {
    double time_s;          /* when it was plucked, any origin common to all */
    double hz;              /* > 0 */
    double std_error_cents; /* > 0 */
    bool fretted;
    bool outlier; /* set by sb_interval_combine */
} sb_pluck;

typedef struct {
    double interval_cents;     /* what a true interval would be: 100 per fret, equal temperament */
    double hand_scatter_cents; /* least scatter assumed between plucks, >= 0; normally 0 */
} sb_interval_options;

typedef struct {
    double open_hz, fretted_hz;                           /* at the same moment, drift taken out */
    double open_std_error_cents, fretted_std_error_cents; /* scatter included */
    size_t n_open, n_fretted;                             /* plucks used */
    double error_cents; /* fretted over open, less interval_cents; sharp positive */
    double std_error_cents;
    bool drift_fitted;          /* the plucks' order lets drift be told from the interval */
    bool drift_significant;     /* it is beyond twice its standard error and was taken out */
    double drift_cents_per_min; /* positive = rising; 0 where not fitted */
    double drift_std_error;     /* cents per minute */
} sb_interval;

/* Combines plucks[0..n-1] in any order and marks outliers in place. At least one open and
 * one fretted pluck are needed. Outliers are sought only among three or more of a kind:
 * a pluck beyond max(4 robust standard deviations, 4 of its own standard errors, 1 cent)
 * of the median of its kind.
 * Errors: SB_E_TOO_SHORT (a kind is missing), SB_E_RANGE (a value outside its domain, or
 * n > SB_MAX_PLUCKS). On error nothing is written, marks included. */
SB_MUST_CHECK sb_status sb_interval_combine(sb_pluck plucks[], size_t n,
                                            const sb_interval_options *options, sb_interval *out);

/* Sorts a take into open and fretted plucks by pitch: finds the two groups whose interval
 * is nearest interval_cents and sets `fretted`. With expected_open_hz > 0 the open group
 * must lie within 150 cents of it. `kind[i]` receives 0 = open, 1 = fretted, -1 = neither
 * (another string, or a misread): those take no part. hz[0..n-1] > 0.
 * Errors: SB_E_TOO_SHORT (n == 0, or all one pitch: *only_kind then says which of the two it is,
 * 0 or 1, by expected_open_hz, or -1 where that cannot be told),
 * SB_E_UNDETERMINED (two pitches, but their interval is more than 150 cents from interval_cents).
 */
SB_MUST_CHECK sb_status sb_interval_sort(const double hz[], size_t n, double interval_cents,
                                         double expected_open_hz, int kind[], int *only_kind);

#endif
