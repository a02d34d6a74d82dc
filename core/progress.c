#include "core/progress.h"

#include <math.h>
#include <string.h>

#define LEAST_GAIN_CENTS 0.3  /* of a shared saddle's worst string, to be worth a move */
#define STUCK_CENTS      0.5  /* left over where the travel ends, to be called so */
#define STEP_MM          0.05 /* of a difference quotient */
#define STRAIGHTENINGS   3
#define INFERRED_MM      0.3 /* how well one string tells the move of the others */
#define INFERRED_FAR_MM  1.0 /* the same at the other end of a slant */

/* --- words --------------------------------------------------------------------------- */

const char *sb_string_state_text(sb_string_state state) {
    switch (state) {
    case SB_STRING_NOT_YET: return "not yet";
    case SB_STRING_MEASURED: return "measured";
    case SB_STRING_DUE: return "move due";
    case SB_STRING_MOVED: return "moved";
    case SB_STRING_TRUE: return "true";
    case SB_STRING_NEAREST: return "compromise";
    case SB_STRING_STUCK: return "out of travel";
    case SB_STRING_STALE: return "stale";
    }
    return "not yet";
}

static const char *const changes[SB_CHANGES] = {"relief",  "nut",    "action",
                                                "strings", "tuning", "visit"};

const char *sb_change_text(sb_change change) {
    return changes[change];
}

bool sb_change_named(const char *text, sb_change *change) {
    for (int i = 0; i < SB_CHANGES; i++) {
        if (strcmp(changes[i], text) == 0) {
            *change = (sb_change)i;
            return true;
        }
    }
    return false;
}

/* --- saddles ------------------------------------------------------------------------- */

bool sb_saddle_shared(const sb_saddle *saddle) {
    return saddle->last > saddle->first;
}

double sb_saddle_move_at(const sb_saddle *saddle, size_t string, double move_mm, double end_mm) {
    if (!sb_saddle_shared(saddle)) {
        return move_mm;
    }
    const double part = (double)(string - saddle->first) / (double)(saddle->last - saddle->first);
    return move_mm + part * (end_mm - move_mm);
}

size_t sb_progress_saddle(const sb_progress *progress, size_t string) {
    size_t s = 0;

    while (s + 1 < progress->instrument.n_saddles &&
           progress->instrument.saddles[s].last < string) {
        s++;
    }
    return s;
}

static bool valid_string(const sb_progress *p, size_t string) {
    return string >= 1 && string <= p->instrument.n_strings;
}

/* --- what happened ------------------------------------------------------------------- */

sb_progress_options sb_progress_default(void) {
    sb_progress_options options = {
        .tolerance_cents = SB_TOLERANCE_CENTS, .fret = 12, .fit = SB_FIT_LARGEST};

    for (size_t i = 0; i < SB_STRINGS_MAX; i++) {
        options.priority[i] = 1.0;
    }
    return options;
}

static void begin_string(sb_progress *p, size_t i) {
    const sb_geometry geometry = {.scale_mm = p->instrument.strings[i].scale_mm,
                                  .fret = p->options.fret};

    p->strings[i] = (sb_string_progress){.state = SB_STRING_NOT_YET};
    sb_learner_begin(&p->strings[i].learner, &geometry);
}

void sb_progress_begin(sb_progress *progress, const sb_instrument *instrument,
                       const sb_progress_options *options) {
    memset(progress, 0, sizeof *progress);
    progress->instrument = *instrument;
    progress->options = *options;
    for (size_t i = 0; i < instrument->n_strings; i++) {
        begin_string(progress, i);
    }
}

static void spoil(sb_string_progress *s, sb_change change) {
    if (s->has_reading && s->state != SB_STRING_STALE) {
        s->state = SB_STRING_STALE;
        s->spoiled_by = change;
    }
    sb_learner_forget(&s->learner);
}

static void describe_string(sb_progress *p, size_t i, const sb_string *was) {
    const sb_string *is = &p->instrument.strings[i];

    if (is->scale_mm != was->scale_mm) {
        begin_string(p, i);
    } else if (is->semitone != was->semitone) {
        spoil(&p->strings[i], SB_CHANGE_TUNING);
    } else if (is->gauge_mm != was->gauge_mm || is->wound != was->wound) {
        spoil(&p->strings[i], SB_CHANGE_STRINGS);
    }
}

/* Travel that is stated anew counts from there. */
static void describe_saddle(sb_progress *p, size_t s, const sb_saddle *was) {
    const sb_saddle *is = &p->instrument.saddles[s];

    if (is->first != was->first || is->last != was->last || is->forward_mm != was->forward_mm ||
        is->back_mm != was->back_mm || is->limited != was->limited) {
        p->saddles[s].moved_mm = p->saddles[s].moved_end_mm = 0.0;
    }
}

void sb_progress_describe(sb_progress *progress, const sb_instrument *instrument) {
    const sb_instrument was = progress->instrument;

    if (instrument->n_strings != was.n_strings) {
        const sb_progress_options options = progress->options;
        sb_progress_begin(progress, instrument, &options);
        return;
    }
    progress->judged = false;
    progress->instrument = *instrument;
    for (size_t i = 0; i < was.n_strings; i++) {
        describe_string(progress, i, &was.strings[i]);
    }
    for (size_t s = 0; s < instrument->n_saddles; s++) {
        describe_saddle(progress, s, &was.saddles[s]);
    }
}

/* One string tells that the saddle was moved; the others on it were moved by about as much. */
static void move_others(sb_progress *p, size_t string, double move_mm) {
    const sb_saddle *saddle = &p->instrument.saddles[sb_progress_saddle(p, string)];
    const double spread = saddle->shape == SB_SHAPE_SLANT ? INFERRED_FAR_MM : INFERRED_MM;

    for (size_t other = saddle->first; other <= saddle->last; other++) {
        if (other != string) {
            sb_learner_move(&p->strings[other - 1].learner, move_mm, spread);
        }
    }
}

static void count_travel(sb_progress *p, size_t string, double move_mm, double end_mm) {
    sb_saddle_progress *s = &p->saddles[sb_progress_saddle(p, string)];

    s->moved_mm += isfinite(move_mm) ? move_mm : 0.0;
    s->moved_end_mm += isfinite(end_mm) ? end_mm : 0.0;
}

void sb_progress_read(sb_progress *progress, size_t string, sb_error_reading reading, bool fresh) {
    if (!valid_string(progress, string) || !isfinite(reading.cents) || !(reading.std_error > 0.0)) {
        return;
    }
    if (!progress->judged) {
        sb_progress_judge(progress); /* what was asked for may be what was done */
    }
    progress->judged = false;
    sb_string_progress *s = &progress->strings[string - 1];
    const double before = fresh ? 0.0 : s->learner.inferred_mm;
    sb_learner_read(&s->learner, reading, fresh);
    const double inferred = s->learner.inferred_mm;
    count_travel(progress, string, inferred - before, inferred - before);
    if (inferred != 0.0 && before == 0.0) {
        move_others(progress, string, inferred);
    }
    s->has_reading = true;
    s->reading = reading;
    if (s->first.std_error == 0.0) {
        s->first = reading;
    }
    s->state = SB_STRING_MEASURED;
}

void sb_progress_move(sb_progress *progress, size_t string, double move_mm, double end_mm,
                      double std_error_mm) {
    if (!valid_string(progress, string)) {
        return;
    }
    const sb_saddle *saddle = &progress->instrument.saddles[sb_progress_saddle(progress, string)];
    progress->judged = false;
    for (size_t i = saddle->first; i <= saddle->last; i++) {
        sb_learner_move(&progress->strings[i - 1].learner,
                        sb_saddle_move_at(saddle, i, move_mm, end_mm), std_error_mm);
    }
    count_travel(progress, string, move_mm, end_mm);
}

void sb_progress_see(sb_progress *progress, sb_change change) {
    progress->seen[change] = true;
}

void sb_progress_leave(sb_progress *progress) {
    progress->in_visit = false;
}

void sb_progress_change(sb_progress *progress, size_t string, sb_change change) {
    progress->judged = false;
    if (change == SB_CHANGE_VISIT) {
        memset(progress->seen, 0, sizeof progress->seen);
        progress->in_visit = true;
    } else {
        progress->seen[change] = true;
    }
    for (size_t i = 0; i < progress->instrument.n_strings; i++) {
        if (string == 0 || string == i + 1) {
            spoil(&progress->strings[i], change);
        }
        if (change == SB_CHANGE_VISIT) {
            progress->strings[i].first.std_error = 0.0;
        }
    }
}

/* --- judging ------------------------------------------------------------------------- */

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
    sb_shared_string strings[SB_MAX_SHARED];
    const size_t n = saddle->last - saddle->first + 1;
    sb_compromise c;

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
