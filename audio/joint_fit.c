#include "audio/joint_parts.h"

#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { ROUNDS = 20, OWN_ROUNDS = 12, SMOOTHED = 4 };

static const double PRIOR_FALL = 0.0004, PRIOR_LN_SCALE = 0.5, PRIOR_DETUNE = 0.002,
                    PRIOR_SIZE = 1.0, PRIOR_SECOND = 0.5, PRIOR_DECAY = 0.7;
static const double MOST_LN_SCALE = 4.0; /* beyond it numbers run over */
static const double LEAST_REST = 1e-6;   /* nothing fits better, of its size */

/* ---- the equations ---- */

/* By how much a glide of unit amount and the given scale has the string ahead, and the
 * derivative of that by the logarithm of the scale. */
static void unit_ahead(const sb_glide *shape, double scale, double t, double *ahead,
                       double *slope) {
    *ahead = *slope = 0;
    for (size_t m = 0; m < shape->terms; m++) {
        double rate = shape->rate_per_s[m] / scale, left = exp(-rate * t);
        *ahead += shape->weight[m] * (1.0 - left) / rate;
        *slope += shape->weight[m] * ((1.0 - left) / rate - t * left);
    }
}

/* Nearly all strands begin together, and their glides then run alike. */
void sb_joint_tabulate(struct sb_joint_fit *fit) {
    double scale = exp(fit->shared[SCALE]);
    if (scale == fit->tabled)
        return;
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        const struct sb_joint_strand *last = i > 0 ? strand - 1 : NULL;
        if (last && last->t0_s == strand->t0_s && last->step_s == strand->step_s &&
            last->n >= strand->n) {
            memcpy(strand->unit, last->unit, sizeof strand->unit);
            continue;
        }
        for (size_t m = 0; m < strand->n; m++)
            unit_ahead(&fit->shape, scale, strand->t0_s + (double)m * strand->step_s,
                       &strand->unit[m][0], &strand->unit[m][1]);
    }
    fit->tabled = scale;
}

static sb_cpx turned(double size, double angle) {
    sb_cpx number = {size * cos(angle), size * sin(angle)};
    return number;
}

void sb_joint_differentiate(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                            struct sb_joint_columns *column) {
    const double *x = strand->x, turn = SB_TWO_PI * strand->hz;
    for (size_t m = 0; m < strand->n; m++) {
        double since = (double)m * strand->step_s;
        double ahead = strand->unit[m][0], slope = strand->unit[m][1];
        double glide = turn * (fit->shared[GAMMA] * ahead - strand->ahead_s[m]);
        double angle1 = x[W] * since + glide;
        sb_cpx e1 = turned(exp(-x[D1] * since), angle1), e2 = {0, 0};
        sb_cpx one = sb_cpx_times((sb_cpx){x[A1], x[B1]}, e1), two = {0, 0};
        if (fit->locals == LOCAL) {
            e2 = turned(exp(-x[D2] * since), angle1 + turn * fit->shared[DETUNE] * since);
            two = sb_cpx_times((sb_cpx){x[A2], x[B2]}, e2);
        }
        sb_cpx both = {one.re + two.re, one.im + two.im}, spun = {-both.im, both.re};
        double bent = turn * fit->shared[GAMMA] * slope;
        column->by[A1][m] = e1;
        column->by[B1][m] = (sb_cpx){-e1.im, e1.re};
        column->by[D1][m] = (sb_cpx){-since * one.re, -since * one.im};
        column->by[W][m] = (sb_cpx){since * spun.re, since * spun.im};
        column->by[A2][m] = e2;
        column->by[B2][m] = (sb_cpx){-e2.im, e2.re};
        column->by[D2][m] = (sb_cpx){-since * two.re, -since * two.im};
        column->by[LOCAL + GAMMA][m] = (sb_cpx){turn * ahead * spun.re, turn * ahead * spun.im};
        column->by[LOCAL + SCALE][m] = (sb_cpx){bent * spun.re, bent * spun.im};
        column->by[LOCAL + DETUNE][m] = (sb_cpx){-turn * since * two.im, turn * since * two.re};
        column->rest[m] = (sb_cpx){strand->z[m].re - both.re, strand->z[m].im - both.im};
    }
}

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

static void add_own_priors(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double v = pow(decay_std(strand), -2);
    for (size_t p = 0; p < LOCAL; p++) {
        bool decays = p == D1 || p == D2;
        double weight = p == W   ? 0.0
                        : decays ? v
                                 : size_weight(fit, strand, p),
               centre = decays ? strand->decay_per_s : 0.0;
        strand->h[p][p] += weight;
        strand->g[p] += weight * (centre - strand->x[p]);
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

/* Real part of <a, b>. */
static double across(const sb_cpx a[], const sb_cpx b[], size_t n) {
    sb_pair sum = {0, 0};
    for (size_t m = 0; m < n; m++)
        sum += sb_pair_load((const double *)&a[m]) * sb_pair_load((const double *)&b[m]);
    return sum[0] + sum[1];
}

/* A strand's own equations. */
static void accumulate_own(const struct sb_joint_fit *fit, struct sb_joint_strand *strand,
                           const struct sb_joint_columns *column) {
    double w = strand->weight;
    for (size_t p = 0; p < fit->locals; p++) {
        strand->g[p] = w * across(column->by[p], column->rest, strand->n);
        for (size_t q = 0; q <= p; q++)
            strand->h[p][q] = w * across(column->by[p], column->by[q], strand->n);
    }
    if (fit->locals == LOCAL)
        add_own_priors(fit, strand);
}

/* And its part of those of the shared unknowns. */
static void accumulate_shared(struct sb_joint_fit *fit, struct sb_joint_strand *strand,
                              const struct sb_joint_columns *column) {
    double w = strand->weight;
    size_t n = strand->n;
    size_t shared = fit->locals == LOCAL ? SHARED : DETUNE; /* one line has nothing to be off */
    for (size_t s = 0; s < shared; s++) {
        for (size_t p = 0; p < fit->locals; p++)
            strand->c[p][s] = w * across(column->by[p], column->by[LOCAL + s], n);
        fit->g[s] += w * across(column->by[LOCAL + s], column->rest, n);
        for (size_t u = 0; u <= s; u++)
            fit->h[s][u] += w * across(column->by[LOCAL + s], column->by[LOCAL + u], n);
    }
}

static void add_shared_priors(struct sb_joint_fit *fit) {
    const double std[SHARED] = {gamma_prior(fit), PRIOR_LN_SCALE, PRIOR_DETUNE};
    for (size_t s = 0; s < SHARED; s++) {
        fit->h[s][s] += 1.0 / (std[s] * std[s]);
        fit->g[s] -= fit->shared[s] / (std[s] * std[s]);
    }
}

double sb_joint_linearise(struct sb_joint_fit *fit) {
    struct sb_joint_columns column;
    double cost = prior_cost(fit);
    sb_joint_tabulate(fit);
    memset(fit->h, 0, sizeof fit->h);
    memset(fit->g, 0, sizeof fit->g);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        memset(strand->c, 0, sizeof strand->c);
        sb_joint_differentiate(fit, strand, &column);
        cost += strand->weight * across(column.rest, column.rest, strand->n);
        accumulate_own(fit, strand, &column);
        accumulate_shared(fit, strand, &column);
    }
    add_shared_priors(fit);
    return cost;
}

/* Cholesky's factor in place, lower half, each diagonal grown by 1 + damping. */
static bool factor(double *a, size_t n, size_t stride, double damping) {
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q <= p; q++) {
            double sum = a[p * stride + q] * (p == q ? 1.0 + damping : 1.0);
            for (size_t r = 0; r < q; r++)
                sum -= a[p * stride + r] * a[q * stride + r];
            if (p == q && !(sum > 0 && isfinite(sum)))
                return false;
            a[p * stride + q] = p == q ? sqrt(sum) : sum / a[q * stride + q];
        }
    }
    return true;
}

/* Solves with that factor, in place. */
static void back(const double *a, size_t n, size_t stride, double x[]) {
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q < p; q++)
            x[p] -= a[p * stride + q] * x[q];
        x[p] /= a[p * stride + p];
    }
    for (size_t p = n; p-- > 0;) {
        for (size_t q = p + 1; q < n; q++)
            x[p] -= a[q * stride + p] * x[q];
        x[p] /= a[p * stride + p];
    }
}

/* ---- one fit ---- */

bool sb_joint_eliminate(struct sb_joint_fit *fit, double damping) {
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        double solved[LOCAL];
        if (!factor(&strand->h[0][0], fit->locals, LOCAL, damping))
            return false;
        memcpy(strand->step, strand->g, sizeof strand->step);
        back(&strand->h[0][0], fit->locals, LOCAL, strand->step);
        double cross[LOCAL][SHARED];
        memcpy(cross, strand->c, sizeof cross);
        for (size_t s = 0; s < SHARED; s++) {
            for (size_t p = 0; p < fit->locals; p++)
                solved[p] = cross[p][s], fit->g[s] -= cross[p][s] * strand->step[p];
            back(&strand->h[0][0], fit->locals, LOCAL, solved);
            for (size_t p = 0; p < fit->locals; p++) {
                strand->c[p][s] = solved[p];
                for (size_t u = 0; u < SHARED; u++)
                    fit->h[u][s] -= cross[p][u] * solved[p];
            }
        }
    }
    return factor(&fit->h[0][0], SHARED, SHARED, damping);
}

static void take_step(struct sb_joint_fit *fit) {
    back(&fit->h[0][0], SHARED, SHARED, fit->g);
    for (size_t s = 0; s < SHARED; s++)
        fit->shared[s] += fit->g[s];
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        for (size_t p = 0; p < fit->locals; p++) {
            double step = strand->step[p];
            for (size_t s = 0; s < SHARED; s++)
                step -= strand->c[p][s] * fit->g[s];
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

void sb_joint_descend_on(struct sb_joint_fit *fit, double enough) {
    struct sb_joint_unknowns best;
    double damping = 1e-4;
    for (int round = 0; round < ROUNDS && damping < 1e6; round++) {
        sb_joint_save(fit, &best);
        bool solved = sb_joint_eliminate(fit, damping);
        if (solved)
            take_step(fit);
        double cost = solved ? sb_joint_linearise(fit) : (double)INFINITY;
        if (cost < fit->cost) {
            bool done = fit->cost - cost < 1e-3 * (1.0 + 1e-3 * cost);
            fit->cost = cost;
            damping *= 0.1;
            if (done || cost < enough)
                return;
        } else {
            sb_joint_restore(fit, &best);
            (void)sb_joint_linearise(fit);
            damping *= 10.0;
        }
    }
}

void sb_joint_descend(struct sb_joint_fit *fit) {
    fit->cost = sb_joint_linearise(fit);
    sb_joint_descend_on(fit, -(double)INFINITY);
}

double sb_joint_reweigh(struct sb_joint_fit *fit) {
    struct sb_joint_columns column;
    double merit = prior_cost(fit);
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        sb_joint_differentiate(fit, strand, &column);
        double least = pow(LEAST_REST * strand->size, 2) * (double)strand->n;
        double free = 2.0 * (double)strand->n - (double)fit->locals;
        double rest = fmax(across(column.rest, column.rest, strand->n), least);
        strand->weight = free / rest;
        merit += 2.0 * (double)strand->n * log(rest);
    }
    return merit;
}

double sb_joint_colour(const struct sb_joint_fit *fit) {
    struct sb_joint_columns column;
    double smooth = 0, all = 1e-300;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        sb_joint_differentiate(fit, strand, &column);
        for (size_t m = 0; m + SMOOTHED <= strand->n; m += SMOOTHED) {
            sb_cpx sum = {0, 0};
            for (size_t k = m; k < m + SMOOTHED; k++) {
                sum.re += column.rest[k].re, sum.im += column.rest[k].im;
                all += strand->weight * sb_cpx_power(column.rest[k]);
            }
            smooth += strand->weight * sb_cpx_power(sum);
        }
    }
    return fmax(smooth / all, 1.0);
}

static double linearise_own(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    struct sb_joint_columns column;
    sb_joint_differentiate(fit, strand, &column);
    accumulate_own(fit, strand, &column);
    return own_prior_cost(fit, strand) +
           strand->weight * across(column.rest, column.rest, strand->n);
}

double sb_joint_settle(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double damping = 1e-3, cost = linearise_own(fit, strand);
    for (int round = 0; round < OWN_ROUNDS && damping < 1e4; round++) {
        double old[LOCAL];
        memcpy(old, strand->x, sizeof old);
        bool solved = factor(&strand->h[0][0], LOCAL, LOCAL, damping);
        if (solved)
            back(&strand->h[0][0], LOCAL, LOCAL, strand->g);
        for (size_t p = 0; p < LOCAL && solved; p++)
            strand->x[p] += strand->g[p];
        double next = solved ? linearise_own(fit, strand) : (double)INFINITY;
        if (next < cost) {
            bool done = cost - next < 1e-2 * (1.0 + 1e-2 * next);
            cost = next;
            damping *= 0.1;
            if (done)
                break;
        } else {
            memcpy(strand->x, old, sizeof old);
            (void)linearise_own(fit, strand);
            damping *= 10.0;
        }
    }
    return cost;
}

double sb_joint_own_variance(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                             size_t unknown) {
    double unit[LOCAL] = {0};
    unit[unknown] = 1.0;
    back(&strand->h[0][0], fit->locals, LOCAL, unit);
    return unit[unknown];
}

double sb_joint_common_std(struct sb_joint_fit *fit, double excess) {
    double lean[SHARED] = {0}, total = 0, variance = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double w = strand->hz * strand->hz / sb_joint_own_variance(fit, strand, W);
        for (size_t s = 0; s < SHARED; s++)
            lean[s] -= w * strand->c[W][s] / (SB_TWO_PI * strand->hz);
        total += w;
    }
    double solved[SHARED];
    for (size_t s = 0; s < SHARED; s++)
        solved[s] = lean[s] /= total;
    back(&fit->h[0][0], SHARED, SHARED, solved);
    for (size_t s = 0; s < SHARED; s++)
        variance += lean[s] * solved[s];
    return sqrt(excess * variance);
}

static void rotate(double *re, double *im, double angle) {
    double c = cos(angle), s = sin(angle), a = *re;
    *re = a * c - *im * s;
    *im = a * s + *im * c;
}

void sb_joint_turn_glide_into_pitch(struct sb_joint_fit *fit) {
    double gamma = fit->shared[GAMMA];
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        double *x = strand->x, w = 0, t = 0, tt = 0, s = 0, st = 0;
        for (size_t m = 0; m < strand->n; m++) {
            double since = (double)m * strand->step_s, ahead = strand->unit[m][0];
            double weight = exp(-2.0 * fmax(x[D1], 0.0) * since);
            w += weight, t += weight * since, tt += weight * since * since;
            s += weight * ahead, st += weight * ahead * since;
        }
        double rise = (w * st - t * s) / (w * tt - t * t), level = (s - rise * t) / w;
        double turn = SB_TWO_PI * strand->hz * gamma;
        x[W] += turn * rise;
        rotate(&x[A1], &x[B1], turn * level);
        rotate(&x[A2], &x[B2], turn * level);
    }
    fit->shared[GAMMA] = 0;
}

double sb_joint_degrees_of_freedom(const struct sb_joint_fit *fit) {
    double free = 0;
    for (size_t i = 0; i < fit->n; i++)
        free += 2.0 * (double)fit->strands[i].n - (double)fit->locals;
    return fmax(free, 1.0);
}
