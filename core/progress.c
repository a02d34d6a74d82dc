#include "core/progress.h"

#include <math.h>
#include <string.h>

#define INFERRED_MM     0.3 /* how well one string tells the move of the others */
#define INFERRED_FAR_MM 1.0 /* the same at the other end of a slant */

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
    if (is->first != was->first || is->last != was->last) {
        p->saddles[s].visit_mm = p->saddles[s].visit_end_mm = 0.0;
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
    s->visit_mm += isfinite(move_mm) ? move_mm : 0.0;
    s->visit_end_mm += isfinite(end_mm) ? end_mm : 0.0;
}

void sb_progress_read(sb_progress *progress, size_t string, sb_error_reading reading, bool fresh) {
    if (!valid_string(progress, string) || !isfinite(reading.cents) || !(reading.std_error > 0.0)) {
        return;
    }
    if (fresh && !progress->judged) {
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
    if (s->first.std_error == 0.0 || (s->first_round && !fresh)) {
        s->first = reading;
        s->first_round = true;
    } else {
        s->first_round = false;
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
        for (size_t s = 0; s < progress->instrument.n_saddles; s++) {
            progress->saddles[s].visit_mm = progress->saddles[s].visit_end_mm = 0.0;
        }
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
