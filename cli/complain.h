/* complain: from what went wrong below to one line, one piece of advice and an exit code.
 */
#ifndef SB_COMPLAIN_H
#define SB_COMPLAIN_H

#include "cli/live.h"
#include "cli/measurement.h"
#include "core/status.h"

/* A recording that cannot be opened or read; rate_hz as far as known, else 0. */
int sb_complain_recording(sb_status status, const char *path, double rate_hz, int channel);

/* Loads a take (also: as for sb_take_load), and says what is wrong with its recording; EX_OK where
 * what was read of it can be used, a recording damaged further on with a warning. */
int sb_load_take(sb_take *take, const char *path, int channel, const sb_also *also);

/* A capture device that cannot be used. */
int sb_complain_input(sb_status status, const sb_input_options *options);

int sb_complain_memory(void);

/* A file that was to be read and cannot be opened (errno tells whether for want of memory), or
 * not read to its end. */
int sb_complain_open(const char *path);
int sb_complain_read(const char *path);

/* What of a take's sound makes it useless; path NULL = it was heard live. */
int sb_complain_take(const sb_take *take, const char *path);

/* An outcome other than SB_MEASURED. take: the one that it is about. */
int sb_complain_outcome(sb_outcome outcome, const sb_task *task, const sb_measurement *m,
                        const sb_take *take, const char *path);

/* What to do about a pluck with this fault. */
const char *sb_pluck_advice(sb_pluck_fault fault);

#endif
