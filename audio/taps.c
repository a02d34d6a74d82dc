#include "audio/taps.h"

#include <math.h>

#include "core/levels.h"
#include "core/order.h"

/* In frames of 5 ms. */
#define BEFORE     8  /* that the jump is seen against */
#define ROOM       60 /* whose median is the room */
#define HIT        9  /* that the level is of */
#define LATER_FROM 24
#define LATER_TO   44
#define JUDGED     50 /* a jump is judged when so many have followed */
#define APART      24 /* two taps are at least so far apart */

#define RISE_DB  10.0
#define CLEAR_DB 10.0 /* over the room */
#define FALL_DB  15.0
#define ROOM_DB  4.0 /* it has fallen into the room */
#define LEAST_DB (-105.0)
#define FULL     0.999

static double treble_db(const sb_sound *s, size_t i) {
    return sb_power_db(sb_sound_treble(s, i));
}

/* The quiet before a jump at frame i: the median of up to 0.3 s, less what comes just before. */
static double room_power(const sb_sound *s, size_t i) {
    double power[ROOM];
    size_t n = 0, to = i > 2 ? i - 2 : 0, from = to > ROOM ? to - ROOM : 0;
    for (size_t j = from; j < to; j++)
        power[n++] = sb_sound_treble(s, j);
    return n > 0 ? sb_median(power, n) : 0;
}

static double mean_treble(const sb_sound *s, size_t from, size_t to) {
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += sb_sound_treble(s, i);
    return sum / (double)(to - from);
}

static bool jumps(const sb_sound *s, size_t i) {
    double level = treble_db(s, i);
    if (level < LEAST_DB)
        return false;
    for (size_t back = 2; back <= BEFORE; back++) /* the frame before may hold its beginning */
        if (level < treble_db(s, i - back) + RISE_DB)
            return false;
    return level > sb_power_db(room_power(s, i)) + CLEAR_DB;
}

static sb_tap examine(const sb_sound *s, size_t i) {
    double room = room_power(s, i), hit = mean_treble(s, i, i + HIT);
    double later = mean_treble(s, i + LATER_FROM, i + LATER_TO);
    sb_tap tap = {.at_s = (double)i * SB_SOUND_FRAME_S,
                  .level_dbfs = sb_power_db(hit - room),
                  .fall_db = sb_power_db(hit) - sb_power_db(later)};
    tap.string = tap.fall_db < FALL_DB && sb_power_db(later) > sb_power_db(room) + ROOM_DB;
    for (size_t j = i; j < i + HIT; j++)
        tap.overloaded = tap.overloaded || sb_sound_peak(s, j) >= FULL;
    return tap;
}

size_t sb_taps_find(const sb_sound *s, sb_tap taps[], size_t max) {
    size_t frames = sb_sound_frames(s), n = 0;
    for (size_t i = BEFORE; i + JUDGED < frames && n < max; i++)
        if (jumps(s, i)) {
            taps[n] = examine(s, i - 1); /* the jump may begin at the end of the frame before */
            if (taps[n].level_dbfs > LEAST_DB)
                n++;
            i += APART;
        }
    return n;
}

size_t sb_taps_group(const sb_tap taps[], size_t n, double pause_s, size_t group[]) {
    size_t groups = 0;
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || taps[i].at_s - taps[i - 1].at_s >= pause_s)
            groups++;
        group[i] = groups - 1;
    }
    return groups;
}
