/* coils: what a meter at the lead says about which coils are on.
 *
 * Ohm's law for coils measured one by one: in parallel 1/R = sum of 1/R_i, in series R = sum of
 * R_i. A reading is compared with these for all coils of a position and for fewer, which is what
 * it reads when one is dead. A volume control of 250 kohm across the lead takes 5 % from 13 kohm
 * and the same in all readings takes part of that out; with the meter's own error that makes
 * SB_METER_PART (common practice, no source). Where two explanations lie within it of the
 * reading, neither is claimed.
 */
#ifndef SB_COILS_H
#define SB_COILS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_COILS_MAX  4
#define SB_METER_PART 0.05
#define SB_SHORT_OHM  100.0 /* no pickup's coil reads less: a short */

typedef enum {
    SB_COILS_PARALLEL, /* all of them */
    SB_COILS_SERIES,   /* all of them */
    SB_COILS_FEWER,    /* some, in parallel or one alone: `on` says which */
    SB_COILS_FEWER_SERIES,
    SB_COILS_OPEN, /* no way through */
    SB_COILS_SHORT,
    SB_COILS_UNCLEAR, /* `on` or `other` */
    SB_COILS_NEITHER  /* nothing of the kind reads so */
} sb_coils_verdict;

typedef struct {
    double parallel_ohm, series_ohm; /* of all: what is to be expected; series may be INFINITY */
    sb_coils_verdict verdict;
    unsigned on;    /* a bit a coil that sounds, bit 0 the first */
    unsigned other; /* UNCLEAR: the other explanation's */
    bool on_series, other_series;
} sb_coils;

/* single_ohm[0..n-1]: each coil alone, > 0, INFINITY where it is open; meter_ohm >= 0, INFINITY
 * for an open circuit. n from 2 to SB_COILS_MAX. Errors: SB_E_RANGE. */
SB_MUST_CHECK sb_status sb_coils_judge(const double single_ohm[], size_t n, double meter_ohm,
                                       sb_coils *out);

#endif
