/* errand: a call that may never return, run in a thread of its own with a time limit.
 *
 * A sound library waits for its server without limit when that server is stopped. Such a
 * call is sent off as an errand; when it overruns its time it is left behind, with all
 * that it uses, and finishes (or not) by itself.
 */
#ifndef SB_ERRAND_H
#define SB_ERRAND_H

#include <stdbool.h>

#include "core/status.h"

typedef void sb_errand_step(void *matter);

/* Runs run(matter) and waits for it at most limit_s. All signals are blocked in that thread
 * and in those that it starts. On SB_OK it has returned and matter is the caller's again.
 * Errors: SB_E_DEVICE_LOST (overrun: matter now belongs to the errand, which calls
 * release(matter) should run ever return), SB_E_MEMORY (not started; matter is the
 * caller's). */
SB_MUST_CHECK sb_status sb_errand_run(sb_errand_step *run, sb_errand_step *release, void *matter,
                                      double limit_s);

/* Whether an errand that overran is still out. Any thread. */
bool sb_errand_out(void);

/* Seconds of a clock that is never set back. Any thread. */
double sb_clock_s(void);

/* Sleeps for so long, or until a signal comes: then false. Any thread. */
bool sb_sleep_s(double seconds);

#endif
