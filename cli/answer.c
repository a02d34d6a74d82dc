#include "cli/answer.h"

#include <math.h>

sb_answer sb_answer_for(const sb_setting *setting, double error_cents, double std_error_cents) {
    sb_geometry geometry = sb_setting_geometry(setting);
    sb_answer a = {.error_cents = error_cents, .std_error_cents = std_error_cents};
    a.verdict = sb_verdict_for(error_cents, std_error_cents, setting->tolerance_cents);
    a.movable = sb_saddle_move(&geometry, error_cents, std_error_cents, &a.move) == SB_OK;
    if (!a.movable)
        a.verdict = SB_VERDICT_MEASURE_AGAIN;
    if (a.verdict == SB_VERDICT_MOVE && setting->thread_mm > 0)
        a.turns = sb_screw_turns(a.move.move_mm, setting->thread_mm,
                                 (sb_screw_action)setting->screw, &a.turn);
    a.doubtful = fabs(error_cents) > SB_DOUBTFUL_ERROR_CENTS ||
                 (a.movable && fabs(a.move.move_mm) > SB_DOUBTFUL_MOVE_MM);
    return a;
}

const char *sb_answer_direction(const sb_answer *answer) {
    if (answer->verdict != SB_VERDICT_MOVE)
        return "none";
    return answer->move.move_mm > 0 ? "back" : "forward";
}

const char *sb_verdict_text(sb_verdict verdict) {
    switch (verdict) {
    case SB_VERDICT_LEAVE: return "leave";
    case SB_VERDICT_MOVE: return "move";
    case SB_VERDICT_MEASURE_AGAIN: return "measure again";
    }
    return "measure again";
}

const char *sb_turn_text(sb_turn turn) {
    switch (turn) {
    case SB_TURN_NONE: return "none";
    case SB_TURN_CLOCKWISE: return "clockwise";
    case SB_TURN_ANTICLOCKWISE: return "anticlockwise";
    }
    return "none";
}
