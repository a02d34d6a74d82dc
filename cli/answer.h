/* answer: from an interval's error to what the repairer is told to do.
 */
#ifndef SB_ANSWER_H
#define SB_ANSWER_H

#include <stdbool.h>

#include "cli/setting.h"

/* From here on the fault is seldom the saddle's alone (common practice, no source). */
#define SB_DOUBTFUL_MOVE_MM     6.0
#define SB_DOUBTFUL_ERROR_CENTS 20.0

typedef struct {
    double error_cents, std_error_cents;
    sb_verdict verdict;
    bool movable; /* false: the error is too large for a move to be computed */
    sb_move move; /* what would null the error, whatever the verdict */
    double turns; /* for the verdict MOVE and a known thread, in eighths; else 0 */
    sb_turn turn;
    bool doubtful; /* look elsewhere too */
} sb_answer;

/* error: sharp positive; std_error >= 0. */
sb_answer sb_answer_for(const sb_setting *setting, double error_cents, double std_error_cents);

/* "back", "forward" or "none": the way of a move that is asked for. */
const char *sb_answer_direction(const sb_answer *answer);

/* "move", "leave" or "measure again". */
const char *sb_verdict_text(sb_verdict verdict);

/* "clockwise", "anticlockwise" or "none". */
const char *sb_turn_text(sb_turn turn);

#endif
