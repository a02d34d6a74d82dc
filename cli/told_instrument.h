/* told_instrument: an instrument described, or what the book says of it corrected, by options.
 */
#ifndef SB_TOLD_INSTRUMENT_H
#define SB_TOLD_INSTRUMENT_H

#include "cli/args.h"
#include "cli/book.h"

#define SB_NOT_TOLD (-1) /* of a choice */

typedef struct {
    const char *owner, *kind, *strings, *saddles; /* NULL = not told */
    sb_numbers scale_mm, travel_mm;
    double spacing_mm, thread_mm; /* 0 = not told */
    int frets, way, shape, screw;
} sb_told_instrument;

#define SB_TOLD_NOTHING                                                                            \
    (sb_told_instrument) {                                                                         \
        .frets = SB_NOT_TOLD, .way = SB_NOT_TOLD, .shape = SB_NOT_TOLD, .screw = SB_NOT_TOLD       \
    }

/* Rows of an option table, with offsets into the struct. */
#define SB_TOLD_INSTRUMENT_OPTIONS 12
extern const sb_option sb_told_instrument_rows[SB_TOLD_INSTRUMENT_OPTIONS];

/* Changes what was told and leaves the rest; 0, or the exit code with what is wrong reported, and
 * then the description is half changed. */
int sb_told_apply(const sb_told_instrument *told, sb_description *d);

#endif
