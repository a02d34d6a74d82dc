/* tilt: whether a pickup stands nearer to the strings on one side, from their levels.
 *
 * Strings differ in themselves (steel in the core, gauge), so a straight line is laid through
 * their levels across the pickup by plain least squares, and its error taken from how the
 * strings lie about it, or from the scatter of the plucks where that is larger. A string that
 * stands off the line is that string's own, or its pole's: no tilt mends it, and it should not
 * bend the line. So where there are five strings or more, up to a third that lie far from the
 * line of Theil and Sen (the median of the slopes between all pairs: P. K. Sen, J. Am. Stat.
 * Assoc. 63, 1379, 1968, from memory) are left out of it.
 *
 * How far to move: the level falls with distance d as d^-n. Near a pickup n is smaller than
 * far from it. On the axis of a magnetised pole of radius a the field is 1 - d / sqrt(d^2 +
 * a^2) (a uniformly charged disc), and the voltage goes at least with the slope of that, whose
 * exponent is 3 d^2 / (d^2 + a^2): 1.5 where d = a = 2.4 mm. The string's magnetisation falls
 * with distance as well, the coil is wider than its pole. So n = 1.5 with a standard error of
 * 0.5, derived with these simplifications; no measurement was found.
 */
#ifndef SB_TILT_H
#define SB_TILT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/instrument.h"
#include "core/status.h"

#define SB_TILT_EXPONENT           1.5
#define SB_TILT_EXPONENT_STD_ERROR 0.5
/* From string to pole where nobody measured: 1/8 in bass, 3/32 in treble as a start (common
 * practice, no source). */
#define SB_TILT_DISTANCE_MM           2.8
#define SB_TILT_DISTANCE_STD_ERROR_MM 0.8
#define SB_TILT_TOLERANCE_DB          2.0  /* what may stay (common practice, no source) */
#define SB_TILT_CHANCE                0.05 /* that an even pickup is called tilted */

typedef enum {
    SB_TILT_EVEN,       /* within the tolerance, as far as can be told */
    SB_TILT_FIRST_HIGH, /* the side of string 1 is louder: nearer to the strings */
    SB_TILT_LAST_HIGH,
    SB_TILT_UNSURE, /* the plucks scatter too much to tell */
    SB_TILT_UNEVEN  /* the strings differ among themselves too much to tell: no plucks help */
} sb_tilt_verdict;

typedef struct {
    double tilt_db; /* level of the line at the first string less that at the last */
    double std_error_db;
    double limit_db; /* a tilt below this may be chance */
    int dof;
    double off_db[SB_STRINGS_MAX]; /* each string off the line */
    double off_std_error_db[SB_STRINGS_MAX];
    bool stray[SB_STRINGS_MAX]; /* left out of the line */
    double spread_db;           /* loudest string less quietest */
    double spread_std_error_db;
    size_t loudest, quietest; /* from 0 */
    sb_tilt_verdict verdict;
    double more; /* UNSURE: how many times as many plucks would tell, > 1 */
} sb_tilt;

/* Lays the line through n strings: place_mm[] across the pickup, all different ones at least two,
 * level_db[] and std_error_db[] > 0 a string; pluck_dof: what the errors rest on, >= 1. Errors:
 * SB_E_TOO_SHORT (fewer than three strings), SB_E_RANGE (not finite, more than SB_STRINGS_MAX),
 * SB_E_UNDETERMINED (all in one place). */
typedef struct {
    size_t n;
    double place_mm[SB_STRINGS_MAX], level_db[SB_STRINGS_MAX], std_error_db[SB_STRINGS_MAX];
    int pluck_dof;
    double tolerance_db;
} sb_tilt_strings;
SB_MUST_CHECK sb_status sb_tilt_fit(const sb_tilt_strings *strings, sb_tilt *out);

typedef struct {
    double move_mm; /* away from the string, at the outer string */
    double std_error_mm;
} sb_tilt_move;

/* How much further off the pickup has to stand from the outer string, distance_mm off now, for its
 * level to fall by fall_db >= 0: d (10^(fall / (20 n)) - 1). The error is that of level, distance
 * and exponent together, to first order. */
sb_tilt_move sb_tilt_lower(double fall_db, double fall_std_error_db, double distance_mm,
                           double distance_std_error_mm);

#endif
