/* progress: how far an instrument's set-up has come, from what was done to it and read of it.
 *
 * What happened is told in the order in which it happened; the state of each string and each
 * saddle follows from that alone, so that nothing but the log needs to be kept. Each string
 * has its sb_learner; a saddle under several strings is placed by core/compromise.h with each
 * string's own cents per mm as learned.
 *
 * Order of work (common practice): relief, nut slots and action, then intonation. A reading
 * is spoiled by whatever changes the string's height, tension or speaking length later:
 * relief, nut, action, other strings, another tuning, and the start of another visit.
 */
#ifndef SB_PROGRESS_H
#define SB_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/instrument.h"
#include "core/learn.h"

typedef enum {
    SB_STRING_NOT_YET,  /* never measured */
    SB_STRING_MEASURED, /* measured, but not decided: see the plan, or its saddle waits for the
                           other strings on it */
    SB_STRING_DUE,      /* its saddle is to be moved */
    SB_STRING_MOVED,    /* its saddle was moved since the reading: tune and measure again */
    SB_STRING_TRUE,     /* within tolerance */
    SB_STRING_NEAREST,  /* out by itself, but its saddle stands best for all its strings */
    SB_STRING_STUCK,    /* out, and its saddle cannot go further, or not at all */
    SB_STRING_STALE     /* its reading was spoiled: measure again */
} sb_string_state;

typedef enum {
    SB_CHANGE_RELIEF,
    SB_CHANGE_NUT,
    SB_CHANGE_ACTION,
    SB_CHANGE_STRINGS, /* new ones fitted */
    SB_CHANGE_TUNING,
    SB_CHANGE_VISIT, /* another visit began */
    SB_CHANGES
} sb_change;

typedef struct {
    sb_string_state state;
    bool has_reading;
    sb_error_reading reading; /* the latest */
    sb_error_reading first;   /* the first round of this visit: before the work; std_error 0 =
                                 none */
    bool first_round;         /* nothing was read since that round */
    sb_change spoiled_by;     /* of a stale one */
    sb_learner learner;
    sb_plan plan; /* by itself, as if it were alone on its saddle */
} sb_string_progress;

typedef struct {
    bool ready; /* every string on it is known, so that it can be placed: the rest holds */
    bool due;   /* moving it makes a difference */
    bool at_limit;
    double move_mm, end_mm; /* at its first and its last string, back positive; the place to go
                               to even if it is not due */
    double worst_now_cents, worst_after_cents;
    double remaining_cents[SB_MAX_SHARED]; /* after the move, from its first string on */
    double moved_mm, moved_end_mm;         /* since its travel was described */
    double visit_mm, visit_end_mm;         /* in this visit */
} sb_saddle_progress;

typedef struct {
    double tolerance_cents; /* > 0 */
    int fret;
    sb_compromise_fit fit;
    double priority[SB_STRINGS_MAX]; /* > 0, how much each string counts on its saddle */
} sb_progress_options;

typedef struct {
    sb_instrument instrument;
    sb_progress_options options;
    sb_string_progress strings[SB_STRINGS_MAX];
    sb_saddle_progress saddles[SB_STRINGS_MAX];
    bool seen[SB_CHANGES]; /* noted in this visit, measured or changed */
    bool in_visit;
    bool judged; /* nothing happened since sb_progress_judge */
} sb_progress;

/* Tolerance, 12th fret, the largest error made least, all strings alike. */
sb_progress_options sb_progress_default(void);

/* A sound instrument of which nothing is known yet. */
void sb_progress_begin(sb_progress *progress, const sb_instrument *instrument,
                       const sb_progress_options *options);

/* It is described anew. Strings of another note, gauge or scale are stale; with another number
 * of strings all begins anew. */
void sb_progress_describe(sb_progress *progress, const sb_instrument *instrument);

/* String `string` (from 1) was measured; see sb_learner_read. A move inferred from it moves the
 * other strings of its saddle too. */
void sb_progress_read(sb_progress *progress, size_t string, sb_error_reading reading, bool fresh);

/* The saddle under `string` was moved, by move_mm at its first and end_mm at its last string. */
void sb_progress_move(sb_progress *progress, size_t string, double move_mm, double end_mm,
                      double std_error_mm);

/* Relief, nut or action was measured, with nothing changed. */
void sb_progress_see(sb_progress *progress, sb_change change);

/* The visit ended; the next reading is of another one only once that has begun. */
void sb_progress_leave(sb_progress *progress);

/* Something else was changed, of one string or of all (0). A VISIT also forgets what was seen
 * and measured before it. */
void sb_progress_change(sb_progress *progress, size_t string, sb_change change);

/* Judges all strings and saddles: sets states, plans and places. To be called after any of the
 * above and before they are looked at; a reading calls it where it was not. */
void sb_progress_judge(sb_progress *progress);

/* The saddle under a string, as a position in saddles[]. */
size_t sb_progress_saddle(const sb_progress *progress, size_t string);

/* Whether the saddle carries several strings. */
bool sb_saddle_shared(const sb_saddle *saddle);

/* The move of the saddle's place at one of its strings, of move_mm and end_mm at the ends. */
double sb_saddle_move_at(const sb_saddle *saddle, size_t string, double move_mm, double end_mm);

/* The string to pluck next: the first that needs it, looking round from after `last`; 0 = none. */
size_t sb_progress_next(const sb_progress *progress, size_t last);

/* "move due"; static storage. */
const char *sb_string_state_text(sb_string_state state);

/* "relief"; static storage. */
const char *sb_change_text(sb_change change);

/* False where the text names no change. */
bool sb_change_named(const char *text, sb_change *change);

#endif
