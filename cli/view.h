/* view: the session on the whole screen, to be read from two metres with both hands on the
 * instrument: the string that sounds, its error, the move and its direction in large figures,
 * one line a string with its state, the input's level, and the few keys.
 *
 * It needs no colour and no more than 80 x 24 characters; a larger screen gets larger figures,
 * a smaller one lines.
 */
#ifndef SB_VIEW_H
#define SB_VIEW_H

#include "cli/bench_front.h"

typedef struct sb_view sb_view;

/* Takes the screen. 0 with *view to be given to sb_view_close, or the exit code with the
 * failure reported. */
int sb_view_open(sb_view **view);

/* Gives the screen back, as everything that ends the program does. NULL is allowed. */
void sb_view_close(sb_view *view);

/* The front that draws on it; its `end` gives the screen back and prints the state as lines. */
sb_front sb_view_front(sb_view *view);

#endif
