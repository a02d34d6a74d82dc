#include <math.h>

#include "audio/joint_parts.h"

/* Planes that the noise all but hides. A second line leaves little less than one does then, of any
 * partial; but what it explains of all of them together can be beyond chance. */

enum { FEWEST_CLEAR = 3 };

/* What a glide's shape leaves over two lines account for as well: the more is asked. */
static const double SLIGHT_GLIDE = 0.0008, GLIDE_TIMES = 3.0;
/* The strand where the chi-square falls most, another string's line as likely as not, may not be
 * what speaks for planes; and a strand that does so has it fall by so much (chance 7e-3). */
static const double OTHERS_WORTH = 0.5, CLEAR_FALL = 12.0;
/* What is left then is the noise and no more, which is known so well by itself. */
static const double LEAST_LEFT = 0.5, MOST_LEFT = 1.2, NOISE_KNOWN = 1.05;
/* Planes of so small a share of the amplitude, a cent apart, and what of that is worth a look. */
static const double LEAST_SHARE = 0.1, USUAL_APART = 5.8e-4, HEARD_BEATS = 0.5, WORTH_A_LOOK = 0.06;

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

/* The chi-square that the slightest planes would make, of the partials that hold half a beat. */
static double slightest_planes(const struct sb_joint_fit *fit) {
    double sum = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double span_s = (double)strand->n * strand->step_s;
        double heard = fmin(span_s, 0.5 / strand->decay_per_s) / strand->step_s;
        if (strand->hz * USUAL_APART * span_s > HEARD_BEATS)
            sum += strand->heard * heard * pow(LEAST_SHARE * strand->size, 2);
    }
    return sum;
}

double sb_joint_least_to_look_at(const struct sb_joint_fit *fit) {
    double free = sb_joint_degrees_of_freedom(fit);
    if (fit->cost - free < WORTH_A_LOOK * slightest_planes(fit))
        return (double)INFINITY;
    return NOISE_KNOWN * free + worth_of_second(fit);
}
