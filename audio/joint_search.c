#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/joint.h"
#include "audio/joint_parts.h"
#include "core/pitch.h"

enum { DETUNES = 10, HALVINGS = 3, WEIGHINGS = 2 };
enum { BEGUN_GLIDES = 2, BEGUN_PLANES = 2 };
enum { SEARCH_ROUNDS = 20, ROUNDS = 120 }; /* lines that lie close are a long valley */

static const double FIRST_DETUNE = 0.0002, DETUNE_GROWTH = 1.35;
/* SB_JOINT_LEAST_GAIN where the distance is known; and what falls short by so much before they are
 * at their best place may yet come to it. */
static const double LEAST_GAIN_KNOWN = -4.0, HOPE = 20.0, NEARLY = 8.0, EASE = 2.0;
/* And what is left may not be much more than noise, nor than a root of that by which it fell: two
 * lines account for a part of anything. Not so once the planes are known: without them the note
 * would be measured by what they leave of it. */
static const double MOST_LEFT = 1.6, LEFT_POWER = 0.25;
/* Farther apart, by what is left of a glide or by another string as likely as not. */
static const double MOST_APART = 0.002;
/* Not worth a closer look either: so much left after a fall that is not much larger. */
static const double POOR_FALL = 3.4, POOR_LEFT = 4.0;
/* Of the cost: while it is looked where the lines are, and once they are found. */
static const double SEARCH_SLACK = 0.1, SLACK = 1e-3;
static const double GLIDE_WORTH = 16.0; /* chi-square that a glide must explain */
/* From these a search leads to the best place as often as from four times as many. */
static const double BEGUN_CENTS[BEGUN_GLIDES] = {2.5, 6.0};
static const double BEGUN_APART[BEGUN_PLANES] = {SB_PLANES_USUAL_APART,
                                                 1.9 * SB_PLANES_USUAL_APART};
static const double BEGUN_TAU_S = 0.35;

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

/* Puts a second line where it does best. */
static void place_second(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns from;
    sb_joint_save(fit, &from);
    (void)try_detune(fit, &from, find_detune(fit, &from));
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

/* How the two lines, now in the model, account for the strands: by how much better than one, and
 * whether they leave little. Leaves the weights at what is left. */
struct account {
    double gain, left, fall;
    bool leaves_little;
};

/* `ease` above 1 asks for less. */
static struct account account_of(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                                 double ease) {
    double both[SB_JOINT_STRANDS], left = 0, fall = 0, n = (double)fit->n;
    if (!sb_joint_account(fit, both))
        return (struct account){.gain = -(double)INFINITY};
    for (size_t i = 0; i < fit->n; i++) {
        left += log(fit->strands[i].heard / fit->strands[i].weight) / n;
        fall += log(fit->strands[i].weight / alone->weight[i]) / n;
    }
    double most =
        fit->known > 0 ? (double)INFINITY : ease * fmax(MOST_LEFT, exp(LEFT_POWER * fall));
    return (struct account){sb_joint_gain(fit->alone, both, fit->n), exp(left), exp(fall),
                            exp(left) < most};
}

static bool is_hopeless(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    if (sb_joint_beyond_chance(fit, alone))
        return false;
    struct account two = account_of(fit, alone, 1.0);
    return two.gain < SB_JOINT_LEAST_GAIN - HOPE ||
           (fit->known == 0 && two.fall < POOR_FALL && two.left > POOR_LEFT);
}

static bool is_near(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    if (sb_joint_beyond_chance(fit, alone))
        return true;
    struct account two = account_of(fit, alone, EASE);
    return two.leaves_little && two.gain > SB_JOINT_LEAST_GAIN - NEARLY;
}

static bool is_enough(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    if (fabs(fit->shared[DETUNE]) > MOST_APART)
        return false;
    if (sb_joint_beyond_chance(fit, alone))
        return true;
    struct account two = account_of(fit, alone, 1.0);
    return two.leaves_little &&
           two.gain > (fit->known > 0 ? LEAST_GAIN_KNOWN : SB_JOINT_LEAST_GAIN);
}

/* Two places, each brought to its best, the better one first: there it leaves the fit. */
static void order_places(struct sb_joint_fit *fit, struct sb_joint_unknowns places[2]) {
    double merit[2];
    for (size_t i = 0; i < 2; i++) {
        sb_joint_restore(fit, &places[i]);
        merit[i] = descend_weighed(fit);
        sb_joint_save(fit, &places[i]);
    }
    if (merit[1] < merit[0]) {
        struct sb_joint_unknowns first = places[0];
        places[0] = places[1], places[1] = first;
    }
    sb_joint_restore(fit, &places[0]);
}

/* A second line beside each partial; what passed for a glide may all have been beating, so
 * it is looked for without one, too. False where one line is as good. */
static bool add_second(struct sb_joint_fit *fit, struct sb_joint_unknowns places[2]) {
    struct sb_joint_unknowns *gliding = &places[0], *freed = &places[1];
    struct sb_joint_unknowns alone;
    (void)descend_weighed(fit);
    sb_joint_save(fit, &alone);
    if (!sb_joint_account(fit, fit->alone))
        return false;
    fit->slack = SEARCH_SLACK;
    place_second(fit);
    sb_joint_save(fit, gliding);
    if (is_hopeless(fit, &alone))
        return false;
    sb_joint_restore(fit, gliding);
    (void)descend_weighed(fit);
    sb_joint_save(fit, gliding);
    bool near = is_near(fit, &alone);
    place_without_glide(fit, &alone);
    sb_joint_save(fit, freed);
    if (!near && !is_near(fit, &alone))
        return false;
    fit->slack = SLACK;
    fit->rounds = ROUNDS;
    order_places(fit, places);
    return is_enough(fit, &alone);
}

/* A slow glide and the pitch itself look much alike: without need there is none. */
void sb_joint_do_without_glide(struct sb_joint_fit *fit) {
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

bool sb_joint_find_second(struct sb_joint_fit *fit, struct sb_joint_unknowns places[2]) {
    fit->slack = SLACK;
    fit->rounds = SEARCH_ROUNDS;
    fit->cost = sb_joint_linearise(fit);
    /* As a rule one line fits so well that there is nothing to look for. */
    double enough = sb_joint_least_to_look_at(fit);
    if (fit->cost < enough)
        return false;
    struct sb_joint_unknowns from;
    sb_joint_save(fit, &from);
    sb_joint_descend_on(fit, enough);
    if (fit->cost < enough)
        return false;
    sb_joint_restore(fit, &from);
    fit->looked = true;
    return add_second(fit, places);
}

/* ---- with the glide not known either ---- */

double sb_joint_try_planes(struct sb_joint_fit *fit, double apart) {
    fit->slack = SEARCH_SLACK;
    fit->rounds = SEARCH_ROUNDS;
    (void)sb_joint_split_all(fit, apart);
    return descend_weighed(fit);
}

void sb_joint_search_glide(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns from[BEGUN_GLIDES], best;
    double least = (double)INFINITY;
    for (size_t i = 0; i < BEGUN_GLIDES; i++) {
        sb_glide glide = sb_glide_exponential(BEGUN_CENTS[i] / SB_CENTS_PER_LN, BEGUN_TAU_S);
        sb_joint_exchange_glide(fit, &glide);
        sb_joint_save(fit, &from[i]);
    }
    for (size_t i = 0; i < BEGUN_GLIDES * BEGUN_PLANES; i++) {
        sb_joint_restore(fit, &from[i / BEGUN_PLANES]);
        double merit = sb_joint_try_planes(fit, BEGUN_APART[i % BEGUN_PLANES]);
        if (merit < least) {
            least = merit;
            sb_joint_save(fit, &best);
        }
    }
    if (least < (double)INFINITY)
        sb_joint_restore(fit, &best);
}
