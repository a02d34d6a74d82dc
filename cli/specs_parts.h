/* specs_parts: what the files behind specs.h share.
 */
#ifndef SB_SPECS_PARTS_H
#define SB_SPECS_PARTS_H

#include "cli/specs.h"

/* Judges every value by its band, the coils by each other, and evenness. */
sb_book_status sb_specs_judge(sb_book *book, sb_specs *specs);

#endif
