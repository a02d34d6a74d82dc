/* report: a measurement given out in the form that was asked for.
 */
#ifndef SB_REPORT_H
#define SB_REPORT_H

#include <stdbool.h>
#include <stddef.h>

#include "cli/measurement.h"

typedef struct {
    bool json;
    bool partials;
    bool table; /* one row a string instead of a page */
    size_t rows;
    bool any_move, any_doubtful; /* among the rows so far */
} sb_report;

/* Prints one measurement; take: the recording's name, or NULL. 0, or the exit code. */
int sb_report_measurement(sb_report *report, const sb_task *task, const sb_measurement *m,
                          const char *take);

/* Ends a table. */
void sb_report_end(const sb_report *report);

#endif
