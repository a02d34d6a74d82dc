/* view_guard: the terminal taken for a full screen, and given back whatever happens.
 */
#ifndef SB_VIEW_GUARD_H
#define SB_VIEW_GUARD_H

#include <stdbool.h>

/* Whether a full screen can be shown: standard input and output are one terminal that can
 * move its cursor. */
bool sb_screen_possible(void);

/* Takes the terminal: keys come one by one and unseen. False where it will not be taken. From
 * now on it is given back on every way out but SIGKILL. */
bool sb_screen_take(void);

/* Gives it back; nothing where it was not taken. */
void sb_screen_give_back(void);

/* Whether the screen shows UTF-8. */
bool sb_screen_utf8(void);

#endif
