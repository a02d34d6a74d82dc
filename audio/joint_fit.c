#include "audio/joint_parts.h"

#include <math.h>
#include <string.h>

#include "audio/cholesky.h"
#include "audio/cpx.h"
#include "core/pitch.h"

enum { OWN_ROUNDS = 12, SMOOTHED = 4 };

static const double PRIOR_FALL = 0.0004, PRIOR_LN_SCALE = 0.5, PRIOR_DETUNE = 0.002,
                    PRIOR_SIZE = 1.0, PRIOR_SECOND = 0.5, PRIOR_DECAY = 0.7;
static const double MOST_LN_SCALE = 4.0; /* beyond it numbers run over */
static const double LEAST_REST = 1e-6;   /* nothing fits better, of its size */
static const double LEAST_WEIGHT = 1e-6; /* of a sample when the line has died away */

/* ---- the equations ---- */

/* Which of the two lines is the longer or the louder is not known beforehand: they have one prior,
 * round what one line alone made of the partial. */
static double decay_std(const struct sb_joint_strand *strand) {
    return fmax(PRIOR_DECAY * strand->decay_per_s, 0.3);
}

/* 1/variance of an amplitude. Once it is known which is the stronger, the second is as a rule the
 * smaller. */
static double size_weight(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                          size_t unknown) {
    bool second = fit->ordered && (unknown == A2 || unknown == B2);
    return 1.0 / pow((second ? PRIOR_SECOND : PRIOR_SIZE) * strand->size, 2);
}

static double own_prior_cost(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand) {
    const double *x = strand->x;
    double std = decay_std(strand), off1 = (x[D1] - strand->decay_per_s) / std,
           off2 = (x[D2] - strand->decay_per_s) / std;
    return off1 * off1 + off2 * off2 +
           (x[A1] * x[A1] + x[B1] * x[B1]) * size_weight(fit, strand, A1) +
           (x[A2] * x[A2] + x[B2] * x[B2]) * size_weight(fit, strand, A2);
}

double sb_joint_own_prior(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand) {
    if (fit->locals < LOCAL) /* its size and decay are those that are held likely */
        return 1.0;
    return own_prior_cost(fit, strand) - 2.0 * log(size_weight(fit, strand, A2)) +
           2.0 * log(decay_std(strand));
}

static void add_own_priors(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double v = pow(decay_std(strand), -2);
    for (size_t p = 0; p < LOCAL; p++) {
        bool decays = p == D1 || p == D2;
        double weight = p == W   ? 0.0
                        : decays ? v
                                 : size_weight(fit, strand, p),
               centre = decays ? strand->decay_per_s : 0.0;
        strand->own.h[p][p] += weight;
        strand->own.g[p] += weight * (centre - strand->x[p]);
    }
}

/* Stretch raises a pitch; next to nothing lowers it. */
static double gamma_prior(const struct sb_joint_fit *fit) {
    return fit->no_glide ? 1e-9 : fit->shared[GAMMA] < 0 ? PRIOR_FALL : SB_GLIDE_USUAL;
}

static double prior_cost(const struct sb_joint_fit *fit) {
    double off = fit->shared[SCALE] / PRIOR_LN_SCALE;
    if (fabs(fit->shared[SCALE]) > MOST_LN_SCALE)
        return (double)INFINITY;
    double cost = pow(fit->shared[GAMMA] / gamma_prior(fit), 2) + off * off;
    if (fit->locals < LOCAL)
        return cost;
    cost += pow(fit->shared[DETUNE] / PRIOR_DETUNE, 2);
    for (size_t i = 0; i < fit->n; i++)
        cost += own_prior_cost(fit, &fit->strands[i]);
    return cost;
}

/* Both sides of the equations of a strand's own unknowns. */
static void accumulate_own(const struct sb_joint_fit *fit, struct sb_joint_strand *strand,
                           const struct sb_joint_sums *sums) {
    for (size_t p = 0; p < fit->locals; p++) {
        strand->own.g[p] = strand->weight * sb_joint_product(sums->by[p], sums->on_rest);
        for (size_t q = 0; q <= p; q++)
            strand->own.h[p][q] = strand->weight * sb_joint_product(sums->by[p], sums->on[q]);
    }
    if (fit->locals == LOCAL)
        add_own_priors(fit, strand);
}

/* And its part of those of the shared unknowns. */
static void accumulate_shared(struct sb_joint_fit *fit, struct sb_joint_strand *strand,
                              const struct sb_joint_columns *column,
                              const struct sb_joint_sums *sums) {
    struct sb_joint_shared_sums shared;
    sb_joint_sum_shared(fit, strand, column, sums, &shared);
    for (size_t s = 0; s < SHARED; s++) {
        for (size_t p = 0; p < fit->locals; p++)
            strand->own.c[p][s] = strand->weight * sb_joint_product(sums->by[p], shared.on[s]);
        fit->common.g[s] += strand->weight * shared.on_rest[s];
        for (size_t u = 0; u <= s; u++)
            fit->common.h[s][u] += strand->weight * shared.each_other[s][u];
    }
}

static void add_shared_priors(struct sb_joint_fit *fit) {
    const double std[SHARED] = {gamma_prior(fit), PRIOR_LN_SCALE, PRIOR_DETUNE};
    for (size_t s = 0; s < SHARED; s++) {
        fit->common.h[s][s] += 1.0 / (std[s] * std[s]);
        fit->common.g[s] -= fit->shared[s] / (std[s] * std[s]);
    }
}

double sb_joint_linearise(struct sb_joint_fit *fit) {
    struct sb_joint_columns column;
    struct sb_joint_sums sums;
    double cost = prior_cost(fit);
    sb_joint_tabulate(fit);
    memset(fit->common.h, 0, sizeof fit->common.h);
    memset(fit->common.g, 0, sizeof fit->common.g);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        sb_joint_expand(fit, strand, &column);
        cost += strand->weight * sb_joint_sum(fit, strand, &column, &sums);
        accumulate_own(fit, strand, &sums);
        accumulate_shared(fit, strand, &column, &sums);
    }
    add_shared_priors(fit);
    return cost;
}

/* ---- one fit ---- */

bool sb_joint_eliminate(struct sb_joint_fit *fit, double damping) {
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        double solved[LOCAL];
        if (!sb_cholesky_factor(&strand->own.h[0][0], fit->locals, LOCAL, damping))
            return false;
        memcpy(strand->step, strand->own.g, sizeof strand->step);
        sb_cholesky_solve(&strand->own.h[0][0], fit->locals, LOCAL, strand->step);
        double cross[LOCAL][SHARED];
        memcpy(cross, strand->own.c, sizeof cross);
        for (size_t s = 0; s < SHARED; s++) {
            for (size_t p = 0; p < fit->locals; p++)
                solved[p] = cross[p][s], fit->common.g[s] -= cross[p][s] * strand->step[p];
            sb_cholesky_solve(&strand->own.h[0][0], fit->locals, LOCAL, solved);
            for (size_t p = 0; p < fit->locals; p++) {
                strand->own.c[p][s] = solved[p];
                for (size_t u = 0; u < SHARED; u++)
                    fit->common.h[u][s] -= cross[p][u] * solved[p];
            }
        }
    }
    return sb_cholesky_factor(&fit->common.h[0][0], SHARED, SHARED, damping);
}

static void take_step(struct sb_joint_fit *fit) {
    sb_cholesky_solve(&fit->common.h[0][0], SHARED, SHARED, fit->common.g);
    for (size_t s = 0; s < SHARED; s++)
        fit->shared[s] += fit->common.g[s];
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        for (size_t p = 0; p < fit->locals; p++) {
            double step = strand->step[p];
            for (size_t s = 0; s < SHARED; s++)
                step -= strand->own.c[p][s] * fit->common.g[s];
            strand->x[p] += step;
        }
    }
}

void sb_joint_save(const struct sb_joint_fit *fit, struct sb_joint_unknowns *to) {
    memcpy(to->shared, fit->shared, sizeof to->shared);
    for (size_t i = 0; i < fit->n; i++) {
        memcpy(to->x[i], fit->strands[i].x, sizeof to->x[i]);
        to->weight[i] = fit->strands[i].weight;
    }
}

void sb_joint_restore(struct sb_joint_fit *fit, const struct sb_joint_unknowns *from) {
    memcpy(fit->shared, from->shared, sizeof fit->shared);
    for (size_t i = 0; i < fit->n; i++) {
        memcpy(fit->strands[i].x, from->x[i], sizeof from->x[i]);
        fit->strands[i].weight = from->weight[i];
    }
}

/* The equations round a place, before they are solved there. */
struct equations {
    struct sb_joint_common common;
    struct sb_joint_own own[SB_JOINT_STRANDS];
};

static void keep(const struct sb_joint_fit *fit, struct equations *kept) {
    kept->common = fit->common;
    for (size_t i = 0; i < fit->n; i++)
        kept->own[i] = fit->strands[i].own;
}

static void bring_back(const struct equations *kept, struct sb_joint_fit *fit) {
    fit->common = kept->common;
    for (size_t i = 0; i < fit->n; i++)
        fit->strands[i].own = kept->own[i];
}

/* Smaller where steps go well, larger where they fail; after a failure the next success leaves it,
 * or every other step would fail. */
static double damping_after(bool better, bool failed_before, double damping) {
    return !better ? 10.0 * damping : failed_before ? damping : 0.1 * damping;
}

void sb_joint_descend_on(struct sb_joint_fit *fit, double enough) {
    struct sb_joint_unknowns best;
    struct equations there;
    double damping = 1e-4;
    bool failed = false;
    for (int round = 0; round < fit->rounds && damping < 1e6; round++) {
        sb_joint_save(fit, &best);
        keep(fit, &there);
        bool solved = sb_joint_eliminate(fit, damping);
        if (solved)
            take_step(fit);
        double cost = solved ? sb_joint_linearise(fit) : (double)INFINITY;
        bool better = cost < fit->cost;
        damping = damping_after(better, failed, damping);
        failed = !better;
        if (better) {
            bool done = fit->cost - cost < fit->slack * (1.0 + 1e-3 * cost);
            fit->cost = cost;
            if (done || cost < enough)
                return;
        } else {
            sb_joint_restore(fit, &best);
            bring_back(&there, fit);
        }
    }
}

void sb_joint_descend(struct sb_joint_fit *fit) {
    fit->cost = sb_joint_linearise(fit);
    sb_joint_descend_on(fit, -(double)INFINITY);
}

double sb_joint_own_weight(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand) {
    struct sb_joint_columns column;
    sb_joint_expand(fit, strand, &column);
    double least = pow(LEAST_REST * strand->size, 2) * (double)strand->n;
    double free = 2.0 * (double)strand->n - (double)fit->locals;
    return free / fmax(sb_joint_rest_power(&column, strand->n), least);
}

double sb_joint_reweigh(struct sb_joint_fit *fit) {
    double merit = prior_cost(fit);
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        strand->weight = sb_joint_own_weight(fit, strand);
        double free = 2.0 * (double)strand->n - (double)fit->locals;
        merit += 2.0 * (double)strand->n * log(free / strand->weight);
    }
    return merit;
}

double sb_joint_colour(const struct sb_joint_fit *fit) {
    struct sb_joint_columns column;
    double smooth = 0, all = 1e-300;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        sb_joint_expand(fit, strand, &column);
        for (size_t m = 0; m + SMOOTHED <= strand->n; m += SMOOTHED) {
            sb_cpx sum = {0, 0};
            for (size_t k = m; k < m + SMOOTHED; k++) {
                sb_cpx rest = {column.rest.re[k], column.rest.im[k]};
                sum.re += rest.re, sum.im += rest.im;
                all += strand->weight * sb_cpx_power(rest);
            }
            smooth += strand->weight * sb_cpx_power(sum);
        }
    }
    return fmax(smooth / all, 1.0);
}

static double linearise_own(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    struct sb_joint_columns column;
    struct sb_joint_sums sums;
    sb_joint_expand(fit, strand, &column);
    double rest = sb_joint_sum(fit, strand, &column, &sums);
    accumulate_own(fit, strand, &sums);
    return own_prior_cost(fit, strand) + strand->weight * rest;
}

double sb_joint_settle(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double damping = 1e-3, cost = linearise_own(fit, strand);
    bool failed = false;
    for (int round = 0; round < OWN_ROUNDS && damping < 1e4; round++) {
        const struct sb_joint_own there = strand->own;
        double old[LOCAL];
        memcpy(old, strand->x, sizeof old);
        bool solved = sb_cholesky_factor(&strand->own.h[0][0], LOCAL, LOCAL, damping);
        if (solved)
            sb_cholesky_solve(&strand->own.h[0][0], LOCAL, LOCAL, strand->own.g);
        for (size_t p = 0; p < LOCAL && solved; p++)
            strand->x[p] += strand->own.g[p];
        double next = solved ? linearise_own(fit, strand) : (double)INFINITY;
        bool better = next < cost;
        damping = damping_after(better, failed, damping);
        failed = !better;
        if (better) {
            bool done = cost - next < 10.0 * fit->slack * (1.0 + 1e-2 * next);
            cost = next;
            if (done)
                break;
        } else {
            memcpy(strand->x, old, sizeof old);
            strand->own = there;
        }
    }
    return cost;
}

double sb_joint_own_variance(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                             size_t unknown) {
    double unit[LOCAL] = {0};
    unit[unknown] = 1.0;
    sb_cholesky_solve(&strand->own.h[0][0], fit->locals, LOCAL, unit);
    return unit[unknown];
}

double sb_joint_common_std(struct sb_joint_fit *fit, double excess) {
    double lean[SHARED] = {0}, total = 0, variance = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double w = strand->hz * strand->hz / sb_joint_own_variance(fit, strand, W);
        for (size_t s = 0; s < SHARED; s++)
            lean[s] -= w * strand->own.c[W][s] / (SB_TWO_PI * strand->hz);
        total += w;
    }
    double solved[SHARED];
    for (size_t s = 0; s < SHARED; s++)
        solved[s] = lean[s] /= total;
    sb_cholesky_solve(&fit->common.h[0][0], SHARED, SHARED, solved);
    for (size_t s = 0; s < SHARED; s++)
        variance += lean[s] * solved[s];
    return sqrt(excess * variance);
}

static void rotate(double *re, double *im, double angle) {
    double c = cos(angle), s = sin(angle), a = *re;
    *re = a * c - *im * s;
    *im = a * s + *im * c;
}

/* So much of the glide. */
static void turn_into_pitch(struct sb_joint_fit *fit, double gamma) {
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        double *x = strand->x, w = 0, t = 0, tt = 0, s = 0, st = 0;
        for (size_t m = 0; m < strand->n; m++) {
            double since = (double)m * strand->step_s, ahead = strand->unit[0][m];
            double weight = exp(-2.0 * fmax(x[D1], 0.0) * since) + LEAST_WEIGHT;
            w += weight, t += weight * since, tt += weight * since * since;
            s += weight * ahead, st += weight * ahead * since;
        }
        double rise = (w * st - t * s) / (w * tt - t * t), level = (s - rise * t) / w;
        double turn = SB_TWO_PI * strand->hz * gamma;
        x[W] += turn * rise;
        rotate(&x[A1], &x[B1], turn * level);
        rotate(&x[A2], &x[B2], turn * level);
    }
    fit->shared[GAMMA] -= gamma;
}

void sb_joint_turn_glide_into_pitch(struct sb_joint_fit *fit) {
    turn_into_pitch(fit, fit->shared[GAMMA]);
}

void sb_joint_exchange_glide(struct sb_joint_fit *fit, const sb_glide *glide) {
    turn_into_pitch(fit, fit->shared[GAMMA]);
    fit->unit = *glide;
    fit->unit.gamma = 1.0;
    fit->shape_gamma = glide->gamma;
    fit->tabled = fit->shared[SCALE] = 0;
    turn_into_pitch(fit, -glide->gamma);
}

double sb_joint_degrees_of_freedom(const struct sb_joint_fit *fit) {
    double free = 0;
    for (size_t i = 0; i < fit->n; i++)
        free += 2.0 * (double)fit->strands[i].n - (double)fit->locals;
    return fmax(free, 1.0);
}
