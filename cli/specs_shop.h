/* specs_shop: a shop's own bands and unit, from options into the book.
 */
#ifndef SB_SPECS_SHOP_H
#define SB_SPECS_SHOP_H

#include "cli/args.h"
#include "cli/book.h"

typedef struct {
    const sb_texts *bands; /* "relief=0.010in..0.012in", or "relief=" for the shipped one again */
    const char *kind;      /* of instrument, "" where it is not known */
    int unit;              /* an sb_spec_unit; negative = leave it */
    const char *path;      /* of the book, for complaints */
} sb_specs_own;

/* Keeps all of it or nothing; 0 or the exit code. */
int sb_specs_keep_own(const sb_specs_own *given, sb_book *book);

#endif
