#include <math.h>
#include <string.h>

#include "audio/glide_parts.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { FEWEST_BLOCKS = 3, TAUS = 12, ROUNDS = 10, FAMILIES = 3 };

/* What glides are like before this one is heard: a relative shift at the first measured
 * sample of some 3 cents, up to 20 for hard plucks (the stretch of a 4 mm pluck), with a
 * time constant about half the note's own decay (the shift goes as amplitude squared).
 * The energy's own shape may be off by a little: partials unseen, losses that change. */
static const double PRIOR_LN_TAU = 0.9, PRIOR_LN_SCALE = 0.25, PRIOR_TILT = 1.0;
static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.55;
static const double TAIL_SHARE = 0.1, SHIFT_SHARE = 0.005;
/* Log odds by which a tilt has to be better: it can bend to much that is no glide. */
static const double TILT_HANDICAP = 100.0;
static const double NEIGHBOUR_COSTS = 30.0;
static const double BLEND_HANDICAP = 30.0, BLEND_WORTH = 0.5;
static const double SAMPLE_SNR = 8.0; /* below it a phase may slip a turn */
static const double LOUD_SHARE = 0.05;
static const double LEAST_ENERGY_SNR = 200.0;

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

/* Of what is still to come when the note ends: no sum of exponentials is its exact shape. */
static double tail_doubt(const sb_glide *glide, double end_s) {
    return TAIL_SHARE * sb_glide_shift(glide, end_s);
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

/* Unwrapped phase of the partial as a time shift u(t), weights |z|^2 hz^2/noise, up to
 * where it sinks toward the noise. Returns how many samples hold. */
static size_t time_shift(const sb_track *track, const sb_glide *present, double u[], double w[]) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX], previous = 0, phase = 0;
    double ahead_s[SB_BAND_MAX];
    const sb_band *band = &track->band;
    sb_lines_subtract(band, track->lines + 1, track->n_lines - 1, re, im);
    sb_glide_ahead(present, band->t0_s, band->step_s, band->n, ahead_s);
    double rotate = SB_TWO_PI * track->lines[0].hz * band->step_s, peak2 = 0;
    for (size_t k = 0; k < band->n; k++)
        peak2 = fmax(peak2, re[k] * re[k] + im[k] * im[k]);
    /* A glide not yet taken out leaves so much over that it passes for noise. */
    double least2 = fmin(SAMPLE_SNR * track->noise, LOUD_SHARE * peak2);
    for (size_t k = 0; k < band->n; k++) {
        double size2 = re[k] * re[k] + im[k] * im[k];
        if (size2 < least2)
            return k;
        double angle = atan2(im[k], re[k]);
        double turn = k ? angle - previous - rotate : angle;
        phase += turn - SB_TWO_PI * floor(turn / SB_TWO_PI + 0.5);
        previous = angle;
        u[k] = phase / (SB_TWO_PI * track->hz) + ahead_s[k];
        w[k] = size2 * pow(SB_TWO_PI * track->hz, 2) / (0.5 * track->noise);
    }
    return band->n;
}

/* What phase information a track carries. A neighbour in the band, even taken out, bends phases as
 * a glide does. */
static double worth_of(const sb_track *track) {
    double worth = track->energy_snr * track->hz * track->hz;
    if (track->n_lines == 0 || track->astray || !(track->energy_snr > LEAST_ENERGY_SNR))
        return 0.0;
    return track->n_lines > 1 ? worth / NEIGHBOUR_COSTS : worth;
}

size_t sb_glide_choose(const sb_track tracks[], size_t n, double (*worth)(const sb_track *track),
                       size_t chosen[]) {
    double worths[SB_GLIDE_TRACKS];
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        double own = worth(&tracks[i]);
        size_t at;
        if (!(own > 0) || (kept == SB_GLIDE_TRACKS && own <= worths[kept - 1]))
            continue;
        kept += kept < SB_GLIDE_TRACKS;
        for (at = kept - 1; at > 0 && worths[at - 1] < own; at--)
            worths[at] = worths[at - 1], chosen[at] = chosen[at - 1];
        worths[at] = own, chosen[at] = i;
    }
    return kept;
}

/* A shape of glide with one parameter, the scale: rates are divided by it, or, tilted, the
 * weights multiplied by its logarithm's power of the rates. */
struct family {
    bool tilted;
    size_t terms;
    double weight[SB_GLIDE_TERMS], rate_per_s[SB_GLIDE_TERMS];
    double prior_ln, prior_ln_std; /* of the scale */
    double preferred;              /* log odds before anything is heard */
};

/* The terms' exponentials, stepped along a track. */
struct fading {
    double left[SB_GLIDE_TERMS], factor[SB_GLIDE_TERMS], share[SB_GLIDE_TERMS];
    double lean[SB_GLIDE_TERMS]; /* of share, by the logarithm of the scale, relative */
    double rate[SB_GLIDE_TERMS];
};

/* The family's member at one scale, its weights summing to 1. */
static void member_of(const struct family *family, double scale, double weight[], double rate[],
                      double lean[]) {
    double total = 0, mean = 0;
    for (size_t m = 0; m < family->terms; m++) {
        double ln_rate = family->tilted ? log(family->rate_per_s[m]) : 0.0;
        rate[m] = family->tilted ? family->rate_per_s[m] : family->rate_per_s[m] / scale;
        weight[m] = family->weight[m] * exp(log(scale) * ln_rate);
        lean[m] = family->tilted ? ln_rate : 1.0;
        total += weight[m], mean += weight[m] * ln_rate;
    }
    for (size_t m = 0; m < family->terms; m++) {
        weight[m] /= total;
        lean[m] -= mean / total;
    }
}

static struct fading begin_fading(const struct family *family, double scale, double t0,
                                  double step) {
    struct fading fading;
    double weight[SB_GLIDE_TERMS] = {0};
    member_of(family, scale, weight, fading.rate, fading.lean);
    for (size_t m = 0; m < family->terms; m++) {
        fading.left[m] = exp(-fading.rate[m] * t0);
        fading.factor[m] = exp(-fading.rate[m] * step);
        fading.share[m] = weight[m] / fading.rate[m];
    }
    return fading;
}

static sb_pair step_fading(struct fading *fading, const struct family *family, double t) {
    sb_pair c = {0};
    for (size_t m = 0; m < family->terms; m++) {
        double run = fading->share[m] * (1.0 - fading->left[m]);
        c[S] += run;
        c[D] += fading->lean[m] * run;
        if (!family->tilted)
            c[D] -= fading->share[m] * fading->rate[m] * t * fading->left[m];
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
    return (struct family){false, 1, {1.0}, {1.0}, log(SB_GLIDE_USUAL_S), PRIOR_LN_TAU, 0.0};
}

/* The energy that stretches the string, from the partials' amplitudes and decays. */
static struct family energy_shape(const sb_track tracks[], size_t n) {
    struct family family = {.prior_ln_std = PRIOR_LN_SCALE};
    double total = 0;
    for (size_t i = 0; i < n && family.terms < SB_GLIDE_TERMS; i++) {
        const sb_line *line = &tracks[i].lines[0];
        if (tracks[i].n_lines == 0 || line->decay_per_s < 0.05)
            continue;
        double start = exp(2.0 * line->decay_per_s * tracks[i].band.t0_s);
        double share =
            pow(tracks[i].number, 2) * (line->re * line->re + line->im * line->im) * start;
        family.weight[family.terms] = share;
        family.rate_per_s[family.terms++] = 2.0 * line->decay_per_s;
        total += share;
    }
    for (size_t m = 0; m < family.terms; m++)
        family.weight[m] /= total;
    return family;
}

static struct family tilted(struct family family) {
    family.tilted = true;
    family.prior_ln_std = PRIOR_TILT;
    family.preferred = -TILT_HANDICAP;
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

/* How far the tracks differ about gamma, in units of their noise: beating bends phases as a
 * glide does, but not all alike (a Birge ratio: Phys. Rev. 40, 207, 1932). */
static double disagreement(const struct pooled *p) {
    double common = p->cross[S][U] * p->cross[S][U] / p->cross[S][S];
    return p->tracks > 1.0 ? (p->own - common) / (p->tracks - 1.0) : 0.0;
}

static void set_shape(sb_glide *glide, const struct option *chosen) {
    double lean[SB_GLIDE_TERMS];
    glide->gamma = chosen->gamma;
    if (chosen->family) {
        glide->terms = chosen->family->terms;
        member_of(chosen->family, chosen->scale, glide->weight, glide->rate_per_s, lean);
        return;
    }
    glide->terms = chosen->blend->terms;
    memcpy(glide->weight, chosen->blend->weight, sizeof glide->weight);
    memcpy(glide->rate_per_s, chosen->blend->rate_per_s, sizeof glide->rate_per_s);
}

/* Takes the likelier shape, or none, and averages over what remains possible. */
static sb_glide decide(const struct option options[], size_t n, double end_s) {
    size_t best = 0;
    for (size_t i = 0; i < n; i++)
        if (options[i].odds > options[best].odds)
            best = i;
    const struct option *chosen = options[best].odds > 0 ? &options[best] : NULL;
    double top = fmax(options[best].odds, 0.0), applied = chosen ? chosen->shift : 0.0;
    double none = exp(-top), total = none, own = 0, between = none * applied * applied;
    for (size_t i = 0; i < n; i++) {
        double weight = exp(options[i].odds - top), off = options[i].shift - applied;
        total += weight;
        own += weight * options[i].shift_var;
        between += weight * off * off;
    }
    sb_glide glide = {.common_std = sqrt((own + between) / total)};
    if (!chosen)
        return glide;
    set_shape(&glide, chosen);
    glide.shape_std = hypot(sqrt(between / total), SHIFT_SHARE * applied);
    glide.shape_std = hypot(glide.shape_std, tail_doubt(&glide, end_s));
    glide.common_std = hypot(sqrt(own / total), glide.shape_std);
    return glide;
}

static void add_shift(struct sb_glide_sums *sum, double w, double t, double u) {
    double wu = w * u;
    sum->w += w, sum->t += w * t, sum->tt += w * t * t;
    sum->u += wu, sum->ut += wu * t, sum->uu += wu * u;
}

static void gather(const sb_track tracks[], size_t n, const sb_glide *present,
                   struct sb_glide_seen *seen) {
    double u[SB_BAND_MAX] = {0}, w[SB_BAND_MAX] = {0};
    size_t chosen[SB_GLIDE_TRACKS], kept = sb_glide_choose(tracks, n, worth_of, chosen);
    seen->n = seen->longest = 0;
    seen->end_s = 0;
    for (size_t i = 0; i < kept; i++) {
        const sb_track *track = &tracks[chosen[i]];
        size_t blocks = time_shift(track, present, u, w) / SB_GLIDE_BLOCK;
        seen->track[seen->n].held = blocks;
        seen->track[seen->n].sums = (struct sb_glide_sums){0};
        seen->track[seen->n].step_s = SB_GLIDE_BLOCK * track->band.step_s;
        seen->track[seen->n].t0_s =
            track->band.t0_s + 0.5 * (SB_GLIDE_BLOCK - 1) * track->band.step_s;
        for (size_t k = 0; k < blocks; k++) {
            double sum = 0, weight = 0;
            for (size_t j = k * SB_GLIDE_BLOCK; j < (k + 1) * SB_GLIDE_BLOCK; j++)
                weight += w[j], sum += w[j] * u[j];
            seen->track[seen->n].u[k] = sum / weight;
            seen->track[seen->n].w[k] = weight;
            add_shift(&seen->track[seen->n].sums, weight, (double)k * seen->track[seen->n].step_s,
                      sum / weight);
        }
        if (blocks < FEWEST_BLOCKS)
            continue;
        seen->longest = blocks > seen->longest ? blocks : seen->longest;
        seen->end_s = fmax(seen->end_s, seen->track[seen->n].t0_s +
                                            (double)blocks * seen->track[seen->n].step_s);
        seen->n++;
    }
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

/* All shapes are judged by one noise, that of the blend where it leaves the least. */
sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present) {
    struct sb_glide_seen seen;
    struct family energy = energy_shape(tracks, n);
    struct family families[FAMILIES] = {exponential(), energy, tilted(energy)};
    struct option options[FAMILIES + 1];
    struct sb_glide_blend blend;
    double left;
    gather(tracks, n, present, &seen);
    double tau = start_scale(&seen, &families[0], &left);
    if (tau == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    double noise = fmax(left, 1.0);
    size_t n_options = energy.terms > 1 ? FAMILIES : energy.terms > 0 ? 2 : 1;
    bool blended = false;
    for (size_t i = 0; i < n_options; i++) {
        double loud;
        struct place at = settle(&seen, &families[i], i == 0 ? tau : 1.0, noise, &loud);
        if (i == 0)
            blended = judge_blended(&seen, &blend);
        options[i] = judge(&families[i], &at, loud);
        if (blended && blend.noise < loud)
            options[i].odds = judge(&families[i], &at, blend.noise).odds;
    }
    /* What no shape accounts for is no noise of many independent samples: it says the less. */
    double misfit = fmax(blended ? fmin(noise, blend.noise) : noise, 1.0);
    if (blended)
        options[n_options++] = judge_blend(&blend, &options[0], noise);
    for (size_t i = 0; i < n_options; i++)
        options[i].odds /= misfit;
    return decide(options, n_options, seen.end_s);
}

/* Slope of u on t over samples from..to-1 of a track, weighted. */
static double slope_of(const struct sb_glide_seen *seen, size_t i, size_t from, size_t to) {
    double w = 0, t = 0, tt = 0, u = 0, ut = 0;
    for (size_t k = from; k < to; k++) {
        double x = (double)k * seen->track[i].step_s, weight = seen->track[i].w[k];
        w += weight, t += weight * x, tt += weight * x * x;
        u += weight * seen->track[i].u[k], ut += weight * seen->track[i].u[k] * x;
    }
    return (w * ut - t * u) / (w * tt - t * t);
}

double sb_glide_unrest_cents(const sb_track tracks[], size_t n) {
    struct sb_glide_seen seen;
    const sb_glide none = {0};
    double moved[SB_GLIDE_TRACKS] = {0};
    size_t kept = 0;
    gather(tracks, n, &none, &seen);
    for (size_t i = 0; i < seen.n; i++) {
        size_t held = seen.track[i].held, at = kept++;
        double size = fabs(slope_of(&seen, i, held / 2, held) - slope_of(&seen, i, 0, held / 2));
        for (; at > 0 && moved[at - 1] > size; at--)
            moved[at] = moved[at - 1];
        moved[at] = size;
    }
    return kept ? SB_CENTS_PER_LN * moved[kept / 2] : 0.0;
}
