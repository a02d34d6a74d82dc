/* joint_parts: what the files that fit the strong partials together share. sb_joint_refine
 * and the others of joint.h are all that is called from elsewhere: joint.c weighs the places
 * that are found and reports them; joint_strands.c chooses the partials; joint_search.c says what
 * is tried, joint_evidence.c what speaks for a second line; joint_fit.c holds the priors, the
 * equations and the descent; joint_model.c what a strand's two lines look like at its samples, and
 * the sums over these that the equations are of.
 *
 * Internal to audio/joint*.c.
 */
#ifndef SB_JOINT_PARTS_H
#define SB_JOINT_PARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/cpx.h"
#include "audio/track.h"

enum { SB_JOINT_STRANDS = 20, SB_JOINT_FEWEST = 3, SB_JOINT_POINTS = 96 };

/* By how much two lines must account better for a strand than one, chi-square. */
#define SB_JOINT_LEAST_GAIN 3.0

/* A partial's own unknowns, in real numbers, and those that all share: of either line amplitude
 * and decay, the first one's rad/s from where it was; the glide's amount and the logarithm of its
 * scale, and by what part of the pitch the second line lies above the first. */
enum { A1, B1, D1, W, A2, B2, D2, LOCAL };
enum { GAMMA, SCALE, DETUNE, SHARED };

struct sb_joint_wave {
    double re[SB_JOINT_POINTS], im[SB_JOINT_POINTS];
};

/* Normal equations of a partial's own unknowns: their block, whose lower half becomes Cholesky's,
 * that with the shared unknowns, and the right-hand side. */
struct sb_joint_own {
    double h[LOCAL][LOCAL], c[LOCAL][SHARED], g[LOCAL];
};

/* And of the shared ones. */
struct sb_joint_common {
    double h[SHARED][SHARED], g[SHARED];
};

/* One partial: its band, turned down by its first line and averaged to few samples. */
struct sb_joint_strand {
    sb_track *of;
    size_t n;
    double t0_s, step_s, hz, weight; /* weight: 1/variance of a real part */
    double heard;                    /* that by the noise round the partial */
    double size, decay_per_s;        /* of the first line, before there was a second */
    sb_cpx z[SB_JOINT_POINTS];
    double x[LOCAL];                 /* unknowns; time counts from the first sample */
    double ahead_s[SB_JOINT_POINTS]; /* that the present glide has taken out */
    double unit[2][SB_JOINT_POINTS]; /* ahead by a glide of unit amount, and slope */
    struct sb_joint_wave still;      /* z turned back by the glide */
    struct sb_joint_own own;
    double step[LOCAL]; /* of the own unknowns */
};

struct sb_joint_fit {
    size_t n, locals;       /* locals: LOCAL with a second line, else A2 */
    double since_pluck_s;   /* at t = 0 */
    double known;           /* distance of the two lines that was found before; 0 = none */
    bool no_glide, ordered; /* ordered: the first lines are the stronger */
    bool looked;            /* for a second line */
    double shared[SHARED];
    sb_glide unit;          /* the glide of gamma 1, scale 1 */
    double shape_gamma;     /* that it had before */
    double tabled, stilled; /* scale that unit[][] holds for, 0 = none; gamma, still[][] */
    double cost, slack;     /* slack: a fall of the cost that is not worth going on for, about */
    int rounds;             /* of a descent, at most */
    double alone[SB_JOINT_STRANDS]; /* once looked: what each says against one line, see account */
    struct sb_joint_strand *strands;
    struct sb_joint_common common;
};

struct sb_joint_unknowns {
    double shared[SHARED], x[SB_JOINT_STRANDS][LOCAL], weight[SB_JOINT_STRANDS];
};

/* A strand's lines of unit amplitude at its samples, the glide turned back, and what both leave of
 * the samples. Of an odd number of samples one more is 0. */
struct sb_joint_columns {
    struct sb_joint_wave e1, e2, rest;
};

/* The model's derivatives are combinations of four columns: either line, and either times the time
 * since the first sample. */
enum { LINE1, RISE1, LINE2, RISE2, SPAN };

/* by: of which the derivatives by the own unknowns are made. gram: the four's products with each
 * other; on: with the derivatives; on_rest: with what is left. */
struct sb_joint_sums {
    sb_cpx by[LOCAL][SPAN], gram[SPAN][SPAN], on[LOCAL][SPAN], on_rest[SPAN];
};

/* The four's products with the derivatives by the shared unknowns; these' with what is left and
 * with each other (lower half). */
struct sb_joint_shared_sums {
    sb_cpx on[SHARED][SPAN];
    double on_rest[SHARED], each_other[SHARED][SHARED];
};

/* Fills in unit[][] and still[][] for the present glide: before any sb_joint_expand. */
void sb_joint_tabulate(struct sb_joint_fit *fit);

void sb_joint_expand(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                     struct sb_joint_columns *column);

/* Power of what is left. */
double sb_joint_rest_power(const struct sb_joint_columns *column, size_t n);

/* Returns the same. */
double sb_joint_sum(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                    const struct sb_joint_columns *column, struct sb_joint_sums *sums);

void sb_joint_sum_shared(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                         const struct sb_joint_columns *column, const struct sb_joint_sums *sums,
                         struct sb_joint_shared_sums *shared);

/* Real part of the product of a combination with what the four's products are given with. */
double sb_joint_product(const sb_cpx of[SPAN], const sb_cpx on[SPAN]);

/* Cost, minus twice the logarithm of the posterior, and the normal equations round the present
 * unknowns. */
double sb_joint_linearise(struct sb_joint_fit *fit);

/* Takes the partials' own unknowns out of the shared ones' equations, each strand keeping in
 * own.c what a shared step does to its own, negative, and in step[] its own step without. False
 * where they are singular. */
bool sb_joint_eliminate(struct sb_joint_fit *fit, double damping);

/* From the present unknowns until the cost sinks no more. Leaves the unknowns at the best place
 * found and the equations round it. The second form takes cost and equations as they are, and is
 * content with a cost below `enough`. */
void sb_joint_descend(struct sb_joint_fit *fit);
void sb_joint_descend_on(struct sb_joint_fit *fit, double enough);

/* 1/variance of a real part of what the model leaves of the strand's samples. */
double sb_joint_own_weight(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand);

/* Takes for each strand's noise what the model leaves of it. Returns minus twice the logarithm of
 * the posterior with the noises unknown, but for a constant: to be compared between models. */
double sb_joint_reweigh(struct sb_joint_fit *fit);

/* What is left, smoothed, over what it would be were it white: of all strands together, at least 1.
 * What a model does not account for is smooth, and counts for the more in the smooth unknowns. */
double sb_joint_colour(const struct sb_joint_fit *fit);

/* Minus twice the logarithm of what was held likely of a strand's own unknowns, but for what is the
 * same with one line and with two. */
double sb_joint_own_prior(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand);

/* The strand's own unknowns alone, of two lines, as the shared ones are. Returns its cost. */
double sb_joint_settle(const struct sb_joint_fit *fit, struct sb_joint_strand *strand);

void sb_joint_save(const struct sb_joint_fit *fit, struct sb_joint_unknowns *to);
void sb_joint_restore(struct sb_joint_fit *fit, const struct sb_joint_unknowns *from);

/* Makes the second line the first. */
void sb_joint_swap_lines(const struct sb_joint_fit *fit, struct sb_joint_strand *strand);

/* Gives every strand a second line so far above the first, by what the first leaves, and settles
 * it. Returns what all cost together, but a strand that fits badly anyhow has little say. */
double sb_joint_split_all(struct sb_joint_fit *fit, double detune);

/* Looks for a second line beside each strand's. False where one line is as good; `looked` says
 * whether it was worth trying. Else *places are the best one where what bends the phases is a glide
 * besides and the best where it may all be beating, the likelier first. */
bool sb_joint_find_second(struct sb_joint_fit *fit, struct sb_joint_unknowns places[2]);

/* Two lines so far apart beside each other, from the unknowns of one: at their best place. Returns
 * what sb_joint_reweigh does. */
double sb_joint_try_planes(struct sb_joint_fit *fit, double apart);

/* Looks for a glide and two lines together, whatever glide there was: at the best place that any of
 * several beginnings leads to. */
void sb_joint_search_glide(struct sb_joint_fit *fit);

/* Descends without a glide, and stays there where that is about as good. */
void sb_joint_do_without_glide(struct sb_joint_fit *fit);

/* What each strand says against the model at its best place: minus twice the logarithm of its
 * evidence by Laplace's approximation (Kass & Raftery, J. Am. Stat. Assoc. 90, 773, 1995), its
 * noise unknown, but for what is the same with one line and with two. Leaves the weights at what is
 * left there, and the equations solved; false where they are singular. */
bool sb_joint_account(struct sb_joint_fit *fit, double of[SB_JOINT_STRANDS]);

/* By how much two lines account better than one for a strand: a mean over those that do not speak
 * most for it. */
double sb_joint_gain(const double alone[], const double both[], size_t n);

/* Does the second line, now in the model, explain more than chance would, though the noise hides
 * most of it? alone: one line's best place, whose weights are by what that left. Of any partial a
 * second line leaves little less than one does then; of all together it can be beyond chance. */
bool sb_joint_beyond_chance(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone);

/* A cost of one line, fit->cost being that of now, below which no second one is worth looking for.
 */
double sb_joint_least_to_look_at(const struct sb_joint_fit *fit);

/* Takes the glide out of the model, each strand keeping what of it a steady pitch can imitate,
 * so that the fit begins near where it will end. */
void sb_joint_turn_glide_into_pitch(struct sb_joint_fit *fit);

/* Puts another glide in its place, in the same way. */
void sb_joint_exchange_glide(struct sb_joint_fit *fit, const sb_glide *glide);

double sb_joint_degrees_of_freedom(const struct sb_joint_fit *fit);

/* Both of equations just eliminated without damping. How one of a strand's own unknowns varies
 * with its own noise alone; and what the shared unknowns' errors do to all pitches alike,
 * relative, their variances multiplied by excess. */
double sb_joint_own_variance(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                             size_t unknown);
double sb_joint_common_std(struct sb_joint_fit *fit, double excess);

/* ---- which partials, and what of them: joint_strands.c ---- */

/* What a strand holds of its band: not the lines that are neither plane's or, where the glide is
 * not known, which looks like other lines, all. */
enum sb_joint_held { SB_JOINT_OWN_LINES, SB_JOINT_ALL_LINES };

/* Strong enough to be one. */
bool sb_joint_is_strong(const sb_track *track);

/* Fills *strand from a track whose band has `present` taken out; false where it is too short. */
bool sb_joint_begin_strand(struct sb_joint_strand *strand, sb_track *track, const sb_glide *present,
                           enum sb_joint_held held);

/* The tracks that say most of what is shared, strongest first. Returns how many. */
size_t sb_joint_choose(sb_track tracks[], size_t n, const sb_glide *present,
                       struct sb_joint_strand strands[SB_JOINT_STRANDS]);

/* The tracks that a glide, if it is none, has not driven out of their bands; all lines held. */
size_t sb_joint_choose_held(sb_track tracks[], size_t n, const sb_glide *present,
                            struct sb_joint_strand strands[SB_JOINT_STRANDS]);

#endif
