/* view_figures: letters and figures of blocks, to be read from across the bench. The shapes
 * are this project's own, five cells by five.
 */
#ifndef SB_VIEW_FIGURES_H
#define SB_VIEW_FIGURES_H

#include <stddef.h>

#define SB_FIGURE_ROWS 5

/* Cells that a text takes, of figures one cell wide a unit; characters without a figure are
 * blanks. */
int sb_figures_width(const char *text);

/* Calls `cell` for every filled unit of the text, with its column and row from the upper left. */
void sb_figures_draw(const char *text, void (*cell)(void *context, int column, int row),
                     void *context);

#endif
