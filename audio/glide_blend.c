#include <math.h>
#include <string.h>

#include "audio/cholesky.h"
#include "audio/glide_parts.h"

/* Columns: the exponentials' integrals; the derivative of the family's by the logarithm of its
 * scale; and u. */
enum { TERMS = SB_GLIDE_TERMS, STRETCH = TERMS, U, COLUMNS };
enum { GAMMA = SB_BLEND_GAMMA, SCALE = SB_BLEND_SCALE, UNKNOWNS = SB_BLEND_UNKNOWNS };

/* Time constants from the shortest that a band shows to about the longest glide's. */
static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.65;
static const double PRIOR_STD = 0.7 * SB_GLIDE_USUAL; /* of one amount */
static const double LEAST_SHARE = 0.2;                /* of the sum in what the amounts come to */

/* Weighted sums of the columns over one track or, once each track had a level and a slope of its
 * own taken out, over all. */
struct moments {
    double w, t, tt, one[COLUMNS], slope[COLUMNS], cross[COLUMNS][COLUMNS];
};

struct pooled {
    double cross[COLUMNS][COLUMNS], lean[U], count;
};

static struct moments measure(const struct sb_glide_seen *seen, size_t i,
                              const struct sb_glide_blended *of) {
    const struct sb_glide_sums *shift = &seen->track[i].sums;
    struct moments sum = {.w = shift->w, .t = shift->t, .tt = shift->tt};
    sum.one[U] = shift->u, sum.slope[U] = shift->ut, sum.cross[U][U] = shift->uu;
    double step = seen->track[i].step_s, t0 = seen->track[i].t0_s, left[TERMS], factor[TERMS],
           times[TERMS];
    for (size_t m = 0; m < TERMS; m++) {
        times[m] = sb_glide_times(&of->family, m, seen->track[i].number);
        left[m] = exp(-of->family.rate_per_s[m] * t0);
        factor[m] = exp(-of->family.rate_per_s[m] * step);
    }
    for (size_t k = 0; k < seen->track[i].held; k++) {
        double t = (double)k * step, w = seen->track[i].w[k], c[COLUMNS] = {0};
        for (size_t m = 0; m < TERMS; m++) {
            c[m] = times[m] * (1.0 - left[m]) / of->family.rate_per_s[m];
            c[STRETCH] += of->family.weight[m] * (c[m] - times[m] * (t + t0) * left[m]);
            left[m] *= factor[m];
        }
        c[U] = seen->track[i].u[k];
        for (size_t p = 0; p < U; p++) {
            sum.one[p] += w * c[p], sum.slope[p] += w * c[p] * t;
            for (size_t q = p; q < COLUMNS; q++)
                sum.cross[p][q] += w * c[p] * c[q];
        }
    }
    return sum;
}

/* The slope that a unit amount is taken for counts by what the track says of pitch. */
static void pool(struct pooled *pooled, const struct moments *sum, double count, double *says) {
    double det = sum->w * sum->tt - sum->t * sum->t, slope[COLUMNS], level[COLUMNS];
    for (size_t p = 0; p < COLUMNS; p++) {
        slope[p] = (sum->w * sum->slope[p] - sum->t * sum->one[p]) / det;
        level[p] = (sum->one[p] - slope[p] * sum->t) / sum->w;
    }
    for (size_t p = 0; p < COLUMNS; p++)
        for (size_t q = p; q < COLUMNS; q++)
            pooled->cross[p][q] +=
                sum->cross[p][q] - level[p] * sum->one[q] - slope[p] * sum->slope[q];
    double own = det / sum->w;
    for (size_t m = 0; m < U; m++)
        pooled->lean[m] += own * slope[m];
    *says += own;
    pooled->count += count;
}

static double crossed(const struct pooled *pooled, size_t p, size_t q) {
    return pooled->cross[p < q ? p : q][p < q ? q : p];
}

/* What a unit of an unknown adds of each column. */
static void columns_of(const struct sb_glide_blended *of, size_t unknown, double gamma,
                       double by[U]) {
    memset(by, 0, U * sizeof by[0]);
    if (unknown < TERMS)
        by[unknown] = 1.0;
    else if (unknown == GAMMA)
        memcpy(by, of->family.weight, sizeof of->family.weight);
    else
        by[STRETCH] = gamma;
}

static double combined(const double by[U], const double columns[U]) {
    double sum = 0;
    for (size_t p = 0; p < U; p++)
        sum += by[p] * columns[p];
    return sum;
}

/* The pooled products of the columns, as those of the unknowns. */
static void set_up(const struct pooled *pooled, double gamma, struct sb_glide_blended *out) {
    double by[UNKNOWNS][U];
    out->uu = pooled->cross[U][U];
    out->count = pooled->count;
    for (size_t a = 0; a < UNKNOWNS; a++) {
        double on[COLUMNS] = {0};
        columns_of(out, a, gamma, by[a]);
        for (size_t p = 0; p < U; p++)
            for (size_t q = 0; q < COLUMNS && by[a][p] != 0; q++)
                on[q] += by[a][p] * crossed(pooled, p, q);
        out->on_u[a] = on[U];
        out->lean[a] = combined(by[a], pooled->lean);
        for (size_t b = 0; b <= a; b++)
            out->h[a][b] = combined(by[b], on);
    }
}

/* Where *out has what is held likely, its equations. */
static bool sum_up(const struct sb_glide_seen *seen, double gamma, struct sb_glide_blended *out) {
    struct pooled pooled = {0};
    double says = 0;
    for (size_t i = 0; i < seen->n; i++) {
        struct moments sum = measure(seen, i, out);
        pool(&pooled, &sum, (double)seen->track[i].held, &says);
    }
    if (!(says > 0))
        return false;
    for (size_t m = 0; m < U; m++)
        pooled.lean[m] /= says;
    set_up(&pooled, gamma, out);
    return true;
}

bool sb_glide_blend_any(const struct sb_glide_seen *seen, struct sb_glide_blended *out) {
    memset(out, 0, sizeof *out);
    for (size_t m = 0; m < TERMS; m++) {
        out->family.rate_per_s[m] = 1.0 / (FIRST_TAU_S * pow(TAU_GROWTH, (double)m));
        out->std[m] = PRIOR_STD;
    }
    return sum_up(seen, 0.0, out);
}

bool sb_glide_blend_about(const struct sb_glide_seen *seen, const struct sb_glide_family *family,
                          double gamma, struct sb_glide_blended *out) {
    memset(out, 0, sizeof *out);
    out->family = family->shape;
    for (size_t m = 0; m < TERMS; m++) {
        bool has = m < family->shape.terms;
        out->family.rate_per_s[m] = has ? family->shape.rate_per_s[m] : 1.0;
        out->family.weight[m] = has ? family->shape.weight[m] : 0.0;
        out->std[m] = has ? fabs(gamma) * family->weight_std[m] : 0.0;
    }
    out->std[GAMMA] = SB_GLIDE_USUAL;
    out->std[SCALE] = family->prior_ln_std;
    return sum_up(seen, gamma, out);
}

/* h/noise + 1/std^2 as Cholesky's factor, and the logarithm of its determinant over that of the
 * prior's. What is not among the unknowns stands by itself. */
static bool factorise(const struct sb_glide_blended *of, double noise, double l[UNKNOWNS][UNKNOWNS],
                      double *ln_det) {
    *ln_det = 0;
    for (size_t p = 0; p < UNKNOWNS; p++) {
        for (size_t q = 0; q <= p; q++)
            l[p][q] = of->std[p] > 0 && of->std[q] > 0 ? of->h[p][q] / noise : 0.0;
        l[p][p] += of->std[p] > 0 ? 1.0 / (of->std[p] * of->std[p]) : 1.0;
    }
    if (!sb_cholesky_factor(&l[0][0], UNKNOWNS, UNKNOWNS, 0.0))
        return false;
    for (size_t p = 0; p < UNKNOWNS; p++)
        *ln_det += 2.0 * log(of->std[p] > 0 ? l[p][p] * of->std[p] : l[p][p]);
    return true;
}

static double squares(const double x[UNKNOWNS]) {
    double sum = 0;
    for (size_t m = 0; m < UNKNOWNS; m++)
        sum += x[m] * x[m];
    return sum;
}

/* What the unknowns leave of u a block. */
static double left_by(const struct sb_glide_blended *of, const double x[UNKNOWNS]) {
    double left = of->uu;
    for (size_t a = 0; a < UNKNOWNS; a++) {
        left -= 2.0 * x[a] * of->on_u[a];
        for (size_t b = 0; b < UNKNOWNS; b++)
            left += x[a] * x[b] * of->h[a > b ? a : b][a > b ? b : a];
    }
    return left / of->count;
}

static bool write_amounts(const struct sb_glide_blended *of, const double x[UNKNOWNS],
                          struct sb_glide_blend *out) {
    double size = 0;
    out->gamma = 0;
    out->shape = of->family;
    out->shape.terms = TERMS;
    for (size_t m = 0; m < TERMS; m++) {
        out->shape.weight[m] = x[m] + x[GAMMA] * of->family.weight[m];
        out->shape.rate_per_s[m] = of->family.rate_per_s[m] * exp(-x[SCALE]);
        out->gamma += out->shape.weight[m], size += fabs(out->shape.weight[m]);
    }
    for (size_t m = 0; m < TERMS; m++)
        out->shape.weight[m] /= out->gamma;
    return fabs(out->gamma) > LEAST_SHARE * size;
}

/* The unknowns at one noise, and what they leave. */
static bool fit(const struct sb_glide_blended *of, double noise, struct sb_glide_blend *out,
                double *left) {
    double l[UNKNOWNS][UNKNOWNS], x[UNKNOWNS], lean[UNKNOWNS], ln_det;
    if (!factorise(of, noise, l, &ln_det))
        return false;
    for (size_t a = 0; a < UNKNOWNS; a++) {
        x[a] = of->std[a] > 0 ? of->on_u[a] / noise : 0.0;
        lean[a] = of->std[a] > 0 ? of->lean[a] : 0.0;
    }
    sb_cholesky_forward(&l[0][0], UNKNOWNS, UNKNOWNS, lean);
    out->shift_var = squares(lean);
    sb_cholesky_forward(&l[0][0], UNKNOWNS, UNKNOWNS, x);
    out->odds = 0.5 * (squares(x) - ln_det);
    sb_cholesky_backward(&l[0][0], UNKNOWNS, UNKNOWNS, x);
    out->shift = 0;
    for (size_t a = 0; a < UNKNOWNS; a++)
        out->shift += x[a] * of->lean[a];
    *left = left_by(of, x);
    return write_amounts(of, x, out);
}

bool sb_glide_blend_judge(const struct sb_glide_blended *of, double least_noise,
                          struct sb_glide_blend *out) {
    double left = 0;
    (void)fit(of, least_noise, out, &left);
    out->noise = fmax(left, least_noise);
    double explained = of->uu / of->count - out->noise;
    out->left = explained > 0 ? sqrt(out->noise / explained) : (double)INFINITY;
    return fit(of, out->noise, out, &left);
}
