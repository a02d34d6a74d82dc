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

/* Listens until both notes are in, `plucks` of each, and the error is known to half the
 * tolerance, then as long as more notes come. When time is up or a signal says so, what is
 * there is measured. `take` must outlive `m`. 0 with *m filled, or the exit code with the
 * failure reported. */
int sb_session_measure(const sb_session_options *options, const sb_task *task, sb_take *take,
                       sb_measurement *m);

#endif
