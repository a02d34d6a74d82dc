/* signal: what quiet, taps and balance share: recordings named by position of the selector, their
 * sound besides their plucks, and what is kept of them in the book.
 *
 * Each needs a lead plugged into the input. A recording is given as --take FILE, or --take
 * POSITION=FILE where the instrument has a selector; taps also takes POSITION:PICKUP=FILE. What
 * stands before the first = is a position unless it holds a slash, so that a file with = in its
 * name is written ./FILE.
 */
#ifndef SB_SIGNAL_H
#define SB_SIGNAL_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "audio/sound.h"
#include "cli/cmd_book.h"
#include "cli/take.h"

#define SB_SIGNAL_NAME_MAX 32 /* bytes of a position or pickup, NUL included */

/* Said once where somebody plugs in or will open the instrument. */
#define SB_SIGNAL_CAUTION                                                                          \
    "Turn the amplifier down before you plug in or tap, and unplug the instrument before you "     \
    "open it. What is wrong on the mains' side is for a licensed electrician."

/* A pluck's level is taken where the attack is over and the string still strong: common practice,
 * no source. */
#define SB_SIGNAL_LEVEL_FROM_S 0.2
#define SB_SIGNAL_LEVEL_TO_S   0.7

/* --- recordings --------------------------------------------------------------------------- */

typedef struct {
    char position[SB_SIGNAL_NAME_MAX]; /* "" = not told */
    char pickup[SB_SIGNAL_NAME_MAX];   /* "" = not told */
    const char *path;
} sb_signal_take;

/* Reads one --take; pickups: whether one may be named. 0, or EX_USAGE with the failure reported. */
int sb_signal_take_parse(const char *text, bool pickups, sb_signal_take *out);

/* Whether a text, or its first n bytes, can be the name of a position or pickup. */
bool sb_signal_name_good(const char *text, size_t n);

/* Reads a list of names divided by commas, all different; `option` is what it is called. 0, or
 * EX_USAGE with the failure reported. */
int sb_signal_names(const char *text, const char *option, char names[][SB_SIGNAL_NAME_MAX],
                    size_t max, size_t *n);

/* Where a name stands among others; n where it does not. */
size_t sb_signal_find(const char *name, const char names[][SB_SIGNAL_NAME_MAX], size_t n);

/* A name as it may be printed, or `otherwise` for "". */
typedef struct {
    char text[SB_SIGNAL_NAME_MAX];
} sb_signal_name;
sb_signal_name sb_signal_clean(const char *name, const char *otherwise);

/* What was heard in one recording, or for one position live. */
typedef struct {
    sb_take *take;
    sb_sound *sound;
    double offset_s; /* of the sound's beginning, on the clock of the take's readings */
} sb_signal_heard;

/* Loads plucks and sound; release with sb_signal_release in any case. 0, or the exit code with the
 * failure reported. keep_s as for sb_sound_new. */
int sb_signal_load(const char *path, int channel, double keep_s, sb_signal_heard *heard);
void sb_signal_release(sb_signal_heard *heard);

/* The level of a pluck in the window above, dBFS, without what was there just before it. False
 * where the sound does not reach so far, or what was there before is less than 6 dB weaker. */
bool sb_signal_pluck_level(const sb_signal_heard *heard, const sb_reading *reading,
                           double *level_dbfs);

/* --- the book ------------------------------------------------------------------------------ */

/* Events of one kind, to be kept together: `measured`, all or none. */
#define SB_SIGNAL_EVENTS 128
typedef struct {
    sb_event event[SB_SIGNAL_EVENTS];
    char *text[SB_SIGNAL_EVENTS]; /* their data */
    size_t n;
    bool failed; /* out of memory, or no room was left: what is there is not all */
} sb_signal_events;

/* Takes the object over and adds its event. */
void sb_signal_add(sb_signal_events *events, int string, json_t *data);

/* Writes them if they are all, a visit's beginning first where none is open, and lets them go. 0,
 * or the exit code with the failure reported. */
int sb_signal_keep(const sb_book_named *named, const sb_book_at *at, sb_signal_events *events);

/* A name, or null for "". */
json_t *sb_signal_text(const char *text);

/* Prints an object as a line and lets it go; false when out of memory (object NULL). */
bool sb_signal_print(json_t *object);

#endif
