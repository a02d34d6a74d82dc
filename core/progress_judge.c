/* What the state of the strings asks for; see progress.h. */
#include <math.h>

#include "core/progress.h"

#define LEAST_GAIN_CENTS 0.3  /* of a shared saddle's worst string, to be worth a move */
#define STUCK_CENTS      0.5  /* left over where the travel ends, to be called so */
#define STEP_MM          0.05 /* of a difference quotient */
#define STRAIGHTENINGS   3

static bool known(const sb_string_progress *s) {
    return s->has_reading && s->state != SB_STRING_STALE && !s->learner.moved &&
           s->plan.kind != SB_PLAN_UNKNOWN;
}

static void judge_string(sb_progress *p, size_t i) {
    sb_string_progress *s = &p->strings[i];

    s->plan = sb_learner_plan(&s->learner, p->options.tolerance_cents);
    if (!s->has_reading) {
        s->state = SB_STRING_NOT_YET;
    } else if (s->state != SB_STRING_STALE && s->learner.moved) {
        s->state = SB_STRING_MOVED;
    } else if (s->state != SB_STRING_STALE) {
        s->state = SB_STRING_MEASURED;
    }
    sb_learner_ask(&s->learner, 0.0);
}

static sb_travel travel_left(const sb_saddle *saddle, double across_mm, double moved_mm) {
    sb_travel t = {.across_mm = across_mm,
                   .least_mm = -saddle->forward_mm - moved_mm,
                   .most_mm = saddle->back_mm - moved_mm};

    /* It may have been moved further than was thought possible: then it stays. */
    t.least_mm = fmin(t.least_mm, 0.0);
    t.most_mm = fmax(t.most_mm, 0.0);
    if (saddle->way == SB_WAY_FIXED) {
        t.least_mm = t.most_mm = 0.0;
    }
    return t;
}

static sb_compromise_options saddle_options(const sb_progress *p, size_t s) {
    const sb_saddle *saddle = &p->instrument.saddles[s];
    const sb_saddle_progress *done = &p->saddles[s];
    const double width = p->instrument.spacing_mm * (double)(saddle->last - saddle->first);
    sb_compromise_options o = {.shape = saddle->shape,
                               .fit = p->options.fit,
                               .limited = saddle->limited || saddle->way == SB_WAY_FIXED};

    if (!sb_saddle_shared(saddle)) {
        o.shape = SB_SHAPE_FLAT;
    }
    o.ends[0] = travel_left(saddle, 0.0, done->moved_mm);
    o.ends[1] =
        travel_left(saddle, width, o.shape == SB_SHAPE_FLAT ? done->moved_mm : done->moved_end_mm);
    return o;
}

/* The strings on a saddle as core/compromise.h wants them; false while one is not known. */
static bool gather(const sb_progress *p, const sb_saddle *saddle, sb_shared_string strings[]) {
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        const sb_string_progress *s = &p->strings[i - 1];
        if (!known(s) || !(s->plan.cents_per_mm > 0.0)) {
            return false;
        }
        strings[i - saddle->first] =
            (sb_shared_string){.needed_mm = s->plan.move_mm,
                               .across_mm = p->instrument.spacing_mm * (double)(i - saddle->first),
                               .cents_per_mm = s->plan.cents_per_mm,
                               .weight = p->options.priority[i - 1]};
    }
    return true;
}

/* Straightens each string's error about the place where the saddle is to stand, so that the
 * strings' curves, not their tangents at the strings' own optima, are balanced. False where a
 * string's error there is not known. */
static bool straighten(const sb_progress *p, const sb_saddle *saddle, const sb_compromise *c,
                       sb_shared_string strings[]) {
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        sb_shared_string *string = &strings[i - saddle->first];
        const sb_learner *learner = &p->strings[i - 1].learner;
        const double there = c->position_mm + c->slope * string->across_mm;
        const double error = sb_learner_error_after(learner, there);
        const double slope = (sb_learner_error_after(learner, there - STEP_MM) - error) / STEP_MM;
        if (!(slope > 0.0) || !isfinite(error)) {
            return false;
        }
        string->cents_per_mm = slope;
        string->needed_mm = there + error / slope;
    }
    return true;
}

static bool solve_place(const sb_progress *p, size_t s, sb_shared_string strings[],
                        sb_compromise *c) {
    const sb_saddle *saddle = &p->instrument.saddles[s];
    const size_t n = saddle->last - saddle->first + 1;
    const sb_compromise_options options = saddle_options(p, s);

    if (!gather(p, saddle, strings) || sb_compromise_place(strings, n, &options, c) != SB_OK) {
        return false;
    }
    for (int round = 0; round < STRAIGHTENINGS; round++) {
        if (!straighten(p, saddle, c, strings) ||
            sb_compromise_place(strings, n, &options, c) != SB_OK) {
            break; /* what there is will do */
        }
    }
    return true;
}

static void place(sb_progress *p, size_t s) {
    const sb_saddle *saddle = &p->instrument.saddles[s];
    sb_saddle_progress *out = &p->saddles[s];
    sb_shared_string strings[SB_MAX_SHARED] = {{.weight = 0.0}};
    const size_t n = saddle->last - saddle->first + 1;
    sb_compromise c = {.position_mm = 0.0};

    out->due = false;
    out->ready = solve_place(p, s, strings, &c);
    if (!out->ready) {
        return;
    }
    out->move_mm = c.position_mm;
    out->end_mm = c.position_mm + c.slope * strings[n - 1].across_mm;
    out->at_limit = c.at_limit;
    out->worst_now_cents = out->worst_after_cents = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double error = p->strings[saddle->first - 1 + i].learner.now.error_cents;
        const double weight = strings[i].weight;
        out->remaining_cents[i] = c.remaining_cents[i];
        out->worst_now_cents = fmax(out->worst_now_cents, weight * fabs(error));
        out->worst_after_cents = fmax(out->worst_after_cents, weight * fabs(c.remaining_cents[i]));
    }
}

static bool any_plan(const sb_progress *p, const sb_saddle *saddle, sb_plan_kind kind) {
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        if (p->strings[i - 1].plan.kind == kind) {
            return true;
        }
    }
    return false;
}

static double most_left(const sb_progress *p, const sb_saddle *saddle) {
    double most = LEAST_GAIN_CENTS;

    for (size_t i = saddle->first; i <= saddle->last; i++) {
        most = fmax(most, p->strings[i - 1].plan.left_std_cents);
    }
    return most;
}

/* A string by itself is moved when its plan says so; strings that share, when the worst of
 * them gains more than readings and hand scatter. */
static bool worth_moving(const sb_progress *p, size_t s) {
    const sb_saddle *saddle = &p->instrument.saddles[s];
    const sb_saddle_progress *at = &p->saddles[s];
    const double gain = at->worst_now_cents - at->worst_after_cents;

    if (!at->ready || any_plan(p, saddle, SB_PLAN_AGAIN) || !any_plan(p, saddle, SB_PLAN_MOVE)) {
        return false;
    }
    if (!sb_saddle_shared(saddle) && !at->at_limit) {
        return true;
    }
    return gain > most_left(p, saddle);
}

static sb_string_state state_of(const sb_progress *p, size_t i, const sb_saddle *saddle,
                                const sb_saddle_progress *at) {
    const sb_string_progress *s = &p->strings[i];

    if (at->due) {
        return SB_STRING_DUE;
    }
    if (s->plan.kind == SB_PLAN_TRUE) {
        return SB_STRING_TRUE;
    }
    if (s->plan.kind != SB_PLAN_MOVE || !at->ready) {
        return SB_STRING_MEASURED;
    }
    if (at->at_limit && fabs(at->remaining_cents[i + 1 - saddle->first]) > STUCK_CENTS) {
        return SB_STRING_STUCK;
    }
    return any_plan(p, saddle, SB_PLAN_AGAIN) ? SB_STRING_MEASURED : SB_STRING_NEAREST;
}

static void judge_saddle(sb_progress *p, size_t s) {
    const sb_saddle *saddle = &p->instrument.saddles[s];
    sb_saddle_progress *at = &p->saddles[s];

    place(p, s);
    at->due = worth_moving(p, s);
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        sb_string_progress *string = &p->strings[i - 1];
        if (string->state == SB_STRING_MEASURED) {
            string->state = state_of(p, i - 1, saddle, at);
        }
        if (at->due) {
            sb_learner_ask(&string->learner, sb_saddle_move_at(saddle, i, at->move_mm, at->end_mm));
        }
    }
}

void sb_progress_judge(sb_progress *progress) {
    for (size_t i = 0; i < progress->instrument.n_strings; i++) {
        judge_string(progress, i);
    }
    for (size_t s = 0; s < progress->instrument.n_saddles; s++) {
        judge_saddle(progress, s);
    }
    progress->judged = true;
}

/* More plucks of what is within the hand's scatter tell only while the readings scatter more. */
static bool wants_pluck(const sb_progress *p, const sb_string_progress *s) {
    const double unsure = 0.5 * p->options.tolerance_cents;

    if (s->state != SB_STRING_MEASURED) {
        return s->state == SB_STRING_NOT_YET || s->state == SB_STRING_STALE ||
               s->state == SB_STRING_MOVED;
    }
    return s->plan.kind == SB_PLAN_AGAIN ||
           (s->plan.kind == SB_PLAN_SCATTER && s->learner.now.error_var > unsure * unsure);
}

size_t sb_progress_next(const sb_progress *progress, size_t last) {
    const size_t n = progress->instrument.n_strings;

    for (size_t k = 0; k < n; k++) {
        const size_t i = (last + k) % n;
        if (wants_pluck(progress, &progress->strings[i])) {
            return i + 1;
        }
    }
    return 0;
}
