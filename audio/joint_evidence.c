#include <math.h>
#include <stdlib.h>

#include "audio/joint.h"
#include "audio/joint_parts.h"

enum { FEWEST_CLEAR = 3 };

/* Another string's lines lie beside some of the partials, where the strings are tuned to a
 * consonant interval beside every third or fourth: by so much of the strands, those that speak most
 * for a second line, it is not judged. */
static const double UNHEARD_SHARE = 1.0 / 3.0;
/* Of chi-square that falls by chance: what a glide's shape leaves over two lines account for as
 * well, so that the more is asked. */
static const double SLIGHT_GLIDE = 0.0008, GLIDE_TIMES = 3.0;
/* The strand where it falls most, another string's line as likely as not, may not be what speaks
 * for planes; and a strand that does so has it fall by so much (chance 7e-3). */
static const double OTHERS_WORTH = 0.5, CLEAR_FALL = 12.0;
/* What is left then is the noise and no more. */
static const double LEAST_LEFT = 0.5, MOST_LEFT = 1.2;
/* Planes of so small a share of the amplitude, a cent apart, and what of that is worth a look; else
 * so much must be left. */
static const double LEAST_SHARE = 0.1, HEARD_BEATS = 0.5, WORTH_A_LOOK = 0.06, LEAST_TO_LOOK = 2.5;
static const double LEAST_INDEPENDENT = 0.7; /* of samples, where their noise is known */

/* ---- by the evidence ---- */

bool sb_joint_account(struct sb_joint_fit *fit, double of[SB_JOINT_STRANDS]) {
    (void)sb_joint_reweigh(fit);
    (void)sb_joint_linearise(fit);
    if (!sb_joint_eliminate(fit, 0.0))
        return false;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double n = (double)strand->n, free = 2.0 * n - (double)fit->locals;
        double independent = fmin(sb_band_independent(&strand->of->band), n);
        of[i] = 2.0 * independent * log(free / strand->weight) + sb_joint_own_prior(fit, strand);
        for (size_t p = 0; p < fit->locals; p++)
            of[i] += 2.0 * log(strand->own.h[p][p]);
    }
    return true;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double sb_joint_gain(const double alone[], const double both[], size_t n) {
    double gain[SB_JOINT_STRANDS], sum = 0;
    for (size_t i = 0; i < n; i++)
        gain[i] = alone[i] - both[i];
    qsort(gain, n, sizeof gain[0], ascending);
    size_t judged = n - (size_t)ceil(UNHEARD_SHARE * (double)n);
    for (size_t i = 0; i < judged; i++)
        sum += gain[i];
    return sum / (double)judged;
}

bool sb_planes_account_better(const sb_planes *planes, const sb_planes *before) {
    double old[SB_JOINT_STRANDS], new[SB_JOINT_STRANDS], sum = 0;
    size_t n = 0;
    for (size_t i = 0; i <= SB_MAX_PARTIALS && n < SB_JOINT_STRANDS; i++) {
        if (isnan(planes->against[i]) || isnan(before->against[i]))
            continue;
        old[n] = before->against[i], new[n] = planes->against[i];
        sum += old[n] - new[n];
        n++;
    }
    bool had = before->apart > 0;
    return n >= SB_JOINT_FEWEST &&
           (had ? sum > 0 : sb_joint_gain(old, new, n) > SB_JOINT_LEAST_GAIN);
}

/* ---- by chance ---- */

/* By how much the chi-square must fall for a second line, three unknowns a strand, by the Bayesian
 * information criterion (Schwarz, Ann. Stat. 6, 461, 1978). */
static double worth_of_second(const struct sb_joint_fit *fit) {
    double sum = 0;
    for (size_t i = 0; i < fit->n; i++)
        sum += (LOCAL - A2) * log(2.0 * (double)fit->strands[i].n);
    return fabs(fit->shared[GAMMA]) > SLIGHT_GLIDE ? GLIDE_TIMES * sum : sum;
}

bool sb_joint_beyond_chance(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    double worth = worth_of_second(fit), total = 0, most = 0, left = 0, free = 0;
    size_t clear = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double own = 2.0 * (double)strand->n - LOCAL, weight = sb_joint_own_weight(fit, strand);
        double rest = own * strand->heard / weight;
        double fall = (own + LOCAL - A2) * strand->heard / alone->weight[i] - rest;
        total += fall, most = fmax(most, fall), clear += fall > CLEAR_FALL;
        left += rest, free += own;
    }
    return total > worth && total - most > OTHERS_WORTH * worth && clear >= FEWEST_CLEAR &&
           3 * clear >= fit->n && left > LEAST_LEFT * free && left < MOST_LEFT * free;
}

/* ---- before it is looked for ---- */

/* The chi-square that the slightest planes would make, of the partials that hold half a beat. */
static double slightest_planes(const struct sb_joint_fit *fit) {
    double sum = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double span_s = (double)strand->n * strand->step_s;
        double heard = fmin(span_s, 0.5 / strand->decay_per_s) / strand->step_s;
        if (strand->hz * SB_PLANES_USUAL_APART * span_s > HEARD_BEATS)
            sum += strand->heard * heard * pow(LEAST_SHARE * strand->size, 2);
    }
    return sum;
}

/* Samples lie closer than the band's filter leaves them independent: what noise there is by itself
 * says little of what is left then. */
static bool is_narrow(const struct sb_joint_fit *fit) {
    double independent = 0, n = 0;
    for (size_t i = 0; i < fit->n; i++)
        independent += sb_band_independent(&fit->strands[i].of->band),
            n += (double)fit->strands[i].n;
    return independent < LEAST_INDEPENDENT * n;
}

double sb_joint_least_to_look_at(const struct sb_joint_fit *fit) {
    double free = sb_joint_degrees_of_freedom(fit), slightest = slightest_planes(fit);
    if (slightest > 0 && is_narrow(fit))
        return 0;
    if (fit->cost - free < WORTH_A_LOOK * slightest)
        return LEAST_TO_LOOK * free;
    return free + worth_of_second(fit);
}
