/* signal_live: the part of listening that quiet, taps and balance share: the sound kept besides the
 * plucks, begun anew for each thing that is asked for, and the prompt.
 */
#ifndef SB_SIGNAL_LIVE_H
#define SB_SIGNAL_LIVE_H

#include "cli/session.h"
#include "cli/signal.h"

#define SB_SIGNAL_PROMPT_MAX 100

typedef struct {
    const sb_session_options *options;
    double keep_s; /* of the sound, as for sb_sound_new */
    sb_live live;
    sb_signal_heard heard;
    double last_note_s;
    char prompt[SB_SIGNAL_PROMPT_MAX];

    /* Its own. */
    size_t taken; /* samples of the take that the sound has had */
    char told[SB_SIGNAL_PROMPT_MAX];
    bool memory; /* ran out */
} sb_signal_live;

/* Listens with the caller's functions until it has enough, time is up or a signal says so
 * (*stopped). 0, or the exit code with the failure reported. Release what was heard with
 * sb_signal_release. */
int sb_signal_hear(sb_signal_live *live, const sb_hearer *of_caller, bool *stopped);

/* Takes in what came since the last call; to be called once in every take_notes. */
void sb_signal_feed(sb_signal_live *live);

/* Begins the sound anew: what follows is of something else. */
void sb_signal_next(sb_signal_live *live);

/* Seconds of the sound since then. */
double sb_signal_seconds(const sb_signal_live *live);

/* Says the prompt where it is new and no meter shows it. */
void sb_signal_say_prompt(sb_signal_live *live);

#endif
