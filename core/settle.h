/* settle: whether a new string holds its pitch yet.
 *
 * A new string creeps: its open pitch falls, fast at first and ever more slowly (new nylon
 * needs some ten hours: Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683, 2024). Over
 * the minute or so in which it is watched the fall is straight enough, so a straight line is
 * fitted to the open plucks since it was last tuned.
 */
#ifndef SB_SETTLE_H
#define SB_SETTLE_H

#include <stddef.h>

#define SB_SETTLE_PLUCKS 32

/* A fall that spoils an octave: over the half minute between an open and a fretted pluck it
 * comes to half of SB_TOLERANCE_CENTS. */
#define SB_SETTLE_CENTS_PER_MIN 1.0

/* A pitch this far above the one before was tuned, and the watch begins anew. */
#define SB_SETTLE_RETUNED_CENTS 3.0

/* Least scatter taken for a pluck's pitch: few plucks may agree by chance. */
#define SB_SETTLE_SCATTER_CENTS 0.15

typedef enum {
    SB_SETTLE_UNKNOWN, /* too few plucks, or over too short a time */
    SB_SETTLE_STRETCH, /* still falling: stretch it again, and tune */
    SB_SETTLE_SETTLED
} sb_settle_kind;

typedef struct {
    sb_settle_kind kind;
    double drift_cents_per_min, std_error; /* negative = falling; 0 with fewer than 3 plucks */
    size_t used;                           /* plucks since the last tuning */
} sb_settling;

/* The open plucks of one string, time_s rising, cents from any reference; the last
 * SB_SETTLE_PLUCKS at most are looked at. Values must be finite. */
sb_settling sb_settle_judge(const double time_s[], const double cents[], size_t n);

/* "stretch again", "settled"; "" for unknown; static storage. */
const char *sb_settle_text(sb_settle_kind kind);

/* The kind of that text; unknown for any other, and for NULL. */
sb_settle_kind sb_settle_named(const char *text);

#endif
