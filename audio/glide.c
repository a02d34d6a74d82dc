#include <math.h>
#include <string.h>

#include "audio/glide_parts.h"
#include "audio/lanes.h"
#include "core/order.h"
#include "core/pitch.h"

enum { TAUS = 12, ROUNDS = 10, HALVINGS = 20 };

/* Shapes of glide: HEARD and after, by what is heard of the string. */
enum { EXPONENTIAL, STAGES, HEARD, FAMILIES = HEARD + 4 };

/* What glides are like before this one is heard: a relative shift at the first measured
 * sample of some 3 cents, up to 20 for hard plucks (the stretch of a 4 mm pluck), with a
 * time constant about half the note's own decay (the shift goes as amplitude squared).
 * The energy's own shape may be off by a little: partials unseen, losses that change. */
static const double PRIOR_LN_TAU = 0.9, PRIOR_LN_SCALE = 0.15, PRIOR_LN_EXACT = 0.01;
static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.55;
static const double TAIL_SHARE = 0.05, SHIFT_SHARE = 0.005;
/* Of that, where the shape leaves so large a part of what it explains. Those of the energy are by
 * what is heard of the string, which is not all of it. */
static const double EXPONENTIAL_LEFT = 0.015, ENERGY_LEFT = 0.005;
/* Log odds against each shape, before anything is heard: a glide is as likely as one too small to
 * matter. */
static const double ANY_HANDICAP = 0.9;
/* The second stage's rate over the first's. This shape is there for the doubt where it and the
 * exponential cannot be told apart; one that fits much better is the blend's to find. */
static const double STAGES_APART = 4.0, STAGES_HANDICAP = 2.0, STAGES_MORE = 1.0;
static const double BLEND_HANDICAP = 30.0, BLEND_WORTH = 0.5;
/* Of a phase, square radians. */
static const double LEAST_DISTURBANCE = 1e-12, MOST_DISTURBANCE = 10.0;
static const double ODD_TIMES = 3.0; /* what is left of a track, of the others' median */

void sb_glide_ahead(const sb_glide *glide, double t0_s, double step_s, size_t n, double out[]) {
    memset(out, 0, n * sizeof out[0]);
    for (size_t m = 0; glide->gamma != 0 && m < glide->terms; m++) {
        double left = exp(-glide->rate_per_s[m] * t0_s),
               factor = exp(-glide->rate_per_s[m] * step_s);
        double size = glide->gamma * glide->weight[m] / glide->rate_per_s[m];
        for (size_t k = 0; k < n; k++) {
            out[k] += size * (1.0 - left);
            left *= factor;
        }
    }
}

double sb_glide_shift(const sb_glide *glide, double t_s) {
    double left = 0;
    for (size_t m = 0; m < glide->terms; m++)
        left += glide->weight[m] * exp(-glide->rate_per_s[m] * t_s);
    return glide->gamma * left;
}

/* Of a shift and of what is still to come when the note ends: no sum of exponentials is its exact
 * shape, but the nearer the less it leaves. `left`: the RMS of what it does over that of the glide.
 */
static double shape_doubt(const sb_glide *glide, double shift, double end_s, double left) {
    double share = fmin(left / (glide->terms == 1 ? EXPONENTIAL_LEFT : ENERGY_LEFT), 1.0);
    return share * hypot(SHIFT_SHARE * shift, TAIL_SHARE * sb_glide_shift(glide, end_s));
}

/* Columns of the regression: the time S(t) that a glide of unit gamma runs ahead, its
 * derivative D by the logarithm of its time scale, and the observed shift u. */
enum { S, D, U, COLUMNS };

/* Weighted sums of one track's columns with 1, t and each other. */
struct sums {
    double w, t, tt, one[COLUMNS], slope[COLUMNS], cross[COLUMNS][COLUMNS];
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
        sd += wc[S] * course[k][D];
    }
    return (struct sums){
        .w = shift->w,
        .t = shift->t,
        .tt = shift->tt,
        .one = {one[S], one[D], shift->u},
        .slope = {slope[S], slope[D], shift->ut},
        .cross = {{own[S], sd, with_u[S]}, {0, own[D], with_u[D]}, {0, 0, shift->uu}}};
}

/* What the tracks together say once each has a constant and a slope in t of its own:
 * cross products of what remains of the columns, and how S and D lean on t. */
struct pooled {
    double cross[COLUMNS][COLUMNS], lean[2], count;
    double own, tracks; /* what each track's own gamma would explain, summed */
};

static void pool(struct pooled *pooled, const struct sums *m, double count) {
    double det = m->w * m->tt - m->t * m->t, slope[COLUMNS], level[COLUMNS];
    for (int i = 0; i < COLUMNS; i++) {
        slope[i] = (m->w * m->slope[i] - m->t * m->one[i]) / det;
        level[i] = (m->one[i] - slope[i] * m->t) / m->w;
    }
    for (int i = 0; i < COLUMNS; i++)
        for (int j = i; j < COLUMNS; j++)
            pooled->cross[i][j] += m->cross[i][j] - level[i] * m->one[j] - slope[i] * m->slope[j];
    double share = m->cross[S][S] - level[S] * m->one[S] - slope[S] * m->slope[S];
    pooled->lean[S] += slope[S] * share;
    pooled->lean[D] += slope[D] * share;
    pooled->count += count;
    double us = m->cross[S][U] - level[S] * m->one[U] - slope[S] * m->slope[U];
    pooled->own += share > 0 ? us * us / share : 0.0;
    pooled->tracks += 1.0;
}

/* A shape of glide with one parameter, the scale, by which the rates are divided. */
struct family {
    size_t terms;
    double weight[SB_GLIDE_TERMS], rate_per_s[SB_GLIDE_TERMS];
    double prior_ln, prior_ln_std; /* of the scale */
    double preferred;              /* log odds before anything is heard */
};

/* The terms' exponentials, stepped along a track. */
struct fading {
    double left[SB_GLIDE_TERMS], factor[SB_GLIDE_TERMS], share[SB_GLIDE_TERMS];
    double rate[SB_GLIDE_TERMS];
};

static struct fading begin_fading(const struct family *family, double scale, double t0,
                                  double step) {
    struct fading fading;
    for (size_t m = 0; m < family->terms; m++) {
        fading.rate[m] = family->rate_per_s[m] / scale;
        fading.left[m] = exp(-fading.rate[m] * t0);
        fading.factor[m] = exp(-fading.rate[m] * step);
        fading.share[m] = family->weight[m] / fading.rate[m];
    }
    return fading;
}

static sb_pair step_fading(struct fading *fading, const struct family *family, double t) {
    sb_pair c = {0};
    for (size_t m = 0; m < family->terms; m++) {
        double run = fading->share[m] * (1.0 - fading->left[m]);
        c[S] += run;
        c[D] += run - fading->share[m] * fading->rate[m] * t * fading->left[m];
        fading->left[m] *= fading->factor[m];
    }
    return c;
}

/* S and D at every block of a track: the same for all that begin together, as nearly all do. */
struct course {
    double t0_s, step_s;
    sb_pair at[SB_GLIDE_BLOCKS_MAX];
};

static void run_course(struct course *course, const struct sb_glide_seen *seen, size_t track,
                       const struct family *family, double scale) {
    double t0 = seen->track[track].t0_s, step = seen->track[track].step_s;
    if (track > 0 && t0 == course->t0_s && step == course->step_s)
        return;
    struct fading fading = begin_fading(family, scale, t0, step);
    for (size_t k = 0; k < seen->longest; k++)
        course->at[k] = step_fading(&fading, family, (double)k * step + t0);
    course->t0_s = t0;
    course->step_s = step;
}

static struct pooled pool_all(const struct sb_glide_seen *seen, const struct family *family,
                              double scale) {
    struct pooled pooled = {0};
    struct course course = {0};
    for (size_t i = 0; i < seen->n; i++) {
        run_course(&course, seen, i, family, scale);
        struct sums sums = sum_up(seen, i, course.at);
        pool(&pooled, &sums, (double)seen->track[i].held);
    }
    if (pooled.cross[S][S] > 0) {
        pooled.lean[S] /= pooled.cross[S][S];
        pooled.lean[D] /= pooled.cross[S][S];
    }
    return pooled;
}

/* One family's best glide and what it stands for. */
struct option {
    const struct family *family; /* NULL: the blend */
    const struct sb_glide_blend *blend;
    double gamma, scale;
    double odds;             /* log odds against no glide */
    double shift, shift_var; /* relative shift of the settled pitch that it makes good */
};

static double best_gamma(const struct pooled *p, double noise) {
    return p->cross[S][U] / (p->cross[S][S] + noise / (SB_GLIDE_USUAL * SB_GLIDE_USUAL));
}

/* Log posterior, less that of no glide, before Occam's factor. */
static double merit(const struct pooled *p, const struct family *family, double scale,
                    double noise) {
    double gamma = best_gamma(p, noise),
           off = (log(scale) - family->prior_ln) / family->prior_ln_std;
    double explained = 2.0 * gamma * p->cross[S][U] - gamma * gamma * p->cross[S][S];
    return 0.5 * (explained / noise - pow(gamma / SB_GLIDE_USUAL, 2) - off * off);
}

/* A family's scale, and what the tracks say of it. */
struct place {
    double scale;
    struct pooled p;
};

/* Gauss-Newton in the logarithm of the time scale, gamma following; a step is kept only
 * while it helps. */
static struct place refine_scale(const struct sb_glide_seen *seen, const struct family *family,
                                 struct place at, double noise) {
    struct place kept = at;
    double best = -(double)INFINITY, prior = 1.0 / (family->prior_ln_std * family->prior_ln_std);
    for (int round = 0; round < ROUNDS; round++) {
        const struct pooled *p = &at.p;
        if (round > 0)
            at.p = pool_all(seen, family, at.scale);
        double now = merit(p, family, at.scale, noise);
        if (!(now > best))
            break;
        best = now, kept = at;
        double gamma = best_gamma(p, noise), off = log(at.scale) - family->prior_ln;
        double ss = p->cross[S][S] / noise + 1.0 / (SB_GLIDE_USUAL * SB_GLIDE_USUAL);
        double sd = gamma * p->cross[S][D] / noise;
        double dd = gamma * gamma * p->cross[D][D] / noise + prior;
        double slope = gamma * (p->cross[D][U] - gamma * p->cross[S][D]) / noise - prior * off;
        double step = slope / fmax(dd - sd * sd / ss, 1e-3 * dd);
        at.scale *= exp(fmin(fmax(step, -0.5), 0.5));
        if (fabs(step) < 1e-5)
            break;
    }
    return kept;
}

static struct option judge(const struct family *family, const struct place *at, double noise) {
    const struct pooled *p = &at->p;
    double gamma = best_gamma(p, noise);
    double ss = p->cross[S][S] / noise + 1.0 / (SB_GLIDE_USUAL * SB_GLIDE_USUAL);
    double sd = gamma * p->cross[S][D] / noise;
    double dd = gamma * gamma * p->cross[D][D] / noise +
                1.0 / (family->prior_ln_std * family->prior_ln_std);
    double det = fmax(ss * dd - sd * sd, 1e-12 * ss * dd);
    double gs = p->lean[S], gd = gamma * p->lean[D];
    double variance = (gs * gs * dd - 2.0 * gs * gd * sd + gd * gd * ss) / det;
    double occam = -0.5 * log(det) - log(SB_GLIDE_USUAL * family->prior_ln_std);
    occam += family->preferred;
    return (struct option){.family = family,
                           .gamma = gamma,
                           .scale = at->scale,
                           .odds = merit(p, family, at->scale, noise) + occam,
                           .shift = gamma * gs,
                           .shift_var = fmax(variance, 0.0)};
}

static struct family exponential(void) {
    return (struct family){1, {1.0}, {1.0}, log(SB_GLIDE_USUAL_S), PRIOR_LN_TAU, -ANY_HANDICAP};
}

/* As a string rings whose energy leaves it in two stages (G. Weinreich, J. Acoust. Soc. Am. 62,
 * 1474, 1977). Over a short note an exponential and this one fit alike, and settle apart. */
static struct family two_stages(void) {
    struct family family = exponential();
    family.terms = 2;
    family.weight[0] = family.weight[1] = 0.5;
    family.rate_per_s[1] = STAGES_APART * family.rate_per_s[0];
    family.preferred -= STAGES_HANDICAP;
    return family;
}

/* The energy that stretches the string, from the partials' amplitudes to a power of their numbers,
 * and their decays. What is more than the terms hold goes into the last. */
static struct family energy_shape(const sb_track tracks[], size_t n, double power) {
    struct family family = {.prior_ln_std = PRIOR_LN_SCALE, .preferred = -ANY_HANDICAP};
    double total = 0;
    for (size_t i = 0; i < n; i++) {
        const sb_line *line = &tracks[i].lines[0];
        if (tracks[i].n_lines == 0 || tracks[i].astray || line->decay_per_s < 0.05)
            continue;
        double start = exp(2.0 * line->decay_per_s * tracks[i].band.t0_s);
        double share =
            pow(tracks[i].number, power) * (line->re * line->re + line->im * line->im) * start;
        size_t m = family.terms < SB_GLIDE_TERMS ? family.terms++ : SB_GLIDE_TERMS - 1;
        double before = family.weight[m] * family.rate_per_s[m];
        family.weight[m] += share;
        family.rate_per_s[m] = (before + share * 2.0 * line->decay_per_s) / family.weight[m];
        total += share;
    }
    for (size_t m = 0; m < family.terms; m++)
        family.weight[m] /= total;
    return family;
}

/* What is heard of the energy may be all that stretches the string. */
static struct family exactly(struct family family) {
    family.prior_ln_std = PRIOR_LN_EXACT;
    return family;
}

static double start_scale(const struct sb_glide_seen *seen, const struct family *family,
                          double *left) {
    double best = 0, top = -(double)INFINITY;
    *left = (double)INFINITY;
    for (size_t i = 0; i < TAUS; i++) {
        double scale = FIRST_TAU_S * pow(TAU_GROWTH, (double)i);
        struct pooled p = pool_all(seen, family, scale);
        if (!(p.cross[S][S] > 0))
            continue;
        double gain = p.cross[S][U] * p.cross[S][U] / p.cross[S][S];
        *left = fmin(*left, (p.cross[U][U] - gain) / p.count);
        if (gain > top)
            top = gain, best = scale;
    }
    return best;
}

/* What one track says by itself. */
struct saying {
    double gamma, variance; /* by its noise */
    double moved;           /* variance of gamma for a disturbance of its phase of 1 rad */
    double shared;          /* what a common gamma leaves, a block */
};

/* What each track says, and what `common` leaves of it. */
static void ask_all(const struct sb_glide_seen *seen, const struct family *family, double scale,
                    double common, struct saying said[]) {
    struct course course = {0};
    for (size_t i = 0; i < seen->n; i++) {
        struct pooled p = {0};
        run_course(&course, seen, i, family, scale);
        struct sums sums = sum_up(seen, i, course.at);
        pool(&p, &sums, (double)seen->track[i].held);
        double ss = p.cross[S][S], su = p.cross[S][U];
        said[i] = (struct saying){
            .gamma = su / ss,
            .variance = 1.0 / ss,
            .moved = sums.w / (ss * pow(seen->track[i].turn, 2)),
            .shared = (p.cross[U][U] - 2.0 * common * su + common * common * ss) / p.count};
    }
}

/* Tracks of which much more is left than of the others say the less: one whose phase slipped or
 * that another's line is in would drown what the others agree on. */
static void lower_odd_ones(struct sb_glide_seen *seen, const struct family *family, double scale) {
    struct saying said[SB_GLIDE_TRACKS];
    double left[SB_GLIDE_TRACKS];
    struct pooled p = pool_all(seen, family, scale);
    ask_all(seen, family, scale, p.cross[S][U] / p.cross[S][S], said);
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

/* By how much the variance of what the tracks say together is more than their noise makes it, where
 * a second plane, another string or what is left of the hum disturbs the partials' phases, each by
 * about as many radians (random effects), so that they differ as they do. */
static double disturbed(const struct sb_glide_seen *seen, const struct family *family,
                        double scale) {
    struct saying said[SB_GLIDE_TRACKS];
    double says = 0, sum = 0;
    ask_all(seen, family, scale, 0.0, said);
    for (size_t i = 0; i < seen->n; i++)
        says += 1.0 / said[i].variance;
    double disturbance = disturbance_of(said, seen->n);
    for (size_t i = 0; i < seen->n; i++)
        sum += 1.0 / (said[i].variance + disturbance * said[i].moved);
    return says / sum;
}

/* How far the tracks differ about gamma, in units of their noise: beating bends phases as a
 * glide does, but not all alike (a Birge ratio: Phys. Rev. 40, 207, 1932). */
static double disagreement(const struct pooled *p) {
    double common = p->cross[S][U] * p->cross[S][U] / p->cross[S][S];
    return p->tracks > 1.0 ? (p->own - common) / (p->tracks - 1.0) : 0.0;
}

static void set_shape(sb_glide *glide, const struct option *chosen) {
    const struct family *family = chosen->family;
    const double *rate = family ? family->rate_per_s : chosen->blend->rate_per_s;
    const double *weight = family ? family->weight : chosen->blend->weight;
    glide->gamma = chosen->gamma;
    glide->terms = family ? family->terms : chosen->blend->terms;
    for (size_t m = 0; m < glide->terms; m++) {
        glide->weight[m] = weight[m];
        glide->rate_per_s[m] = family ? rate[m] / chosen->scale : rate[m];
    }
}

/* Takes the likelier shape, or none, and averages over what remains possible. */
static sb_glide decide(const struct option options[], size_t n, double end_s, double count) {
    size_t best = 0;
    for (size_t i = 0; i < n; i++)
        if (options[i].odds > options[best].odds)
            best = i;
    const struct option *chosen = options[best].odds > 0 ? &options[best] : NULL;
    double top = fmax(options[best].odds, 0.0), applied = chosen ? chosen->shift : 0.0;
    double total = exp(-top), mean = 0, square = 0, own = 0;
    for (size_t i = 0; i < n; i++) {
        double weight = exp(options[i].odds - top);
        total += weight;
        own += weight * options[i].shift_var;
        mean += weight * options[i].shift;
        square += weight * options[i].shift * options[i].shift;
    }
    mean /= total;
    double between = sqrt(fmax(square / total - mean * mean, 0.0));
    own = sqrt(own / total);
    sb_glide glide = {.common_std = hypot(own, between), .to_mean = applied - mean};
    if (!chosen)
        return glide;
    set_shape(&glide, chosen);
    double left = sqrt(0.5 * count / chosen->odds);
    glide.shape_std = hypot(between, shape_doubt(&glide, applied, end_s, left));
    glide.common_std = hypot(own, glide.shape_std);
    return glide;
}

/* A family at its likeliest scale; *loud: the noise, or what the tracks differ by if that is
 * more. */
static struct place settle(const struct sb_glide_seen *seen, const struct family *family,
                           double scale, double noise, double *loud) {
    struct place at = {scale, pool_all(seen, family, scale)};
    at = refine_scale(seen, family, at, noise);
    *loud = fmax(noise, disagreement(&at.p));
    return refine_scale(seen, family, at, *loud);
}

/* It bends to much; by itself it must leave far less than the exponential does. */
static struct option judge_blend(const struct sb_glide_blend *blend,
                                 const struct option *exponential, double noise) {
    double odds = blend->odds - BLEND_HANDICAP;
    if (blend->noise > BLEND_WORTH * noise)
        odds = fmin(odds, exponential->odds - 1.0);
    return (struct option){.blend = blend,
                           .gamma = blend->gamma,
                           .odds = odds,
                           .shift = blend->shift,
                           .shift_var = blend->shift_var};
}

/* The blend, judged by what the tracks differ about it: about an exponential they differ the more,
 * the less the glide is one. */
static bool judge_blended(const struct sb_glide_seen *seen, struct sb_glide_blend *blend) {
    if (!sb_glide_blend_judge(seen, 1.0, blend))
        return false;
    struct family shape = {.terms = blend->terms};
    memcpy(shape.weight, blend->weight, sizeof shape.weight);
    memcpy(shape.rate_per_s, blend->rate_per_s, sizeof shape.rate_per_s);
    struct pooled p = pool_all(seen, &shape, 1.0);
    return sb_glide_blend_judge(seen, fmax(disagreement(&p), 1.0), blend);
}

/* The families, each where it is likeliest, and by what noise. */
struct trial {
    struct family families[FAMILIES];
    size_t n;
    struct place at[FAMILIES];
    double loud[FAMILIES], quietest;
};

static void begin_trial(struct trial *trial, const sb_track tracks[], size_t n) {
    struct family heard = energy_shape(tracks, n, 0.0);
    trial->families[EXPONENTIAL] = exponential();
    trial->families[STAGES] = two_stages();
    trial->families[HEARD] = heard;
    trial->families[HEARD + 1] = exactly(heard);
    trial->families[HEARD + 2] = energy_shape(tracks, n, 2.0);
    trial->families[HEARD + 3] = exactly(trial->families[HEARD + 2]);
    trial->n = heard.terms > 1 ? FAMILIES : heard.terms > 0 ? HEARD + 1 : HEARD;
}

static void settle_all(struct trial *trial, const struct sb_glide_seen *seen, double tau,
                       double noise) {
    trial->quietest = (double)INFINITY;
    for (size_t i = 0; i < trial->n; i++) {
        trial->at[i] =
            settle(seen, &trial->families[i], i < HEARD ? tau : 1.0, noise, &trial->loud[i]);
        trial->quietest = fmin(trial->quietest, trial->loud[i]);
    }
}

/* Those whose figures did not run over stay; returns how many. */
static size_t keep_sound(struct option options[], size_t n) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        const struct option *at = &options[i];
        if (isfinite(at->odds) && isfinite(at->gamma + at->scale) && isfinite(at->shift_var) &&
            isfinite(at->shift))
            options[kept++] = *at;
    }
    return kept;
}

/* All shapes' odds are by one noise, that of the shape which leaves the least. What no shape
 * accounts for is no noise of many independent samples: it says the less; but not less than what
 * the tracks differ by leaves to say. blend: NULL where there is none. */
static size_t judge_all(const struct trial *trial, const struct sb_glide_seen *seen, double noise,
                        struct sb_glide_blend *blend, struct option options[]) {
    double quietest = blend ? fmin(trial->quietest, blend->noise) : trial->quietest;
    double misfit = fmax(blend ? fmin(noise, blend->noise) : noise, 1.0);
    double disturbance =
        disturbed(seen, &trial->families[EXPONENTIAL], trial->at[EXPONENTIAL].scale);
    double heard_by = fmax(quietest, fmin(quietest * misfit, disturbance));
    size_t n = trial->n;
    for (size_t i = 0; i < n; i++) {
        const struct family *family = &trial->families[i];
        const struct place *at = &trial->at[i];
        options[i] = judge(family, at, trial->loud[i]);
        options[i].shift_var = judge(family, at, fmax(trial->loud[i], disturbance)).shift_var;
        options[i].odds = judge(family, at, heard_by).odds;
    }
    options[STAGES].odds = fmin(options[STAGES].odds, options[EXPONENTIAL].odds + STAGES_MORE);
    if (blend) {
        struct sb_glide_blend by_same;
        if (sb_glide_blend_judge(seen, heard_by, &by_same))
            blend->odds = by_same.odds;
        options[n++] = judge_blend(blend, &options[EXPONENTIAL], noise);
    }
    return keep_sound(options, n);
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present) {
    struct sb_glide_seen seen;
    struct trial trial;
    struct option options[FAMILIES + 1] = {{0}};
    struct sb_glide_blend blend;
    double left;
    begin_trial(&trial, tracks, n);
    sb_glide_gather(tracks, n, present, &seen);
    double tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    if (tau == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    lower_odd_ones(&seen, &trial.families[EXPONENTIAL], tau);
    tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    double noise = fmax(left, 1.0);
    settle_all(&trial, &seen, tau, noise);
    bool blended = judge_blended(&seen, &blend);
    size_t judged = judge_all(&trial, &seen, noise, blended ? &blend : NULL, options);
    if (judged == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    return decide(options, judged, seen.end_s, trial.at[EXPONENTIAL].p.count);
}
