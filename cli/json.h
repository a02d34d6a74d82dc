/* json: the same results for scripts, one object a line; schema in DEVELOPERS.md.
 *
 * Numbers are always finite: what is not known is null.
 */
#ifndef SB_JSON_H
#define SB_JSON_H

#include <stdbool.h>
#include <stdio.h>

#include "audio/capture.h"
#include "cli/measurement.h"
#include "core/compromise.h"

/* Each prints one object and a newline, and returns false when out of memory. */

/* setback.measure/1; `take` is the recording's name, or NULL. */
bool sb_json_measurement(FILE *out, const sb_task *task, const sb_measurement *m, const char *take,
                         bool partials);

/* setback.move/1 */
bool sb_json_move(FILE *out, const sb_setting *setting, const sb_answer *answer);

/* setback.compromise/1, of n strings */
bool sb_json_compromise(FILE *out, const sb_compromise *c, const double place_mm[], size_t n);

/* setback.inputs/1 */
bool sb_json_inputs(FILE *out, const sb_device devices[], size_t n);

#endif
