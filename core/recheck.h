/* recheck: a string's error now against what was kept of it.
 */
#ifndef SB_RECHECK_H
#define SB_RECHECK_H

#include <stdbool.h>

#include "core/learn.h"

typedef enum {
    SB_RECHECK_NOT_HEARD,
    SB_RECHECK_NOTHING_KEPT,
    SB_RECHECK_SAME,   /* the change is within twice its standard error */
    SB_RECHECK_BETTER, /* nearer to true */
    SB_RECHECK_WORSE,
    SB_RECHECK_CANNOT_TELL /* no change shows, but one of the tolerance might not either */
} sb_recheck_verdict;

typedef enum { SB_INSIDE_UNKNOWN, SB_INSIDE, SB_OUTSIDE } sb_inside;

typedef struct {
    sb_recheck_verdict verdict;
    double change_cents, std_error_cents; /* now less kept; 0 without both */
    double by_cents;                      /* what it is better or worse by, >= 0; else 0 */
    sb_inside inside;                     /* the tolerance; unknown where the reading's error is
                                             over half of it, nothing was heard, or it cannot be
                                             told whether a compromise is no worse */
} sb_recheck;

/* Compares two readings; std_error 0 = none. `compromise`: it was left out of tolerance by itself,
 * on a saddle that stood best for all its strings; it then counts as inside while it is no worse
 * than kept. tolerance_cents > 0. */
sb_recheck sb_recheck_compare(sb_error_reading now, sb_error_reading was, double tolerance_cents,
                              bool compromise);

/* "same", "cannot tell", ...; static storage. */
const char *sb_recheck_text(sb_recheck_verdict verdict);

#endif
