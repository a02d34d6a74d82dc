/* learn: what the moves of a saddle teach about it, and the move to make next.
 *
 * Of one string two things are believed: its error e (cents, sharp positive) where the saddle
 * stands, and the gain g by which it answers: the cents that a move really takes away over
 * those that the calculus of core/saddle.h says (retuning and stretch included). Beliefs are
 * normal and joint, so that
 *     a move m:     e -> e - g d(m),  d(m) what the calculus takes away,
 *                   and the variance grows by (cents per mm times the move's error)^2;
 *     a reading y:  the usual update of a linear model
 * (R. E. Kalman, J. Basic Eng. 82, 35, 1960; two states). At first e is unknown and g is 1
 * within SB_GAIN_SPREAD or, where a reading speaks for it, within SB_GAIN_SPREAD_WIDE. What a
 * reading contradicts beyond chance even then is not averaged in: after an entered move it
 * says that the string does not answer as geometry has it; without one, that the saddle was
 * moved and nobody said so.
 *
 * Every reading of one round of plucks contains the earlier ones of that round: it takes
 * their place. Readings of different rounds are taken as independent.
 */
#ifndef SB_LEARN_H
#define SB_LEARN_H

#include <stdbool.h>

#include "core/saddle.h"

/* Prior standard deviation of the gain. The calculus itself is good to some 0.1 % (its error
 * against a full string model is 0.0007 cent of 10). What is not known is the mechanism: a
 * saddle that runs on a plate inclined by 5 degrees rises 0.09 mm a millimetre, which alters
 * the stretch that is a third of the error or more; a screw inclined by 15 degrees moves its
 * saddle 3 % less than its thread says. Judgement, no source. */
#define SB_GAIN_SPREAD 0.05

/* Some mechanisms answer quite differently (another thread than was thought, a string that does
 * not seat): with this chance the gain is only within the wider spread, which is believed where
 * it explains a reading better. Judgement, no source. */
#define SB_GAIN_SPREAD_WIDE 0.2
#define SB_CHANCE_WIDE      0.1

/* How exactly a move is made and read by hand, a standard deviation (common practice, no
 * source), and the slack of a screw that is turned the other way than before. */
#define SB_HAND_MM     0.1
#define SB_BACKLASH_MM 0.15

typedef enum {
    SB_STRAY_NONE,     /* it answers as geometry says */
    SB_STRAY_UNMOVED,  /* hardly a change: the saddle slipped back, or the string hangs elsewhere */
    SB_STRAY_REVERSED, /* it went the other way */
    SB_STRAY_LESS,     /* much less than it should: not seated over the saddle, slack */
    SB_STRAY_MORE,     /* much more */
    SB_STRAY_FALSE,    /* twice in a row, or readings that do not repeat: a false string */
    SB_STRAY_UNSURE    /* one reading that does not repeat the one before: measure again */
} sb_stray;

/* A normal belief about error and gain. */
typedef struct {
    double error_cents, gain;
    double error_var, gain_var, covariance;
} sb_belief;

typedef struct {
    double cents, std_error;
} sb_error_reading;

/* All that is known of one string; begin with sb_learner_begin. The members are to be read. */
typedef struct {
    sb_geometry geometry; /* speaking_mm follows the moves */
    bool known;           /* there was a reading since the last sb_learner_forget */
    bool moved;           /* a move was entered or inferred since the last reading */
    sb_belief now;
    sb_stray stray;     /* what the latest reading said */
    double inferred_mm; /* the move inferred from it; 0 = none */
    double answered;   /* change seen over change expected by the latest entered move; NaN = none */
    int moves, strays; /* since the beginning; strays in a row */
    double asked_mm;   /* the move that was asked for; 0 = none (see sb_learner_ask) */

    /* The round before its latest reading, so that it can be replaced. */
    struct {
        sb_belief belief;
        double speaking_mm, asked_mm;
        bool known, moved, doubted;
        int strays;
        sb_error_reading doubt;
        double from_cents, from_var; /* before the moves since the last reading */
    } before;
    bool doubted; /* `doubt` contradicts the belief, and waits for another */
    sb_error_reading doubt;
    double from_cents, from_var;
} sb_learner;

/* geometry: of the string and its fret; scale and fret within their ranges. */
void sb_learner_begin(sb_learner *learner, const sb_geometry *geometry);

/* The error is unknown again (other strings, action, tuning); the gain is kept. */
void sb_learner_forget(sb_learner *learner);

/* A saddle moved by move_mm, back positive, known to std_error_mm >= 0. Not finite, or beyond
 * what the geometry allows: the error is forgotten instead. */
void sb_learner_move(sb_learner *learner, double move_mm, double std_error_mm);

/* A reading, std_error > 0. fresh: the first of its round; otherwise it takes the place of
 * the round's last. Values that are not finite are passed over. */
void sb_learner_read(sb_learner *learner, sb_error_reading reading, bool fresh);

typedef enum {
    SB_PLAN_UNKNOWN, /* no reading, or moved since */
    SB_PLAN_TRUE,    /* within tolerance as far as anyone can tell */
    SB_PLAN_MOVE,    /* a move makes it better */
    SB_PLAN_SCATTER, /* out of tolerance or perhaps so, but by no more than the readings and the
                        hand scatter: a move is pointless, more plucks may tell */
    SB_PLAN_AGAIN    /* the reading is no guide: measure again */
} sb_plan_kind;

typedef struct {
    sb_plan_kind kind;
    double move_mm, std_error_mm; /* would null the error, back positive; 0 where UNKNOWN */
    double cents_per_mm;          /* as learned, at the place where the string is true */
    double left_std_cents;        /* standard deviation of the error after such a move */
} sb_plan;

/* The chance of an error outside the tolerance from which a string within it is asked to
 * move all the same, provided that the move at least halves the chance. */
#define SB_CHANCE_OUT 0.1

/* What to do next, with a hand of SB_HAND_MM. tolerance_cents > 0. */
sb_plan sb_learner_plan(const sb_learner *learner, double tolerance_cents);

/* A move of move_mm was asked for, 0 = none: where the next reading speaks of such a move, it
 * is taken as made even if nobody says so. */
void sb_learner_ask(sb_learner *learner, double move_mm);

/* The error that the string is expected to have after a move, gain included; NaN where it is
 * not known. */
double sb_learner_error_after(const sb_learner *learner, double move_mm);

#endif
