/* levels: decibels, and what several plucks or taps of the same thing say together.
 *
 * dB of a power are 10 log10. Levels re full scale are of the plain RMS, full scale = 1: a
 * sine that just reaches full scale is at -3.01 dBFS. (ITU-T G.100.1 counts its dBov so;
 * AES17 calls the same sine 0 dBFS and reads 3.01 dB higher. Both from memory. Differences
 * of levels are the same either way.)
 *
 * A hand never plucks twice alike, so levels come in groups, each of which should be one
 * level. What lies far from its group's median is left out (Hampel's identifier: Davies &
 * Gather, J. Am. Stat. Assoc. 88, 782, 1993, from memory), the scatter of the rest is pooled
 * over the groups, since it is the same hand, and a group's error is that scatter over the
 * root of its number.
 */
#ifndef SB_LEVELS_H
#define SB_LEVELS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_LEVELS_MAX     512  /* of all groups together */
#define SB_LEVEL_LEAST_DB 0.1  /* no scatter is smaller: windows and rounding (common practice) */
#define SB_LEVEL_NONE     -200 /* dB of no power at all, and the least there is */

typedef struct {
    double level_db; /* the mean of what counts */
    double std_error_db;
    size_t used, left_out;
} sb_level;

typedef struct {
    double scatter_db; /* standard deviation of one pluck about its group, pooled */
    int dof;           /* degrees of freedom that it rests on */
} sb_level_scatter;

/* dB of a mean square; SB_LEVEL_NONE for 0, negatives and NaN. */
double sb_power_db(double power);

/* The mean square of a level. */
double sb_db_power(double db);

/* One pluck, of the group that should be one level. */
typedef struct {
    double level_db;
    size_t group;
    bool left_out; /* by sb_levels_combine: only in groups of three or more */
} sb_level_pluck;

/* plucks[i].group < n_groups; a group without any gets used = 0. Errors: SB_E_RANGE (n = 0 or over
 * SB_LEVELS_MAX, a group that is none, a level that is not finite), SB_E_UNDETERMINED (no group has
 * two: there is no scatter to be had). */
SB_MUST_CHECK sb_status sb_levels_combine(sb_level_pluck plucks[], size_t n, size_t n_groups,
                                          sb_level levels[], sb_level_scatter *scatter);

#endif
