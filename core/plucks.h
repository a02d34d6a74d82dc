/* plucks: the plucks of one string as points in time and cents, and which of them to leave
 * out. Internal to interval.c, which says what is combined how.
 */
#ifndef SB_PLUCKS_H
#define SB_PLUCKS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/interval.h"

enum { SB_KIND_OPEN, SB_KIND_FRETTED, SB_KINDS };

typedef struct {
    double time_s;   /* from the first pluck given */
    double cents;    /* above the kind's reference */
    double variance; /* square of the standard error, cents^2; > 0 */
    int kind;        /* SB_KIND_OPEN or SB_KIND_FRETTED */
    bool out;        /* left out as an outlier */
} sb_pluck_point;

typedef struct {
    sb_pluck_point points[SB_MAX_PLUCKS];
    size_t n;
} sb_pluck_points;

/* Points of a kind that are not left out. */
size_t sb_plucks_count(const sb_pluck_points *t, int kind);

/* Whether the plucks of a kind were played at different times, so that drift shows. */
bool sb_plucks_spread(const sb_pluck_points *t);

/* Whether drift can be told from the interval: with one kind wholly before the other it
 * would have to be extrapolated from one to the other. */
bool sb_plucks_in_turn(const sb_pluck_points *t);

/* Sets `out` of each point, by the rule in interval.h. At least one of each kind; none may
 * be out yet. */
void sb_plucks_drop_outliers(sb_pluck_points *t);

#endif
