/* view_layout: what the view says of a string in large figures, in words that fit; for view.c
 * alone. Pure.
 */
#ifndef SB_VIEW_LAYOUT_H
#define SB_VIEW_LAYOUT_H

#include "cli/bench.h"

/* Everything large, with a caption below each. */
typedef struct {
    char note[8], note_caption[48];
    char error[12], error_caption[48];
    char amount[12], amount_caption[32];
    char turns[24], turns_caption[32]; /* or the other end of a slant */
    char word[32], word_caption[100];
} sb_view_figures;

/* Of string `string`; 0 = none sounded yet. */
void sb_view_say(const sb_bench *bench, size_t string, sb_view_figures *out);

#endif
