/* tapping: taps on each pickup in each position of the selector, put together to a map.
 */
#ifndef SB_TAPPING_H
#define SB_TAPPING_H

#include "audio/taps.h"
#include "cli/print.h"
#include "cli/session.h"
#include "cli/signal.h"
#include "core/levels.h"
#include "core/tapmap.h"

#define SB_TAPPING_PAUSE_S 1.5 /* this long between two pickups */
#define SB_TAPPING_TAPS    3   /* that are asked for of each, live */

typedef struct {
    sb_tapmap map;
    char position[SB_TAP_POSITIONS][SB_SIGNAL_NAME_MAX];
    char pickup[SB_TAP_PICKUPS][SB_SIGNAL_NAME_MAX];
    size_t taps[SB_TAP_POSITIONS][SB_TAP_PICKUPS]; /* that count */
    double scatter_db;                             /* of one tap; 0 = not known */

    /* The taps themselves; their group is position * SB_TAP_PICKUPS + pickup. */
    sb_level_pluck tap[SB_LEVELS_MAX];
    size_t n;
    size_t strings, overloaded; /* left out, and too loud */

    sb_tap_finding findings[SB_TAP_FINDINGS];
    size_t n_findings;
} sb_tapping;

/* What the selector is meant to do, "1=neck,2=neck+middle,3=none": adds the positions that are not
 * there yet, in this order, and the pickups. 0, or EX_USAGE with the failure reported. */
int sb_tapping_meant(sb_tapping *t, const char *text);

/* The place of a position or pickup, added where it is new. 0, or EX_USAGE with the failure
 * reported. */
int sb_tapping_position(sb_tapping *t, const char *name, size_t *position);
int sb_tapping_pickup(sb_tapping *t, const char *name, size_t *pickup);

/* Adds what was heard of one pickup in one position: taps[0..n-1], none of them for a silent one.
 */
void sb_tapping_add(sb_tapping *t, size_t position, size_t pickup, const sb_tap taps[], size_t n);

/* Sorts a recording's taps by the pauses between them: pickup order[0], order[1], ... */
int sb_tapping_sort(sb_tapping *t, const sb_signal_heard *heard, const sb_signal_take *take,
                    const size_t order[], size_t n_order, double pause_s);

/* Listens to all pickups of `order` in every position. 0, or the exit code with the failure
 * reported. */
int sb_tapping_listen(const sb_session_options *options, sb_tapping *t, const size_t order[],
                      size_t n_order);

/* Combines, judges and compares. 0, or the exit code with the failure reported. */
int sb_tapping_judge(sb_tapping *t);

/* The data of one cell's event, and the object of setback.taps/1; NULL when out of memory. */
json_t *sb_tapping_data(const sb_tapping *t, size_t position, size_t pickup);
json_t *sb_tapping_json(const sb_tapping *t, const char *name);

void sb_tapping_print(const sb_page *page, const sb_tapping *t);

/* Whether it is known of any position what it is meant to do. */
bool sb_tapping_has_meant(const sb_tapping *t);

/* A finding in words. */
#define SB_TAPPING_WORDS_MAX 480
void sb_tapping_words(const sb_tapping *t, const sb_tap_finding *finding, char *text, size_t size);

#endif
