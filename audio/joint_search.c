#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/joint_parts.h"
#include "core/pitch.h"

enum { DETUNES = 10, HALVINGS = 3, WEIGHINGS = 2, FEWEST_GAIN = 3 };
enum { SEARCH_ROUNDS = 20, ROUNDS = 120 }; /* lines that lie close are a long valley */

static const double FIRST_DETUNE = 0.0002, DETUNE_GROWTH = 1.35;
/* With a second line what is left must fall to less than this part of what it was, as a geometric
 * mean of all strands'; and so far that of most of them. */
static const double LEAST_FALL = 2.5, LEAST_GAIN = 1.5;
/* Of the first line's amplitude: a second plane has as a rule no less. */
static const double FAINT_SECOND = 0.1;
/* And what is left may not be much more than noise, nor than a root of that fall: two lines account
 * for a part of anything. Once the planes are known less is asked. */
static const double MOST_LEFT = 1.6, MOST_LEFT_KNOWN = 3.0, LEFT_POWER = 0.25;
/* Not worth a closer look: so small a fall before the descent; or this much left after one that is
 * not much larger. */
static const double HOPELESS_FALL = 1.7, POOR_FALL = 3.4, POOR_LEFT = 4.0;
static const double NEARLY = 2.0; /* so far off it is worth going on */
/* Of the cost: while it is looked where the lines are, and once they are found. */
static const double SEARCH_SLACK = 0.1, SLACK = 1e-3;
static const double GLIDE_WORTH = 16.0; /* chi-square that a glide must explain */

/* ---- a second line so far off ---- */

/* Amplitude of a second line that far apart, by a strand's residual. What the first line could
 * take up by itself does not count. */
static sb_cpx second_amplitude(const struct sb_joint_fit *fit,
                               const struct sb_joint_strand *strand) {
    struct sb_joint_columns column;
    struct sb_joint_sums sums;
    sb_joint_expand(fit, strand, &column);
    (void)sb_joint_sum(fit, strand, &column, &sums);
    const sb_cpx *line = sums.gram[LINE1], *rise = sums.gram[RISE1], *rest = sums.on_rest;
    double level = line[LINE1].re, tilt = line[RISE1].re, bow = rise[RISE1].re;
    double det = level * bow - tilt * tilt;
    sb_cpx as_line = {(bow * line[LINE2].re - tilt * rise[LINE2].re) / det,
                      (bow * line[LINE2].im - tilt * rise[LINE2].im) / det};
    sb_cpx as_rise = {(level * rise[LINE2].re - tilt * line[LINE2].re) / det,
                      (level * rise[LINE2].im - tilt * line[LINE2].im) / det};
    const sb_cpx own[SPAN] = {[LINE1] = {-as_line.re, -as_line.im},
                              [RISE1] = {-as_rise.re, -as_rise.im},
                              [LINE2] = {1.0, 0.0}};
    const sb_cpx turned[SPAN] = {[LINE1] = {as_line.im, -as_line.re},
                                 [RISE1] = {as_rise.im, -as_rise.re},
                                 [LINE2] = {0.0, 1.0}};
    double left = sb_joint_product(own, sums.on[A2]);
    if (!(left > 1e-3 * sums.gram[LINE2][LINE2].re))
        return (sb_cpx){0, 0};
    return (sb_cpx){sb_joint_product(own, rest) / left, sb_joint_product(turned, rest) / left};
}

void sb_joint_swap_lines(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double *x = strand->x, old[LOCAL];
    memcpy(old, x, sizeof old);
    x[W] += SB_TWO_PI * strand->hz * fit->shared[DETUNE];
    x[A1] = old[A2], x[B1] = old[B2], x[D1] = old[D2];
    x[A2] = old[A1], x[B2] = old[B1], x[D2] = old[D1];
}

/* A strand with a second line that far above the first. The line that one alone found may be
 * either. Returns its cost. */
static double split(struct sb_joint_fit *fit, struct sb_joint_strand *strand, double detune) {
    double best[LOCAL], alone[LOCAL], least = (double)INFINITY;
    memcpy(alone, strand->x, sizeof alone);
    memcpy(best, alone, sizeof best);
    fit->locals = LOCAL;
    for (int way = 0; way < 2; way++) {
        memcpy(strand->x, alone, sizeof alone);
        fit->shared[DETUNE] = way ? -detune : detune;
        strand->x[A2] = strand->x[B2] = 0;
        strand->x[D2] = strand->x[D1];
        sb_cpx amplitude = second_amplitude(fit, strand);
        strand->x[A2] = amplitude.re;
        strand->x[B2] = amplitude.im;
        if (way)
            sb_joint_swap_lines(fit, strand);
        fit->shared[DETUNE] = detune;
        double cost = sb_joint_settle(fit, strand);
        if (cost < least)
            least = cost, memcpy(best, strand->x, sizeof best);
    }
    memcpy(strand->x, best, sizeof best);
    return least;
}

double sb_joint_split_all(struct sb_joint_fit *fit, double detune) {
    double sum = 0;
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        double free = 2.0 * (double)fit->strands[i].n;
        sum += free * log(1.0 + split(fit, &fit->strands[i], detune) / free);
    }
    return sum;
}

/* ---- how far off it is ---- */

/* Tries a distance of the lines, from the unknowns as they were with one line. */
static double try_detune(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                         double detune) {
    sb_joint_restore(fit, alone);
    return sb_joint_split_all(fit, detune);
}

/* A distance, and what it costs. */
struct distance {
    double detune, cost;
};

static void try_better(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                       double detune, struct distance *best) {
    double cost = try_detune(fit, alone, detune);
    if (cost < best->cost)
        *best = (struct distance){detune, cost};
}

/* The likeliest distance: the best of many, or the one that is known, then ever nearer to it. */
static double find_detune(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    struct distance best = {0, (double)INFINITY};
    if (fit->known > 0)
        best.detune = fit->known, best.cost = try_detune(fit, alone, fit->known);
    else
        for (size_t i = 0; i < DETUNES; i++)
            try_better(fit, alone, FIRST_DETUNE * pow(DETUNE_GROWTH, (double)i), &best);
    double ratio = DETUNE_GROWTH;
    for (int halving = 0; halving < HALVINGS; halving++) {
        ratio = sqrt(ratio);
        double middle = best.detune;
        try_better(fit, alone, middle / ratio, &best);
        try_better(fit, alone, middle * ratio, &best);
    }
    return best.detune;
}

/* From where it is to its best place, the noise being what is left there. */
static double descend_weighed(struct sb_joint_fit *fit) {
    for (int i = 0; i < WEIGHINGS; i++) {
        (void)sb_joint_reweigh(fit);
        sb_joint_descend(fit);
    }
    double merit = sb_joint_reweigh(fit);
    fit->cost = sb_joint_linearise(fit);
    return merit;
}

/* Geometric means over the strands: variance of what the fit leaves over that of the noise round
 * the partials; and that by which it fell since `alone`. */
struct gain {
    double left, fall;
};

static struct gain gain_of(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    double left = 0, fall = 0;
    for (size_t i = 0; i < fit->n; i++) {
        double weight = sb_joint_own_weight(fit, &fit->strands[i]);
        left += log(fit->strands[i].heard / weight);
        fall += log(weight / alone->weight[i]);
    }
    return (struct gain){exp(left / (double)fit->n), exp(fall / (double)fit->n)};
}

/* Puts a second line where it does best. */
static void place_second(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns from;
    sb_joint_save(fit, &from);
    (void)try_detune(fit, &from, find_detune(fit, &from));
}

static bool is_hopeless(const struct gain *gain) {
    return gain->fall < HOPELESS_FALL || (gain->fall < POOR_FALL && gain->left > POOR_LEFT);
}

/* Whether a faint second line would show in a strand. */
static bool could_gain(const struct sb_joint_strand *strand) {
    double held = fmin((double)strand->n, 0.5 / (strand->decay_per_s * strand->step_s));
    double faint = FAINT_SECOND * FAINT_SECOND * strand->size * strand->size * held;
    return strand->weight * faint > (LEAST_GAIN - 1.0) * 2.0 * (double)strand->n;
}

/* Another string's line near one partial or two, or hum there, is no plane: that betters most of
 * those that it could. */
static bool most_gain(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    size_t gained = 0, could = 0;
    for (size_t i = 0; i < fit->n; i++) {
        bool has = fit->strands[i].weight > LEAST_GAIN * alone->weight[i];
        gained += has;
        could += has || could_gain(&fit->strands[i]);
    }
    return gained >= FEWEST_GAIN && 2 * gained > could;
}

static void place_without_glide(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    sb_joint_restore(fit, alone);
    fit->locals = A2;
    fit->no_glide = true;
    sb_joint_turn_glide_into_pitch(fit);
    sb_joint_descend(fit);
    place_second(fit);
    (void)descend_weighed(fit);
    fit->no_glide = false;
}

/* `ease` above 1 asks for less. */
static bool is_enough(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                      double ease) {
    struct gain gain = gain_of(fit, alone);
    if (sb_joint_beyond_chance(fit, alone))
        return true;
    double most = fit->known > 0 ? MOST_LEFT_KNOWN : MOST_LEFT;
    return gain.fall * ease > LEAST_FALL && most_gain(fit, alone) &&
           gain.left < ease * fmax(most, pow(gain.fall, LEFT_POWER));
}

/* From two places to the better one's best place. */
static void take_better(struct sb_joint_fit *fit, const struct sb_joint_unknowns *first,
                        const struct sb_joint_unknowns *second) {
    struct sb_joint_unknowns there;
    sb_joint_restore(fit, second);
    double merit = descend_weighed(fit);
    sb_joint_save(fit, &there);
    sb_joint_restore(fit, first);
    if (descend_weighed(fit) < merit)
        return;
    sb_joint_restore(fit, &there);
    fit->cost = sb_joint_linearise(fit);
}

/* A second line beside each partial; what passed for a glide may all have been beating, so
 * it is looked for without one, too. False where one line is as good. */
static bool add_second(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns alone, gliding, freed;
    (void)descend_weighed(fit);
    sb_joint_save(fit, &alone);
    fit->slack = SEARCH_SLACK;
    place_second(fit);
    struct gain gain = gain_of(fit, &alone);
    if (is_hopeless(&gain) && !sb_joint_beyond_chance(fit, &alone))
        return false;
    (void)descend_weighed(fit);
    sb_joint_save(fit, &gliding);
    bool near = is_enough(fit, &alone, NEARLY);
    place_without_glide(fit, &alone);
    sb_joint_save(fit, &freed);
    if (!near && !is_enough(fit, &alone, NEARLY))
        return false;
    fit->slack = SLACK;
    fit->rounds = ROUNDS;
    take_better(fit, &gliding, &freed);
    return is_enough(fit, &alone, 1.0);
}

/* A slow glide and the pitch itself look much alike: without need there is none. */
static void do_without_glide(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns with;
    sb_joint_save(fit, &with);
    double cost = fit->cost;
    fit->no_glide = true;
    sb_joint_turn_glide_into_pitch(fit);
    sb_joint_descend(fit);
    if (fit->cost < cost + GLIDE_WORTH)
        return;
    fit->no_glide = false;
    sb_joint_restore(fit, &with);
    sb_joint_descend(fit);
}

bool sb_joint_find_second(struct sb_joint_fit *fit) {
    fit->slack = SLACK;
    fit->rounds = SEARCH_ROUNDS;
    fit->cost = sb_joint_linearise(fit);
    /* As a rule one line fits so well that there is nothing to look for. */
    double enough =
        fmin(LEAST_FALL * sb_joint_degrees_of_freedom(fit), sb_joint_least_to_look_at(fit));
    if (fit->cost < enough)
        return false;
    sb_joint_descend_on(fit, enough);
    if (fit->cost < enough)
        return false;
    fit->looked = true;
    if (!add_second(fit))
        return false;
    do_without_glide(fit);
    return true;
}
