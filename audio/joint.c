#include "audio/joint.h"

#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/lanes.h"
#include "audio/reading.h"
#include "core/pitch.h"

enum { DETUNES = 12, PLACES = 3, FEWEST_STRANDS = 3, STRANDS = 20, POINTS = 96, ROUNDS = 20 };

/* A partial's own unknowns, in real numbers, and those that all share. */
enum { A1, B1, D1, W, A2, B2, D2, LOCAL };
enum { GAMMA, SCALE, DETUNE, SHARED };

static const double PRIOR_FALL = 0.0004, PRIOR_LN_SCALE = 0.5, PRIOR_DETUNE = 0.002,
                    PRIOR_SECOND = 0.5;
static const double LEAST_ENERGY_SNR = 100.0;
/* With a second line chi-square must fall to less than this part of what it was, and below
 * this a degree of freedom. */
static const double LEAST_FALL = 2.5, WELL_FITTED = 2.5;
/* Variance over that of the linearised fit, whose decays and amplitudes are far from linear:
 * found by notes of known truth. */
static const double MODEL_EXCESS = 8.0;
static const double GLIDE_WORTH = 16.0; /* chi-square that a glide must explain */

/* One partial: its band, turned down by its first line and averaged to few samples. */
struct strand {
    sb_track *of;
    size_t n;
    double t0_s, step_s, hz, weight; /* weight: 1/variance of a real part */
    double size;                     /* of the first line, before there was a second */
    sb_cpx z[POINTS];
    double x[LOCAL];              /* unknowns; time counts from the first sample */
    double ahead_s[POINTS];       /* that the present glide has taken out */
    double unit[POINTS][2];       /* ahead by a glide of unit amount, and slope: see tabulate */
    double h[LOCAL][LOCAL];       /* normal equations: own block, lower half becomes Cholesky's */
    double c[LOCAL][SHARED];      /* with the shared unknowns */
    double g[LOCAL], step[LOCAL]; /* right-hand side, and the step */
};

struct fit {
    size_t n, locals; /* locals: LOCAL with a second line, else A2 */
    bool no_glide;
    double shared[SHARED];
    sb_glide shape;     /* gamma 1, scale 1 */
    double shape_gamma; /* that it had before */
    double tabled;      /* scale that unit[][] holds for; 0 = none */
    double cost;
    struct strand *strands;
    double h[SHARED][SHARED], g[SHARED];
};

/* ---- the samples ---- */

/* Averages `block` samples of what is left of the band when the foreign lines are gone. */
static void fill(struct strand *strand, size_t block) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    const sb_track *track = strand->of;
    const sb_band *band = &track->band;
    sb_line foreign[SB_LINES_MAX];
    size_t n_foreign = 0;
    for (size_t j = 1; j < track->n_lines; j++)
        if (!sb_track_other_plane(track, j))
            foreign[n_foreign++] = track->lines[j];
    sb_lines_subtract(band, foreign, n_foreign, re, im);
    double angle = -SB_TWO_PI * track->lines[0].hz * band->step_s;
    sb_cpx turn = {1.0, 0.0}, factor = {cos(angle), sin(angle)};
    for (size_t m = 0; m < strand->n; m++) {
        sb_cpx sum = {0, 0};
        for (size_t k = m * block; k < (m + 1) * block; k++) {
            sb_cpx part = sb_cpx_times((sb_cpx){re[k], im[k]}, turn);
            sum.re += part.re, sum.im += part.im;
            turn = sb_cpx_times(turn, factor);
        }
        strand->z[m] = (sb_cpx){sum.re / (double)block, sum.im / (double)block};
    }
}

static bool begin_strand(struct strand *strand, sb_track *track, const sb_glide *present) {
    const sb_band *band = &track->band;
    size_t block = (band->n + POINTS - 1) / POINTS;
    if (block < 4)
        block = 4;
    *strand = (struct strand){.of = track, .n = band->n / block, .hz = track->hz};
    if (strand->n < 8)
        return false;
    strand->step_s = (double)block * band->step_s;
    strand->t0_s = band->t0_s + 0.5 * (double)(block - 1) * band->step_s;
    strand->weight = 2.0 * (double)block / track->noise;
    fill(strand, block);
    sb_glide_ahead(present, strand->t0_s, strand->step_s, strand->n, strand->ahead_s);
    const sb_line *line = &track->lines[0];
    strand->size = hypot(line->re, line->im);
    strand->x[A1] = line->re;
    strand->x[B1] = line->im;
    strand->x[D1] = line->decay_per_s;
    strand->x[D2] = 1.3 * fmax(line->decay_per_s, 0.1);
    return true;
}

/* The tracks that say most of what is shared, strongest first. */
static size_t choose(sb_track tracks[], size_t n, const sb_glide *present,
                     struct strand strands[STRANDS]) {
    bool taken[SB_MAX_PARTIALS] = {false};
    size_t kept = 0;
    while (kept < STRANDS) {
        size_t best = n;
        double worth = 0;
        for (size_t i = 0; i < n && i < SB_MAX_PARTIALS; i++) {
            double w = tracks[i].energy_snr * tracks[i].hz * tracks[i].hz;
            if (!taken[i] && tracks[i].n_lines > 0 && tracks[i].energy_snr > LEAST_ENERGY_SNR &&
                w > worth)
                worth = w, best = i;
        }
        if (best == n)
            break;
        taken[best] = true;
        kept += begin_strand(&strands[kept], &tracks[best], present);
    }
    return kept;
}

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

/* Fills in unit[][] for the present scale. Nearly all strands begin together, and their glides
 * then run alike. */
static void tabulate(struct fit *fit) {
    double scale = exp(fit->shared[SCALE]);
    if (scale == fit->tabled)
        return;
    for (size_t i = 0; i < fit->n; i++) {
        struct strand *strand = &fit->strands[i];
        const struct strand *last = i > 0 ? strand - 1 : NULL;
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

/* A strand's model at its samples: its derivatives by the unknowns, own then shared, and what it
 * leaves of the samples. */
struct columns {
    sb_cpx by[LOCAL + SHARED][POINTS], rest[POINTS];
};

static void differentiate(const struct fit *fit, const struct strand *strand,
                          struct columns *column) {
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

/* A decay beside that of the first line: what other strings do, not what is known. */
static double decay_prior(const struct strand *strand, double *std) {
    *std = fmax(0.6 * strand->x[D1], 0.3);
    return 1.2 * strand->x[D1];
}

/* 1/variance of a second line's amplitude: as a rule it is the smaller. */
static double second_prior(const struct strand *strand) {
    return 1.0 / pow(PRIOR_SECOND * strand->size, 2);
}

/* Stretch raises a pitch; next to nothing lowers it. */
static double gamma_prior(const struct fit *fit) {
    return fit->no_glide ? 1e-9 : fit->shared[GAMMA] < 0 ? PRIOR_FALL : SB_GLIDE_USUAL;
}

static double prior_cost(const struct fit *fit) {
    double off = fit->shared[SCALE] / PRIOR_LN_SCALE;
    double cost = pow(fit->shared[GAMMA] / gamma_prior(fit), 2) + off * off;
    if (fit->locals < LOCAL)
        return cost;
    cost += pow(fit->shared[DETUNE] / PRIOR_DETUNE, 2);
    for (size_t i = 0; i < fit->n; i++) {
        double std, mean = decay_prior(&fit->strands[i], &std);
        const double *x = fit->strands[i].x;
        cost += pow((x[D2] - mean) / std, 2);
        cost += (x[A2] * x[A2] + x[B2] * x[B2]) * second_prior(&fit->strands[i]);
    }
    return cost;
}

/* Real part of <a, b>. */
static double across(const sb_cpx a[], const sb_cpx b[], size_t n) {
    sb_pair sum = {0, 0};
    for (size_t m = 0; m < n; m++)
        sum += sb_pair_load((const double *)&a[m]) * sb_pair_load((const double *)&b[m]);
    return sum[0] + sum[1];
}

/* A strand's equations, and its part of those of the shared unknowns. */
static void accumulate(struct fit *fit, struct strand *strand, const struct columns *column) {
    double w = strand->weight;
    size_t n = strand->n;
    size_t shared = fit->locals == LOCAL ? SHARED : DETUNE; /* one line has nothing to be off */
    for (size_t p = 0; p < fit->locals; p++) {
        strand->g[p] = w * across(column->by[p], column->rest, n);
        for (size_t q = 0; q <= p; q++)
            strand->h[p][q] = w * across(column->by[p], column->by[q], n);
        for (size_t s = 0; s < shared; s++)
            strand->c[p][s] = w * across(column->by[p], column->by[LOCAL + s], n);
    }
    for (size_t s = 0; s < shared; s++) {
        fit->g[s] += w * across(column->by[LOCAL + s], column->rest, n);
        for (size_t u = 0; u <= s; u++)
            fit->h[s][u] += w * across(column->by[LOCAL + s], column->by[LOCAL + u], n);
    }
}

static void add_priors(struct fit *fit) {
    const double std[SHARED] = {gamma_prior(fit), PRIOR_LN_SCALE, PRIOR_DETUNE};
    for (size_t s = 0; s < SHARED; s++) {
        fit->h[s][s] += 1.0 / (std[s] * std[s]);
        fit->g[s] -= fit->shared[s] / (std[s] * std[s]);
    }
    for (size_t i = 0; i < fit->n && fit->locals == LOCAL; i++) {
        double deviation, centre = decay_prior(&fit->strands[i], &deviation);
        fit->strands[i].h[D2][D2] += 1.0 / (deviation * deviation);
        fit->strands[i].g[D2] += (centre - fit->strands[i].x[D2]) / (deviation * deviation);
        double w = second_prior(&fit->strands[i]);
        fit->strands[i].h[A2][A2] += w, fit->strands[i].g[A2] -= w * fit->strands[i].x[A2];
        fit->strands[i].h[B2][B2] += w, fit->strands[i].g[B2] -= w * fit->strands[i].x[B2];
    }
}

/* Cost, and the normal equations round the present unknowns. */
static double linearise(struct fit *fit) {
    struct columns column;
    double cost = prior_cost(fit);
    tabulate(fit);
    memset(fit->h, 0, sizeof fit->h);
    memset(fit->g, 0, sizeof fit->g);
    for (size_t i = 0; i < fit->n; i++) {
        struct strand *strand = &fit->strands[i];
        memset(strand->h, 0, sizeof strand->h);
        memset(strand->c, 0, sizeof strand->c);
        memset(strand->g, 0, sizeof strand->g);
        differentiate(fit, strand, &column);
        cost += strand->weight * across(column.rest, column.rest, strand->n);
        accumulate(fit, strand, &column);
    }
    add_priors(fit);
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

/* Takes the partials' own unknowns out of the shared ones' equations, each strand keeping in
 * c[][] what a shared step does to its own, negative, and in step[] its own step without. */
static bool eliminate(struct fit *fit, double damping) {
    for (size_t i = 0; i < fit->n; i++) {
        struct strand *strand = &fit->strands[i];
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

static void take_step(struct fit *fit) {
    back(&fit->h[0][0], SHARED, SHARED, fit->g);
    for (size_t s = 0; s < SHARED; s++)
        fit->shared[s] += fit->g[s];
    for (size_t i = 0; i < fit->n; i++) {
        struct strand *strand = &fit->strands[i];
        for (size_t p = 0; p < fit->locals; p++) {
            double step = strand->step[p];
            for (size_t s = 0; s < SHARED; s++)
                step -= strand->c[p][s] * fit->g[s];
            strand->x[p] += step;
        }
    }
}

struct unknowns {
    double shared[SHARED], x[STRANDS][LOCAL];
};

static void save(const struct fit *fit, struct unknowns *to) {
    memcpy(to->shared, fit->shared, sizeof to->shared);
    for (size_t i = 0; i < fit->n; i++)
        memcpy(to->x[i], fit->strands[i].x, sizeof to->x[i]);
}

static void restore(struct fit *fit, const struct unknowns *from) {
    memcpy(fit->shared, from->shared, sizeof fit->shared);
    for (size_t i = 0; i < fit->n; i++)
        memcpy(fit->strands[i].x, from->x[i], sizeof from->x[i]);
}

/* From unknowns whose equations and cost are there, until the cost sinks no more or below
 * `enough`. Leaves the unknowns at the best place found and the equations round it. */
static void descend_on(struct fit *fit, double enough) {
    struct unknowns best;
    double damping = 1e-4;
    for (int round = 0; round < ROUNDS && damping < 1e6; round++) {
        save(fit, &best);
        bool solved = eliminate(fit, damping);
        if (solved)
            take_step(fit);
        double cost = solved ? linearise(fit) : (double)INFINITY;
        if (cost < fit->cost) {
            bool done = fit->cost - cost < 1e-3 * (1.0 + 1e-3 * cost);
            fit->cost = cost;
            damping *= 0.1;
            if (done || cost < enough)
                return;
        } else {
            restore(fit, &best);
            (void)linearise(fit);
            damping *= 10.0;
        }
    }
}

static void descend(struct fit *fit) {
    fit->cost = linearise(fit);
    descend_on(fit, -(double)INFINITY);
}

/* ---- where the second line might be ---- */

static sb_cpx dot(const sb_cpx a[], const sb_cpx b[], size_t n) {
    sb_cpx sum = {0, 0};
    for (size_t m = 0; m < n; m++) {
        sum.re += a[m].re * b[m].re + a[m].im * b[m].im;
        sum.im += a[m].re * b[m].im - a[m].im * b[m].re;
    }
    return sum;
}

static void remove_part(sb_cpx from[], const sb_cpx unit[], size_t n) {
    double size = dot(unit, unit, n).re;
    sb_cpx share = dot(unit, from, n);
    share.re /= size, share.im /= size;
    for (size_t m = 0; m < n; m++) {
        sb_cpx part = sb_cpx_times(share, unit[m]);
        from[m].re -= part.re, from[m].im -= part.im;
    }
}

/* What a second line that far apart would explain of a strand's residual, in units of its
 * noise; its amplitude goes to *amplitude. What the first line could take up by itself does
 * not count. */
static double second_gain(const struct fit *fit, struct strand *strand, sb_cpx *amplitude) {
    struct columns column;
    sb_cpx *e1 = column.by[A1], *slope = column.by[W], *e2 = column.by[A2];
    differentiate(fit, strand, &column);
    for (size_t m = 0; m < strand->n; m++) {
        double apart = SB_TWO_PI * strand->hz * fit->shared[DETUNE] * (double)m * strand->step_s;
        e2[m] = sb_cpx_times(e1[m], (sb_cpx){cos(apart), sin(apart)});
    }
    double whole = dot(e2, e2, strand->n).re;
    remove_part(slope, e1, strand->n);
    remove_part(e2, e1, strand->n);
    remove_part(e2, slope, strand->n);
    double left = dot(e2, e2, strand->n).re;
    *amplitude = (sb_cpx){0, 0};
    if (!(left > 1e-3 * whole))
        return 0.0;
    sb_cpx found = dot(e2, column.rest, strand->n);
    *amplitude = (sb_cpx){found.re / left, found.im / left};
    return strand->weight * (found.re * found.re + found.im * found.im) / left;
}

static double gain_at(struct fit *fit, double detune, bool begin) {
    double sum = 0;
    fit->shared[DETUNE] = detune;
    tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        sb_cpx amplitude;
        sum += second_gain(fit, &fit->strands[i], &amplitude);
        if (begin) {
            fit->strands[i].x[A2] = amplitude.re;
            fit->strands[i].x[B2] = amplitude.im;
        }
    }
    return sum;
}

/* The cents that promise most, in descending order. */
static void rank_detunes(struct fit *fit, double detunes[DETUNES]) {
    static const double cents[DETUNES / 2] = {0.35, 0.6, 1.0, 1.6, 2.6, 4.2};
    double gains[DETUNES];
    for (size_t i = 0; i < DETUNES; i++) {
        double detune = (i % 2 ? 1.0 : -1.0) * cents[i / 2] / SB_CENTS_PER_LN;
        double gain = gain_at(fit, detune, false);
        size_t at = i;
        for (; at > 0 && gains[at - 1] < gain; at--)
            gains[at] = gains[at - 1], detunes[at] = detunes[at - 1];
        gains[at] = gain, detunes[at] = detune;
    }
}

/* ---- the outcome ---- */

/* The one that was plucked the harder is the partial, though the other may last longer. */
static void put_stronger_first(struct fit *fit) {
    double first = 0, second = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const double *x = fit->strands[i].x;
        double one = sb_line_early_energy(x[A1], x[B1], x[D1]);
        double two = sb_line_early_energy(x[A2], x[B2], x[D2]);
        first += one / (one + two), second += two / (one + two);
    }
    if (second <= first)
        return;
    for (size_t i = 0; i < fit->n; i++) {
        double *x = fit->strands[i].x, old[LOCAL];
        memcpy(old, x, sizeof old);
        x[W] += SB_TWO_PI * fit->strands[i].hz * fit->shared[DETUNE];
        x[A1] = old[A2], x[B1] = old[B2], x[D1] = old[D2];
        x[A2] = old[A1], x[B2] = old[B1], x[D2] = old[D1];
    }
    fit->shared[DETUNE] = -fit->shared[DETUNE];
    descend(fit);
}

static double degrees_of_freedom(const struct fit *fit) {
    double free = 0;
    for (size_t i = 0; i < fit->n; i++)
        free += 2.0 * (double)fit->strands[i].n - (double)fit->locals;
    return fmax(free, 1.0);
}

/* How a strand's frequency, in rad/s, varies with its own noise alone. */
static double own_variance(const struct fit *fit, const struct strand *strand) {
    double unit[LOCAL] = {0};
    unit[W] = 1.0;
    back(&strand->h[0][0], fit->locals, LOCAL, unit);
    return unit[W];
}

static void update_track(const struct fit *fit, const struct strand *strand, double excess) {
    sb_track *track = strand->of;
    const double *x = strand->x;
    double hz = track->lines[0].hz + x[W] / SB_TWO_PI;
    sb_line first = {.hz = hz, .decay_per_s = x[D1], .re = x[A1], .im = x[B1]};
    sb_line second = {.hz = hz + strand->hz * fit->shared[DETUNE],
                      .decay_per_s = x[D2],
                      .re = x[A2],
                      .im = x[B2]};
    sb_line kept[SB_LINES_MAX] = {first, second};
    size_t n = 2;
    for (size_t j = 1; j < track->n_lines && n < SB_LINES_MAX; j++)
        if (!sb_track_other_plane(track, j))
            kept[n++] = track->lines[j];
    double std_hz = sqrt(own_variance(fit, strand) * excess) / SB_TWO_PI;
    kept[0].hz_std_unit = std_hz / sqrt(track->noise);
    memcpy(track->lines, kept, n * sizeof kept[0]);
    track->n_lines = n;
    track->hz = track->band.centre_hz + hz;
    track->hz_std = std_hz;
}

/* What the shared unknowns' errors do to all pitches alike, relative. */
static double common_std(struct fit *fit, double excess) {
    double lean[SHARED] = {0}, total = 0, variance = 0;
    for (size_t i = 0; i < fit->n; i++) {
        const struct strand *strand = &fit->strands[i];
        double w = strand->hz * strand->hz / own_variance(fit, strand);
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

static void report(struct fit *fit, sb_track tracks[], size_t n, sb_glide *glide) {
    double excess = MODEL_EXCESS * fmax(fit->cost / degrees_of_freedom(fit), 1.0);
    (void)linearise(fit);
    if (!eliminate(fit, 0.0))
        return;
    *glide = fit->shape;
    glide->gamma = fit->shared[GAMMA];
    for (size_t m = 0; m < glide->terms; m++)
        glide->rate_per_s[m] /= exp(fit->shared[SCALE]);
    double taken = fit->shape_gamma != 0 ? fabs(glide->gamma / fit->shape_gamma) : 0.0;
    glide->shape_std = fmin(taken, 2.0) * fit->shape.shape_std;
    glide->common_std = hypot(common_std(fit, excess), glide->shape_std);
    bool done[SB_MAX_PARTIALS] = {false};
    for (size_t i = 0; i < fit->n; i++) {
        done[fit->strands[i].of - tracks] = true;
        update_track(fit, &fit->strands[i], excess);
    }
    for (size_t i = 0; i < n; i++)
        if (!done[i])
            tracks[i].hz_std = hypot(tracks[i].hz_std, 0.5 * fit->shared[DETUNE] * tracks[i].hz);
}

static struct fit begin_fit(const sb_glide *present, struct strand strands[], size_t n) {
    struct fit fit = {.n = n, .locals = A2, .strands = strands, .shape = *present};
    if (present->terms == 0)
        fit.shape = (sb_glide){.terms = 1, .weight = {1.0}, .rate_per_s = {1.0 / SB_GLIDE_USUAL_S}};
    fit.shape_gamma = present->gamma;
    fit.shape.gamma = 1.0;
    fit.shared[GAMMA] = present->gamma;
    return fit;
}

static void rotate(double *re, double *im, double angle) {
    double c = cos(angle), s = sin(angle), a = *re;
    *re = a * c - *im * s;
    *im = a * s + *im * c;
}

/* Takes the glide out of the model, each strand keeping what of it a steady pitch can imitate,
 * so that the fit begins near where it will end. */
static void turn_glide_into_pitch(struct fit *fit) {
    double gamma = fit->shared[GAMMA], scale = exp(fit->shared[SCALE]);
    for (size_t i = 0; i < fit->n; i++) {
        struct strand *strand = &fit->strands[i];
        double *x = strand->x, w = 0, t = 0, tt = 0, s = 0, st = 0;
        for (size_t m = 0; m < strand->n; m++) {
            double since = (double)m * strand->step_s, ahead, slope;
            double weight = exp(-2.0 * fmax(x[D1], 0.0) * since);
            unit_ahead(&fit->shape, scale, strand->t0_s + since, &ahead, &slope);
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

static bool accounts_for_all(const struct fit *fit, double least) {
    return fit->cost < least && fit->cost < WELL_FITTED * degrees_of_freedom(fit);
}

/* The best of the likeliest places of a second line, from the unknowns as they are. */
static void place_second(struct fit *fit) {
    struct unknowns alone, best = {0};
    double detunes[DETUNES], least = (double)INFINITY;
    fit->locals = A2;
    save(fit, &alone);
    rank_detunes(fit, detunes);
    for (size_t i = 0; i < PLACES; i++) {
        restore(fit, &alone);
        fit->locals = A2;
        (void)gain_at(fit, detunes[i], true);
        fit->locals = LOCAL;
        descend(fit);
        if (fit->cost < least)
            least = fit->cost, save(fit, &best);
    }
    restore(fit, &best);
    fit->cost = least;
}

/* A second line beside each partial; what passed for a glide may all have been beating, so
 * it is looked for without one, too. */
static bool add_second(struct fit *fit) {
    struct unknowns alone;
    double least = fit->cost / LEAST_FALL;
    save(fit, &alone);
    place_second(fit);
    if (accounts_for_all(fit, least))
        return true;
    restore(fit, &alone);
    fit->locals = A2;
    fit->no_glide = true;
    turn_glide_into_pitch(fit);
    descend(fit);
    fit->no_glide = false;
    place_second(fit);
    return accounts_for_all(fit, least);
}

/* A slow glide and the pitch itself look much alike: without need there is none. */
static void do_without_glide(struct fit *fit) {
    struct unknowns with;
    double cost = fit->cost;
    save(fit, &with);
    fit->no_glide = true;
    turn_glide_into_pitch(fit);
    descend(fit);
    if (fit->cost < cost + GLIDE_WORTH * fmax(cost / degrees_of_freedom(fit), 1.0))
        return;
    fit->no_glide = false;
    restore(fit, &with);
    descend(fit);
}

bool sb_joint_refine(sb_track tracks[], size_t n, sb_glide *glide) {
    struct strand strands[STRANDS];
    size_t kept = n <= SB_MAX_PARTIALS ? choose(tracks, n, glide, strands) : 0;
    if (kept < FEWEST_STRANDS)
        return false;
    struct fit fit = begin_fit(glide, strands, kept);
    /* As a rule one line fits so well that there is nothing to look for. */
    double enough = LEAST_FALL * degrees_of_freedom(&fit);
    fit.cost = linearise(&fit);
    if (fit.cost < enough)
        return false;
    descend_on(&fit, enough);
    if (fit.cost < enough || !add_second(&fit))
        return false;
    do_without_glide(&fit);
    put_stronger_first(&fit);
    report(&fit, tracks, n, glide);
    return true;
}
