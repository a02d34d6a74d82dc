#include "audio/glide_parts.h"

#include <math.h>
#include <string.h>

enum { TERMS = SB_GLIDE_TERMS, U = TERMS, COLUMNS };

/* Time constants from the shortest that a band shows to about the longest glide's. */
static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.65;
static const double PRIOR_STD = 0.7 * SB_GLIDE_USUAL; /* of one amount */
static const double LEAST_SHARE = 0.2;                /* of the sum in what the amounts come to */

/* Weighted sums of the columns, the exponentials' integrals and u, over one track or, once each
 * track had a level and a slope of its own taken out, over all. */
struct moments {
    double w, t, tt, one[COLUMNS], slope[COLUMNS], cross[COLUMNS][COLUMNS];
};

struct pooled {
    double cross[COLUMNS][COLUMNS], lean[TERMS], count;
};

static double rate_of(size_t m) {
    return 1.0 / (FIRST_TAU_S * pow(TAU_GROWTH, (double)m));
}

static struct moments measure(const struct sb_glide_seen *seen, size_t i) {
    const struct sb_glide_sums *shift = &seen->track[i].sums;
    struct moments sum = {.w = shift->w, .t = shift->t, .tt = shift->tt};
    sum.one[U] = shift->u, sum.slope[U] = shift->ut, sum.cross[U][U] = shift->uu;
    double step = seen->track[i].step_s, left[TERMS], factor[TERMS], rate[TERMS];
    for (size_t m = 0; m < TERMS; m++) {
        rate[m] = rate_of(m);
        left[m] = exp(-rate[m] * seen->track[i].t0_s);
        factor[m] = exp(-rate[m] * step);
    }
    for (size_t k = 0; k < seen->track[i].held; k++) {
        double t = (double)k * step, w = seen->track[i].w[k], c[COLUMNS];
        for (size_t m = 0; m < TERMS; m++) {
            c[m] = (1.0 - left[m]) / rate[m];
            left[m] *= factor[m];
        }
        c[U] = seen->track[i].u[k];
        for (size_t p = 0; p < TERMS; p++) {
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
    for (size_t m = 0; m < TERMS; m++)
        pooled->lean[m] += own * slope[m];
    *says += own;
    pooled->count += count;
}

/* Cholesky's factor of cross/noise + 1/prior^2 in the lower half; its logarithmic determinant. */
static bool factorise(const struct pooled *pooled, double noise, double h[TERMS][TERMS],
                      double *ln_det) {
    *ln_det = 0;
    for (size_t p = 0; p < TERMS; p++)
        for (size_t q = 0; q <= p; q++) {
            double sum = pooled->cross[q][p] / noise;
            sum += p == q ? 1.0 / (PRIOR_STD * PRIOR_STD) : 0.0;
            for (size_t r = 0; r < q; r++)
                sum -= h[p][r] * h[q][r];
            if (p == q && !(sum > 0 && isfinite(sum)))
                return false;
            h[p][q] = p == q ? sqrt(sum) : sum / h[q][q];
            *ln_det += p == q ? log(sum) : 0.0;
        }
    return true;
}

/* x becomes L^-1 x; then, with `both`, L^-T of that. */
static void solve(double h[TERMS][TERMS], double x[TERMS], bool both) {
    for (size_t p = 0; p < TERMS; p++) {
        for (size_t q = 0; q < p; q++)
            x[p] -= h[p][q] * x[q];
        x[p] /= h[p][p];
    }
    for (size_t p = TERMS; both && p-- > 0;) {
        for (size_t q = p + 1; q < TERMS; q++)
            x[p] -= h[q][p] * x[q];
        x[p] /= h[p][p];
    }
}

static double squares(const double x[TERMS]) {
    double sum = 0;
    for (size_t m = 0; m < TERMS; m++)
        sum += x[m] * x[m];
    return sum;
}

/* The amounts at one noise, and what they leave of u a block. */
static bool fit(const struct pooled *pooled, double noise, struct sb_glide_blend *out,
                double *left) {
    double h[TERMS][TERMS], x[TERMS], lean[TERMS], ln_det, size = 0, explained = 0;
    if (!factorise(pooled, noise, h, &ln_det))
        return false;
    for (size_t m = 0; m < TERMS; m++)
        x[m] = pooled->cross[m][U] / noise, lean[m] = pooled->lean[m];
    solve(h, x, false);
    out->odds = 0.5 * (squares(x) - ln_det) - (double)TERMS * log(PRIOR_STD);
    for (size_t m = 0; m < TERMS; m++)
        x[m] = pooled->cross[m][U] / noise;
    solve(h, x, true);
    solve(h, lean, false);
    out->shift_var = squares(lean);
    out->gamma = out->shift = 0;
    for (size_t m = 0; m < TERMS; m++) {
        out->gamma += x[m], size += fabs(x[m]);
        out->shift += x[m] * pooled->lean[m];
        explained += 2.0 * x[m] * pooled->cross[m][U];
        for (size_t q = 0; q < TERMS; q++)
            explained -= x[m] * x[q] * pooled->cross[m < q ? m : q][m < q ? q : m];
    }
    *left = (pooled->cross[U][U] - explained) / pooled->count;
    for (size_t m = 0; m < TERMS; m++)
        out->weight[m] = x[m] / out->gamma, out->rate_per_s[m] = rate_of(m);
    out->terms = TERMS;
    return fabs(out->gamma) > LEAST_SHARE * size;
}

bool sb_glide_blend_judge(const struct sb_glide_seen *seen, double least_noise,
                          struct sb_glide_blend *out) {
    struct pooled pooled = {0};
    double says = 0, left = 0;
    for (size_t i = 0; i < seen->n; i++) {
        struct moments sum = measure(seen, i);
        pool(&pooled, &sum, (double)seen->track[i].held, &says);
    }
    if (!(says > 0))
        return false;
    for (size_t m = 0; m < TERMS; m++)
        pooled.lean[m] /= says;
    (void)fit(&pooled, least_noise, out, &left);
    out->noise = fmax(left, least_noise);
    return fit(&pooled, out->noise, out, &left);
}
