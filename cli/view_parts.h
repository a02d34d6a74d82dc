/* view_parts: what the files of the view share; no one else includes it.
 */
#ifndef SB_VIEW_PARTS_H
#define SB_VIEW_PARTS_H

#include "cli/view.h"

struct sb_view {
    size_t looked_at; /* a string chosen by key; 0 = the one that sounded last */
    size_t sounding;  /* string of the note that rings, 0 = none */
    bool fretted, known_note;
    double hz, cents;
    char news[200];
    bool typing, help, dirty, utf8, cautioned;
    char typed[200];
    double drawn_s;
    int rows, columns;
    int unit_rows, unit_columns; /* cells of a figure's unit; 0 = no figures */
    int gap;                     /* lines above each line of figures */
};

/* The string that the figures are of; 0 = none yet. */
size_t sb_view_focus(const sb_view *view, const sb_bench *bench);

/* Draws all of it, for the screen as large as it is now. */
void sb_view_draw(sb_view *view, const sb_bench *bench, const sb_source *source);

#endif
