/* specs_print: measurements for people and for scripts.
 */
#ifndef SB_SPECS_PRINT_H
#define SB_SPECS_PRINT_H

#include "cli/print.h"
#include "cli/specs.h"

typedef struct {
    const sb_specs *specs;
    const char *name;          /* of the instrument */
    const sb_spec_id *changed; /* n_changed that were changed just now */
    size_t n_changed;
} sb_specs_shown;

void sb_print_specs(const sb_page *page, const sb_specs_shown *shown);

/* setback.specs/1; false when out of memory. */
bool sb_json_specs(FILE *out, const sb_specs_shown *shown);

/* All bands of a kind of instrument, the shop's own and the shipped ones; without a book
 * only these. */
sb_book_status sb_print_bands(FILE *out, sb_book *book, const char *kind, sb_spec_unit unit);

#endif
