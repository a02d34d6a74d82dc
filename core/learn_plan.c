/* The next move of a saddle, from what was learned of its string. */
#include <math.h>

#include "core/learn.h"

#define SQRT1_2 0.70710678118654752440

static double chance_beyond(double z) {
    return 0.5 * erfc(z * SQRT1_2);
}

/* The chance that the error lies outside +-tolerance. */
static double chance_out(double error_cents, double std, double tolerance) {
    if (!(std > 0.0)) {
        return fabs(error_cents) > tolerance ? 1.0 : 0.0;
    }
    return chance_beyond((tolerance - error_cents) / std) +
           chance_beyond((tolerance + error_cents) / std);
}

static sb_plan_kind judge(const sb_belief *b, double left_std, double tolerance) {
    const double std = sqrt(b->error_var), size = fabs(b->error_cents);

    if (sb_verdict_for(b->error_cents, std, tolerance) == SB_VERDICT_MEASURE_AGAIN) {
        return SB_PLAN_AGAIN;
    }
    const double out = chance_out(b->error_cents, std, tolerance);
    if (size > tolerance) {
        return size > left_std ? SB_PLAN_MOVE : SB_PLAN_SCATTER;
    }
    if (out < SB_CHANCE_OUT) {
        return SB_PLAN_TRUE;
    }
    return chance_out(0.0, left_std, tolerance) <= 0.5 * out ? SB_PLAN_MOVE : SB_PLAN_SCATTER;
}

/* How fast the error falls where the string is true, by the calculus. */
static double slope_at_truth(const sb_geometry *geometry, double move_mm) {
    sb_geometry there = *geometry;
    sb_move move;

    there.speaking_mm += move_mm;
    return sb_saddle_move(&there, 0.0, 0.0, &move) == SB_OK ? move.cents_per_mm : 0.0;
}

sb_plan sb_learner_plan(const sb_learner *learner, double tolerance_cents) {
    const sb_belief *b = &learner->now;
    sb_plan plan = {.kind = SB_PLAN_UNKNOWN};

    if (!learner->known || learner->moved) {
        return plan;
    }
    plan.kind = SB_PLAN_AGAIN;
    if (sb_saddle_move_taking(&learner->geometry, b->error_cents, b->error_cents / b->gain,
                              &plan.move_mm) != SB_OK) {
        return plan;
    }
    plan.cents_per_mm = b->gain * slope_at_truth(&learner->geometry, plan.move_mm);
    const double taken = b->error_cents / b->gain;
    const double var = b->error_var + taken * taken * b->gain_var - 2.0 * taken * b->covariance;
    const double slip = plan.cents_per_mm * SB_HAND_MM;
    plan.std_error_mm = sqrt(fmax(var, 0.0)) / plan.cents_per_mm;
    plan.left_std_cents = sqrt(fmax(var, 0.0) + slip * slip);
    plan.kind = learner->stray == SB_STRAY_UNSURE || learner->doubted
                    ? SB_PLAN_AGAIN
                    : judge(b, plan.left_std_cents, tolerance_cents);
    return plan;
}
