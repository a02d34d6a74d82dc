/* fretted: the pitch of a string pressed to a fret, against the open string.
 *
 * Side view: fret crowns on a line (bowed by relief), the string from the nut over them to the
 * saddle; pressed, it goes nut - finger - crown - saddle, each piece straight, the finger on the
 * line from saddle over crown. The open string is always at pitch: a longer one is retuned.
 *
 *   f = P(b)/(2 L) sqrt(T/m),  P(b) = sqrt(1 + pi^2 b^2) + a b + a^2 b^2,  b = sqrt(EI/T)/L
 *   fretted: T' = T + EA Q, m' = m/(1 + Q), Q the path's growth over the open length
 *
 * with a = 0 for both ends pinned (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964), 1 for one clamped
 * (Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683, 2024), 2 for both (Morse, Vibration
 * and Sound, 1936): to the order b^2, and within 1e-7 of the exact first mode for b < 0.01.
 *
 * Which a? A string goes on beyond nut, fret and saddle; what lies behind a point of support
 * resists its turning as a semi-infinite tensioned beam, sqrt(EI T), exactly as the speaking part
 * does, so each such end counts for half a clamped one and two of them for a = 1 (derived; a test
 * computes it). Measured: 1.1 +- 0.2 on nylon (Anderson & Beausoleil). Clamped ends double the
 * saddle's setback, pinned ones all but undo the stiffness's part of it.
 */
#ifndef SB_FRETTED_H
#define SB_FRETTED_H

#include "core/status.h"
#include "core/wire.h"

#define SB_ENDS_PINNED    0.0
#define SB_ENDS_HYBRID    1.0
#define SB_ENDS_CLAMPED   2.0
#define SB_ENDS_STD_ERROR 0.2

/* Heights in mm over the line of the crowns of `relief_from` and `relief_to`. */
typedef struct {
    double scale_mm;      /* S, 100..2000 */
    double nut_height_mm; /* of the string at the nut */
    double rise_mm;       /* of the saddle over the nut, where the saddle is nominal */
    double slope;         /* how much higher the saddle is for each mm back: 0 where its height
                             is fixed, the string's own slope where its action is */
    double finger_mm;     /* finger to crown; 0 = on the fret */
    double relief_mm;     /* depth of a parabolic bow between these two frets */
    int relief_from, relief_to;
} sb_neck;

/* A neck by what a repairer measures: the open string's height over the crown of fret 1 and of
 * another (2..36), and the relief, by a straightedge from fret 1 to fret relief_to (the bow is
 * part of the height at a fret between). The action is kept when the saddle moves.
 * Errors: SB_E_RANGE. */
typedef struct {
    int fret;
    double action_mm, first_fret_mm, relief_mm, finger_mm;
    int relief_to;
} sb_action;
SB_MUST_CHECK sb_status sb_neck_from_action(double scale_mm, const sb_action *action, sb_neck *out);

/* The height of the open string over a fret's crown, mm, the saddle at its nominal place. */
double sb_neck_height_mm(const sb_neck *neck, int fret);

typedef struct {
    sb_wire wire;
    double hz;   /* of the open string */
    double ends; /* a above */
} sb_tuned;

/* What the note at a fret (1..36) is off, in cents over the equal-tempered interval, sharp
 * positive, with the saddle saddle_mm back from its nominal place and the nut nut_mm away from
 * the frets.
 * Errors: SB_E_RANGE (a figure outside its domain or not finite, the finger beyond the nut, the
 * string not above the fret). */
SB_MUST_CHECK sb_status sb_fretted_error(const sb_neck *neck, const sb_tuned *string, int fret,
                                         double saddle_mm, double nut_mm, double *cents);

#endif
