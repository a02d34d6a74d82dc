/* specs_take: from "relief=0.010in" to an event of the log.
 */
#ifndef SB_SPECS_TAKE_H
#define SB_SPECS_TAKE_H

#include "cli/specs.h"

typedef struct {
    sb_spec_id id;
    bool withdrawn; /* "relief=": what was kept of it was wrong */
    bool changed;   /* by more than a ruler's error, or told so */
    double value;   /* mm or ohm */
    char text[SB_SPEC_TEXT_MAX];
} sb_spec_taken;

typedef struct {
    const sb_specs *specs;
    bool insist;  /* what is not plausible is kept all the same */
    bool changed; /* whatever is measured was changed */
} sb_spec_taking;

/* Reads one; what cannot be, or is in no plausible range, is asked for again on a terminal, and
 * otherwise reported. 0 or the exit code. */
int sb_spec_take(const sb_spec_taking *taking, const char *operand, sb_spec_taken *out);

/* The data of its event, to be freed; NULL when out of memory. */
char *sb_spec_data(const sb_spec_taken *taken);

/* Whether a change of it makes readings stale. */
bool sb_spec_spoils(const sb_spec_id *id);

#endif
