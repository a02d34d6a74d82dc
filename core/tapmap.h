/* tapmap: which pickup sounds in which position of the selector, from taps on each, and how
 * that differs from what the selector is meant to do.
 *
 * A tap on a pickup that is not connected still comes through the wood to those that are, so
 * that dead is a matter of level: against the loudest pickup of all, live is down to weak_db,
 * dead from dead_db on or not heard at all, weak between (common practice, no source).
 * Pickups that are meant to sound together share the load: of k like ones in parallel each
 * is at 1/k of what it gives alone (superposition of k equal sources with equal resistance),
 * so that 20 log10(k) dB are allowed for.
 */
#ifndef SB_TAPMAP_H
#define SB_TAPMAP_H

#include <stdbool.h>
#include <stddef.h>

#define SB_TAP_PICKUPS   8
#define SB_TAP_POSITIONS 12
#define SB_TAP_FINDINGS  (SB_TAP_PICKUPS * SB_TAP_POSITIONS + 1)
#define SB_TAP_WEAK_DB   (-12.0)
#define SB_TAP_DEAD_DB   (-24.0)

typedef enum { SB_TAP_UNTRIED, SB_TAP_LIVE, SB_TAP_WEAK, SB_TAP_DEAD } sb_tap_verdict;

/* "live"; static storage. */
const char *sb_tap_verdict_text(sb_tap_verdict verdict);

/* One pickup in one position. */
typedef struct {
    bool tried;
    bool heard;          /* else there were no taps in the sound */
    double level_dbfs;   /* of heard ones */
    double std_error_db; /* 0 = not known */

    /* By sb_tapmap_judge. */
    double relative_db; /* to the loudest of all; of heard ones */
    sb_tap_verdict verdict;
    bool sure; /* it lies more than twice its error from the nearest limit */
} sb_tap_cell;

typedef struct {
    size_t n_positions, n_pickups;
    sb_tap_cell cell[SB_TAP_POSITIONS][SB_TAP_PICKUPS];
    bool has_meant[SB_TAP_POSITIONS]; /* what is meant is known */
    bool meant[SB_TAP_POSITIONS][SB_TAP_PICKUPS];
    double weak_db, dead_db; /* limits; dead_db < weak_db < 0 */
} sb_tapmap;

/* Fills in what is judged; false where nothing was heard anywhere. */
bool sb_tapmap_judge(sb_tapmap *map);

typedef enum {
    SB_TAP_REVERSED,      /* all is as meant once the positions are counted from the other end */
    SB_TAP_EXCHANGED,     /* all is as meant once `pickup` and `other` change names */
    SB_TAP_PICKUP_DEAD,   /* `pickup` is dead wherever it is meant to sound */
    SB_TAP_PICKUP_WEAK,   /* the same, weak */
    SB_TAP_POSITION_DEAD, /* nothing sounds in `position`, and something is meant to */
    SB_TAP_MISSING,       /* `pickup` is dead in `position` and meant to sound there */
    SB_TAP_FAINT,         /* it is weak there and meant to sound */
    SB_TAP_EXTRA,         /* it sounds there and is not meant to */
    SB_TAP_LEAKS          /* it sounds weakly there and is not meant to */
} sb_tap_trouble;

typedef struct {
    sb_tap_trouble trouble;
    size_t position, pickup, other; /* as far as the trouble speaks of them */
} sb_tap_finding;

/* Where the judged map and what is meant disagree, the general before the single; returns how
 * many, 0 = none. What a general finding explains is not listed again. Positions without
 * `has_meant` and cells that were not tried say nothing. */
size_t sb_tapmap_compare(const sb_tapmap *map, sb_tap_finding findings[SB_TAP_FINDINGS]);

#endif
