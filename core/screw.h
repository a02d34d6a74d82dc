/* screw: adjustment screws, from a thread's name to turns of the screwdriver.
 *
 * Pitches: ISO 261/262 coarse series (M2 0.4, M2.5 0.45, M3 0.5, M3.5 0.6, M4 0.7 mm)
 * and ASME B1.1 threads per inch (2-56, 4-40, 6-32, 8-32: 25.4/TPI mm).
 */
#ifndef SB_SCREW_H
#define SB_SCREW_H

#include <stddef.h>

#include "core/status.h"

#define SB_TURNS_TEXT_MAX 24 /* bytes for any formatted number of turns, NUL included */

/* What a CLOCKWISE turn, as you face the screw's head, does to the saddle, named by the
 * nut so that it cannot be read backwards, wherever the head sits:
 *   PULLS   clockwise draws the saddle back, away from the nut (screw head behind the
 *           saddle, saddle threaded on the screw: the usual case and the default);
 *   PUSHES  clockwise drives the saddle forward, toward the nut. */
typedef enum { SB_SCREW_PULLS, SB_SCREW_PUSHES } sb_screw_action;

typedef enum { SB_TURN_NONE, SB_TURN_CLOCKWISE, SB_TURN_ANTICLOCKWISE } sb_turn;

/* Pitch in mm of a thread: "M3", "m2.5", "4-40", "6-32", "8-32", "M3x0.5", or a bare
 * pitch with a unit, "0.5mm". Case and spaces do not matter.
 * Errors: SB_E_SYNTAX (unknown thread), SB_E_RANGE (pitch outside 0.1..3 mm). */
SB_MUST_CHECK sb_status sb_thread_parse(const char *text, double *pitch_mm);

/* Turns for a saddle move (mm, positive = back, away from the nut) to the nearest
 * eighth, as a magnitude, and the way to turn as you face the screw's head. A move that
 * rounds to zero eighths gives SB_TURN_NONE. pitch_mm > 0; with that or the move out of
 * its domain the turns are NaN and the turn is SB_TURN_NONE. */
double sb_screw_turns(double move_mm, double pitch_mm, sb_screw_action action, sb_turn *turn);

/* "2 ¾ turns", "⅛ turn", "1 turn", "no turn"; UTF-8. `turns` in eighths, 0..10^6; else "n/a". */
void sb_turns_format(double turns, char *text, size_t size);

#endif
