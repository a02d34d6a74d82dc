#include "core/learn.h"

#include <math.h>
#include <string.h>

#define STRAY_Z       3.5 /* standard deviations of a surprise after an entered move */
#define INFER_Z       3.0 /* and without one */
#define ODD_ANSWER    0.3 /* part of the expected change, to be spoken of */
#define LEAST_STRAY   0.6 /* cents; smaller surprises mean nothing at the bench */
#define MOST_DEVIANTS 1e6

/* --- the calculus with a gain -------------------------------------------------------- */

/* What the calculus takes away from error e by a move; false beyond its domain. */
static bool taken_away(const sb_geometry *geometry, double error_cents, double move_mm,
                       double *cents) {
    double left = 0.0;

    if (sb_saddle_error_after(geometry, error_cents, move_mm, &left) != SB_OK) {
        return false;
    }
    *cents = error_cents - left;
    return true;
}

/* --- beliefs ------------------------------------------------------------------------- */

static void update(sb_belief *b, sb_error_reading reading) {
    const double variance = b->error_var + reading.std_error * reading.std_error;
    const double gain_e = b->error_var / variance, gain_g = b->covariance / variance;
    const double surprise = reading.cents - b->error_cents;

    b->error_cents += gain_e * surprise;
    b->gain += gain_g * surprise;
    b->gain_var -= gain_g * b->covariance;
    b->covariance -= gain_e * b->covariance;
    b->error_var -= gain_e * b->error_var;
}

static void restart(sb_learner *l, sb_error_reading reading) {
    l->now.error_cents = reading.cents;
    l->now.error_var = reading.std_error * reading.std_error;
    l->now.covariance = 0.0;
}

static void open_gain(sb_learner *l) {
    l->now.gain = 1.0;
    l->now.gain_var = SB_GAIN_SPREAD_WIDE * SB_GAIN_SPREAD_WIDE;
}

static double surprise_of(const sb_belief *b, sb_error_reading reading) {
    return reading.cents - b->error_cents;
}

static bool surprising(const sb_belief *b, sb_error_reading reading, double z) {
    const double size = fabs(surprise_of(b, reading));

    return size > LEAST_STRAY &&
           size > z * sqrt(b->error_var + reading.std_error * reading.std_error);
}

double sb_learner_error_after(const sb_learner *learner, double move_mm) {
    double cents = 0.0;

    return learner->known &&
                   taken_away(&learner->geometry, learner->now.error_cents, move_mm, &cents)
               ? learner->now.error_cents - learner->now.gain * cents
               : (double)NAN;
}

void sb_learner_begin(sb_learner *learner, const sb_geometry *geometry) {
    memset(learner, 0, sizeof *learner);
    learner->geometry = *geometry;
    if (learner->geometry.speaking_mm == 0.0) {
        learner->geometry.speaking_mm = geometry->scale_mm;
    }
    learner->now.gain = 1.0;
    learner->now.gain_var = SB_GAIN_SPREAD * SB_GAIN_SPREAD;
    learner->answered = (double)NAN;
}

void sb_learner_forget(sb_learner *learner) {
    learner->known = learner->moved = learner->doubted = false;
    learner->asked_mm = 0.0;
    learner->now.error_cents = learner->now.error_var = learner->now.covariance = 0.0;
    learner->stray = SB_STRAY_NONE;
    learner->strays = 0;
    learner->inferred_mm = 0.0;
    learner->answered = (double)NAN;
}

/* --- moves --------------------------------------------------------------------------- */

static void shift_saddle(sb_learner *l, double move_mm) {
    const double speaking = l->geometry.speaking_mm + move_mm;
    const double fret = sb_fret_position_mm(l->geometry.scale_mm, l->geometry.fret);

    if (speaking > fret && speaking <= 2.0 * l->geometry.scale_mm) {
        l->geometry.speaking_mm = speaking;
    }
}

void sb_learner_move(sb_learner *learner, double move_mm, double std_error_mm) {
    sb_belief *b = &learner->now;
    double cents = 0.0;

    if (move_mm == 0.0) {
        return;
    }
    if (!learner->moved) {
        learner->from_cents = b->error_cents;
        learner->from_var = b->error_var;
    }
    if (learner->known && (!isfinite(move_mm) || !isfinite(std_error_mm) ||
                           !taken_away(&learner->geometry, b->error_cents, move_mm, &cents))) {
        sb_learner_forget(learner);
    } else if (learner->known) {
        const double slip = b->gain * cents / move_mm * std_error_mm;
        b->error_cents -= b->gain * cents;
        b->error_var += cents * cents * b->gain_var - 2.0 * cents * b->covariance + slip * slip;
        b->covariance -= cents * b->gain_var;
    }
    if (isfinite(move_mm)) {
        shift_saddle(learner, move_mm);
    }
    learner->moved = true;
    learner->doubted = false;
    learner->asked_mm = 0.0;
    learner->moves++;
}

/* --- readings ------------------------------------------------------------------------ */

/* The belief if the gain had been open wider before the moves since the last reading. */
static sb_belief widened(const sb_learner *l) {
    sb_belief b = l->now;
    const double more = SB_GAIN_SPREAD_WIDE * SB_GAIN_SPREAD_WIDE - b.gain_var;
    const double taken = (l->from_cents - b.error_cents) / b.gain;

    if (more > 0.0) {
        b.error_var += taken * taken * more;
        b.covariance -= taken * more;
        b.gain_var += more;
    }
    return b;
}

/* Log likelihood of a reading. */
static double evidence(const sb_belief *b, sb_error_reading reading) {
    const double variance = b->error_var + reading.std_error * reading.std_error;
    const double surprise = surprise_of(b, reading);

    return -0.5 * (surprise * surprise / variance + log(variance));
}

/* What an answer of another size than expected says; `far`: beyond any gain. */
static sb_stray name_stray(const sb_learner *l, sb_error_reading reading, bool far) {
    const double expected = l->from_cents - l->now.error_cents;
    const double seen = l->from_cents - reading.cents;
    const double noise = sqrt(l->from_var + reading.std_error * reading.std_error);

    if (!far && fabs(l->answered - 1.0) < ODD_ANSWER) {
        return SB_STRAY_NONE;
    }
    if (l->strays > 0) {
        return SB_STRAY_FALSE;
    }
    if (fabs(seen) <= fmax(2.0 * noise, 0.25 * fabs(expected))) {
        return SB_STRAY_UNMOVED;
    }
    if (seen * expected < 0.0) {
        return SB_STRAY_REVERSED;
    }
    return fabs(seen) < fabs(expected) ? SB_STRAY_LESS : SB_STRAY_MORE;
}

static void read_after_move(sb_learner *l, sb_error_reading reading) {
    const double expected = l->from_cents - l->now.error_cents;
    const sb_belief wide = widened(l);
    const bool far = surprising(&wide, reading, STRAY_Z);

    l->answered = expected != 0.0 ? (l->from_cents - reading.cents) / expected : (double)NAN;
    if (surprising(&l->now, reading, STRAY_Z)) {
        l->stray = name_stray(l, reading, far);
    }
    l->strays = l->stray == SB_STRAY_NONE ? 0 : l->strays + 1;
    if (far) {
        restart(l, reading);
        open_gain(l);
        return;
    }
    if (evidence(&wide, reading) + log(SB_CHANCE_WIDE) >
        evidence(&l->now, reading) + log(1.0 - SB_CHANCE_WIDE)) {
        l->now = wide;
    }
    update(&l->now, reading);
}

/* The saddle must have been moved: by how much? */
static void infer_move(sb_learner *l, sb_error_reading reading) {
    double move = 0.0;
    const double taken = (l->now.error_cents - reading.cents) / l->now.gain;

    if (sb_saddle_move_taking(&l->geometry, l->now.error_cents, taken, &move) == SB_OK) {
        l->inferred_mm = move;
        shift_saddle(l, move);
        l->moves++;
    }
    restart(l, reading);
    l->doubted = false;
}

/* Whether a reading is nearer to what the move that was asked for makes than to no move. */
static bool speaks_of_asked(const sb_learner *l, sb_error_reading reading) {
    return l->asked_mm != 0.0 && fabs(reading.cents - sb_learner_error_after(l, l->asked_mm)) <
                                     fabs(surprise_of(&l->now, reading));
}

/* A reading that contradicts the one before with no move between: where it speaks of a move
 * that was asked for, that was made; else only a second such reading is believed. */
static void read_unmoved(sb_learner *l, sb_error_reading reading) {
    const sb_belief doubt = {.error_cents = l->doubt.cents,
                             .error_var = l->doubt.std_error * l->doubt.std_error};
    const bool agrees = l->doubted && !surprising(&doubt, reading, INFER_Z);

    if (!surprising(&l->now, reading, INFER_Z)) {
        update(&l->now, reading);
        l->doubted = false;
    } else if (speaks_of_asked(l, reading)) {
        infer_move(l, reading);
    } else if (agrees) {
        infer_move(l, reading);
        update(&l->now, l->doubt);
    } else {
        l->stray = l->doubted ? SB_STRAY_FALSE : SB_STRAY_UNSURE;
        l->doubted = true;
        l->doubt = reading;
    }
}

static void keep_round(sb_learner *l) {
    l->before.belief = l->now;
    l->before.speaking_mm = l->geometry.speaking_mm;
    l->before.known = l->known;
    l->before.moved = l->moved;
    l->before.asked_mm = l->asked_mm;
    l->before.doubted = l->doubted;
    l->before.doubt = l->doubt;
    l->before.strays = l->strays;
    l->before.from_cents = l->from_cents;
    l->before.from_var = l->from_var;
}

static void return_to_round(sb_learner *l) {
    l->now = l->before.belief;
    l->geometry.speaking_mm = l->before.speaking_mm;
    l->known = l->before.known;
    l->moved = l->before.moved;
    l->asked_mm = l->before.asked_mm;
    l->doubted = l->before.doubted;
    l->doubt = l->before.doubt;
    l->strays = l->before.strays;
    l->from_cents = l->before.from_cents;
    l->from_var = l->before.from_var;
    l->moves -= l->inferred_mm != 0.0;
}

void sb_learner_read(sb_learner *learner, sb_error_reading reading, bool fresh) {
    if (!isfinite(reading.cents) || !(reading.std_error > 0.0) ||
        !(reading.std_error < MOST_DEVIANTS)) {
        return;
    }
    if (fresh || !learner->known) {
        keep_round(learner);
    } else {
        return_to_round(learner);
    }
    learner->stray = SB_STRAY_NONE;
    learner->inferred_mm = 0.0;
    learner->answered = (double)NAN;
    if (!learner->known) {
        restart(learner, reading);
    } else if (learner->moved) {
        read_after_move(learner, reading);
    } else {
        read_unmoved(learner, reading);
    }
    learner->known = true;
    learner->moved = false;
}

void sb_learner_ask(sb_learner *learner, double move_mm) {
    learner->asked_mm = isfinite(move_mm) ? move_mm : 0.0;
}
