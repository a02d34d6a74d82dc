/* taps: a screwdriver's tap on a pickup, told from a plucked string.
 *
 * Both begin with a jump; a tap is over at once, a string rings. Found in the sound above 300
 * Hz, where hum is weak: a frame of 5 ms that is RISE_DB over the loudest of the 40 ms before,
 * and over the room. It is a string's when it has not fallen by FALL_DB, nor into the room,
 * between the first 45 ms and 120 to 220 ms later. The level is that of the 45 ms from the jump,
 * above 300 Hz, the sound before the jump taken off. Thresholds are this module's own, chosen on
 * invented sounds (tests/test_taps.c).
 */
#ifndef SB_TAPS_H
#define SB_TAPS_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/sound.h"

#define SB_TAPS_MAX 256

typedef struct {
    double at_s;
    double level_dbfs; /* RMS over its first 45 ms, above 300 Hz */
    double fall_db;    /* how much lower it is after 120 to 220 ms */
    bool string;       /* it rings: a pluck, or a string that was touched */
    bool overloaded;   /* samples at full scale: the level is at least so much */
} sb_tap;

/* The taps and plucks of a sound, in order, at most `max`; returns how many are there. Those
 * that begin in its last 0.25 s are not judged yet. */
size_t sb_taps_find(const sb_sound *sound, sb_tap taps[], size_t max);

/* How many groups they form, where a pause of pause_s or longer divides them; group[i] receives
 * the group of each, from 0. Plucks count as well: whoever touches a string in between has not
 * paused. */
size_t sb_taps_group(const sb_tap taps[], size_t n, double pause_s, size_t group[]);

#endif
