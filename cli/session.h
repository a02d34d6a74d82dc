/* session: measuring one string live, hands-free, until it is known well enough.
 */
#ifndef SB_SESSION_H
#define SB_SESSION_H

#include "cli/live.h"
#include "cli/measurement.h"

typedef struct {
    sb_input_options input;
    int plucks;       /* of each kind, at least */
    double timeout_s; /* 0 = none where someone watches, else SB_LIVE_UNWATCHED_S */
} sb_session_options;

/* Somebody who listens hands-free: what is asked for and what is made of the notes is theirs. */
typedef struct {
    void *context;
    bool early; /* wants readings of notes that still sound, too */
    sb_live *live;
    sb_take *take;
    const char *prompt;                  /* what is to be done now, for the meter's line */
    const double *last_note_s;           /* when the last whole note had been read */
    void (*ask)(void *context);          /* says the prompt, where it is new */
    void (*take_notes)(void *context);   /* fetches what the listener has read */
    bool (*enough)(const void *context); /* nothing more is needed */
} sb_hearer;

/* Listens until enough was heard and no more comes, time is up, or a signal says so (*stopped);
 * then hears out the note that still sounds, if it is needed. 0, or the exit code with the
 * failure reported. */
int sb_session_hear(const sb_session_options *options, const sb_hearer *hearer, bool *stopped);

/* Listens until both notes are in, `plucks` of each, and the error is known to half the
 * tolerance, then as long as more notes come. When time is up or a signal says so, what is
 * there is measured. `take` must outlive `m`. 0 with *m filled, or the exit code with the
 * failure reported. */
int sb_session_measure(const sb_session_options *options, const sb_task *task, sb_take *take,
                       sb_measurement *m);

#endif
