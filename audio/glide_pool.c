/* What the tracks say of one shape of glide, and of each other. */
#include <math.h>

#include "audio/glide_parts.h"
#include "audio/lanes.h"
#include "core/order.h"
#include "core/pitch.h"

enum { HALVINGS = 20 };

/* Of a phase, square radians. */
static const double LEAST_DISTURBANCE = 1e-12, MOST_DISTURBANCE = 10.0;
static const double ODD_TIMES = 3.0; /* what is left of a track, of the others' median */

/* Weighted sums of one track's columns with 1, t and each other. */
struct sums {
    double w, t, tt, one[SB_SDU], slope[SB_SDU], cross[SB_SDU][SB_SDU];
};

/* A track's sums: of S and D, which are summed alike, block by block, the others as gathered.
 * course[k]: at block k. */
static struct sums sum_up(const struct sb_glide_seen *seen, size_t i, const sb_pair course[]) {
    const struct sb_glide_sums *shift = &seen->track[i].sums;
    sb_pair one = {0}, slope = {0}, own = {0}, with_u = {0};
    double sd = 0, step = seen->track[i].step_s;
    for (size_t k = 0; k < seen->track[i].held; k++) {
        double w = seen->track[i].w[k], t = (double)k * step;
        sb_pair wc = w * course[k];
        one += wc, slope += wc * t;
        own += wc * course[k], with_u += wc * seen->track[i].u[k];
        sd += wc[SB_S] * course[k][SB_D];
    }
    return (struct sums){
        .w = shift->w,
        .t = shift->t,
        .tt = shift->tt,
        .one = {one[SB_S], one[SB_D], shift->u},
        .slope = {slope[SB_S], slope[SB_D], shift->ut},
        .cross = {{own[SB_S], sd, with_u[SB_S]}, {0, own[SB_D], with_u[SB_D]}, {0, 0, shift->uu}}};
}

static void pool(struct sb_glide_pooled *pooled, const struct sums *m, double count) {
    double det = m->w * m->tt - m->t * m->t, slope[SB_SDU], level[SB_SDU];
    for (int i = 0; i < SB_SDU; i++) {
        slope[i] = (m->w * m->slope[i] - m->t * m->one[i]) / det;
        level[i] = (m->one[i] - slope[i] * m->t) / m->w;
    }
    for (int i = 0; i < SB_SDU; i++)
        for (int j = i; j < SB_SDU; j++)
            pooled->cross[i][j] += m->cross[i][j] - level[i] * m->one[j] - slope[i] * m->slope[j];
    double share = m->cross[SB_S][SB_S] - level[SB_S] * m->one[SB_S] - slope[SB_S] * m->slope[SB_S];
    pooled->lean[SB_S] += slope[SB_S] * share;
    pooled->lean[SB_D] += slope[SB_D] * share;
    pooled->count += count;
    double us = m->cross[SB_S][SB_U] - level[SB_S] * m->one[SB_U] - slope[SB_S] * m->slope[SB_U];
    pooled->own += share > 0 ? us * us / share : 0.0;
    pooled->tracks += 1.0;
}

/* The terms' exponentials, stepped along a track. */
struct fading {
    double left[SB_GLIDE_TERMS], factor[SB_GLIDE_TERMS], share[SB_GLIDE_TERMS];
    double rate[SB_GLIDE_TERMS];
};

static struct fading begin_fading(const sb_glide_shape *shape, int number, double scale, double t0,
                                  double step) {
    struct fading fading;
    for (size_t m = 0; m < shape->terms; m++) {
        fading.rate[m] = shape->rate_per_s[m] / scale;
        fading.left[m] = exp(-fading.rate[m] * t0);
        fading.factor[m] = exp(-fading.rate[m] * step);
        fading.share[m] = sb_glide_weight(shape, m, number) / fading.rate[m];
    }
    return fading;
}

static sb_pair step_fading(struct fading *fading, const sb_glide_shape *shape, double t) {
    sb_pair c = {0};
    for (size_t m = 0; m < shape->terms; m++) {
        double run = fading->share[m] * (1.0 - fading->left[m]);
        c[SB_S] += run;
        c[SB_D] += run - fading->share[m] * fading->rate[m] * t * fading->left[m];
        fading->left[m] *= fading->factor[m];
    }
    return c;
}

/* S and D at every block of a track: the same for all that begin together, as nearly all do, but
 * for what is their own. */
struct course {
    double t0_s, step_s;
    sb_pair at[SB_GLIDE_BLOCKS_MAX];
};

static void run_course(struct course *course, const struct sb_glide_seen *seen, size_t track,
                       const sb_glide_shape *shape, double scale) {
    double t0 = seen->track[track].t0_s, step = seen->track[track].step_s;
    if (track > 0 && shape->own == 0 && t0 == course->t0_s && step == course->step_s)
        return;
    struct fading fading = begin_fading(shape, seen->track[track].number, scale, t0, step);
    for (size_t k = 0; k < seen->longest; k++)
        course->at[k] = step_fading(&fading, shape, (double)k * step + t0);
    course->t0_s = t0;
    course->step_s = step;
}

struct sb_glide_pooled sb_glide_pool_all(const struct sb_glide_seen *seen,
                                         const sb_glide_shape *shape, double scale) {
    struct sb_glide_pooled pooled = {0};
    struct course course = {0};
    for (size_t i = 0; i < seen->n; i++) {
        run_course(&course, seen, i, shape, scale);
        struct sums sums = sum_up(seen, i, course.at);
        pool(&pooled, &sums, (double)seen->track[i].held);
    }
    if (pooled.cross[SB_S][SB_S] > 0) {
        pooled.lean[SB_S] /= pooled.cross[SB_S][SB_S];
        pooled.lean[SB_D] /= pooled.cross[SB_S][SB_S];
    }
    return pooled;
}

/* What one track says by itself. */
struct saying {
    double gamma, variance; /* by its noise */
    double moved;           /* variance of gamma for a disturbance of its phase of 1 rad */
    double shared;          /* what a common gamma leaves, a block */
};

/* What each track says, and what `common` leaves of it. */
static void ask_all(const struct sb_glide_seen *seen, const sb_glide_shape *shape, double scale,
                    double common, struct saying said[]) {
    struct course course = {0};
    for (size_t i = 0; i < seen->n; i++) {
        struct sb_glide_pooled p = {0};
        run_course(&course, seen, i, shape, scale);
        struct sums sums = sum_up(seen, i, course.at);
        pool(&p, &sums, (double)seen->track[i].held);
        double ss = p.cross[SB_S][SB_S], su = p.cross[SB_S][SB_U];
        said[i] = (struct saying){
            .gamma = su / ss,
            .variance = 1.0 / ss,
            .moved = sums.w / (ss * pow(seen->track[i].turn, 2)),
            .shared = (p.cross[SB_U][SB_U] - 2.0 * common * su + common * common * ss) / p.count};
    }
}

void sb_glide_lower_odd_ones(struct sb_glide_seen *seen, const sb_glide_shape *shape,
                             double scale) {
    struct saying said[SB_GLIDE_TRACKS];
    double left[SB_GLIDE_TRACKS];
    struct sb_glide_pooled p = sb_glide_pool_all(seen, shape, scale);
    ask_all(seen, shape, scale, p.cross[SB_S][SB_U] / p.cross[SB_S][SB_S], said);
    for (size_t i = 0; i < seen->n; i++)
        left[i] = said[i].shared;
    double usual = fmax(ODD_TIMES * sb_median(left, seen->n), 1.0);
    for (size_t i = 0; i < seen->n; i++)
        sb_glide_weigh_less(seen, i, fmin(usual / said[i].shared, 1.0));
}

/* How far sayings differ about their mean, in units of the variance that noise and a disturbance
 * give them. */
static double spread(const struct saying said[], size_t n, double disturbance) {
    double sum = 0, mean = 0, square = 0;
    for (size_t i = 0; i < n; i++) {
        double w = 1.0 / (said[i].variance + disturbance * said[i].moved);
        sum += w, mean += w * said[i].gamma, square += w * said[i].gamma * said[i].gamma;
    }
    return square - mean * mean / sum;
}

/* The disturbance of the partials' phases that makes sayings differ as they do (Paule & Mandel, J.
 * Res. Natl. Bur. Stand. 87, 377, 1982); 0 where their noise accounts for it. */
static double disturbance_of(const struct saying said[], size_t n) {
    double low = 0, high = LEAST_DISTURBANCE, wanted = (double)n - 1.0;
    if (n < 2 || spread(said, n, 0.0) <= wanted)
        return 0.0;
    while (high < MOST_DISTURBANCE && spread(said, n, high) > wanted)
        low = high, high *= 4.0;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (low + high);
        *(spread(said, n, middle) > wanted ? &low : &high) = middle;
    }
    return high;
}

double sb_glide_disturbed(const struct sb_glide_seen *seen, const sb_glide_shape *shape,
                          double scale) {
    struct saying said[SB_GLIDE_TRACKS];
    double says = 0, sum = 0;
    ask_all(seen, shape, scale, 0.0, said);
    for (size_t i = 0; i < seen->n; i++)
        says += 1.0 / said[i].variance;
    double disturbance = disturbance_of(said, seen->n);
    for (size_t i = 0; i < seen->n; i++)
        sum += 1.0 / (said[i].variance + disturbance * said[i].moved);
    return says / sum;
}
