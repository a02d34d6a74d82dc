#include <math.h>
#include <string.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

enum { TAUS = 12, ROUNDS = 10, MOMENTS = 8 };

enum { EXPONENTIAL = SB_GLIDE_EXPONENTIAL, STAGES = SB_GLIDE_STAGES, HEARD = SB_GLIDE_HEARD };
enum { FAMILIES = SB_GLIDE_FAMILIES };

static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.55;
static const double TAIL_SHARE = 0.05, SHIFT_SHARE = 0.005;
/* Of that, where the shape leaves so large a part of what it explains. Those of the energy are by
 * what is heard of the string, which is not all of it. */
static const double EXPONENTIAL_LEFT = 0.015, ENERGY_LEFT = 0.005;
static const double STAGES_MORE = 1.0; /* log odds */
/* The energy, its weights reconsidered: where it is much likelier than the exponential (log odds),
 * the decays, whose figures it takes, are off by no more, and nothing of it rises. */
static const double LIKELIER = 7.0, MOST_DECAYS_OFF = 0.05;
/* Standard deviations; further off, numbers run over. */
static const double MOST_BELOW_ZERO = -12.0;
static const double BLEND_HANDICAP = 30.0, BLEND_WORTH = 0.5;

/* Of a shift and of what is still to come when the note ends: no sum of exponentials is its exact
 * shape, but the nearer the less it leaves. `left`: the RMS of what it does over that of the glide.
 */
static double shape_doubt(const sb_glide *glide, double shift, double end_s, double left) {
    double share = fmin(left / (glide->terms == 1 ? EXPONENTIAL_LEFT : ENERGY_LEFT), 1.0);
    return share * hypot(SHIFT_SHARE * shift, TAIL_SHARE * sb_glide_shift(glide, end_s));
}

/* One family's best glide and what it stands for. */
struct option {
    const struct sb_glide_family *family; /* NULL: the blend */
    const struct sb_glide_blend *blend;
    double gamma, scale;
    double odds;             /* log odds against no glide */
    double shift, shift_var; /* relative shift of the settled pitch that it makes good */
};

static double best_gamma(const struct sb_glide_pooled *p, double noise) {
    return p->cross[SB_S][SB_U] /
           (p->cross[SB_S][SB_S] + noise / (SB_GLIDE_USUAL * SB_GLIDE_USUAL));
}

/* Log posterior, less that of no glide, before Occam's factor. */
static double merit(const struct sb_glide_pooled *p, const struct sb_glide_family *family,
                    double scale, double noise) {
    double gamma = best_gamma(p, noise),
           off = (log(scale) - family->prior_ln) / family->prior_ln_std;
    double explained = 2.0 * gamma * p->cross[SB_S][SB_U] - gamma * gamma * p->cross[SB_S][SB_S];
    return 0.5 * (explained / noise - pow(gamma / SB_GLIDE_USUAL, 2) - off * off);
}

/* A family's scale, and what the tracks say of it. */
struct place {
    double scale;
    struct sb_glide_pooled p;
};

/* Gauss-Newton in the logarithm of the time scale, gamma following; a step is kept only
 * while it helps. */
static struct place refine_scale(const struct sb_glide_seen *seen,
                                 const struct sb_glide_family *family, struct place at,
                                 double noise) {
    struct place kept = at;
    double best = -(double)INFINITY, prior = 1.0 / (family->prior_ln_std * family->prior_ln_std);
    for (int round = 0; round < ROUNDS; round++) {
        const struct sb_glide_pooled *p = &at.p;
        if (round > 0)
            at.p = sb_glide_pool_all(seen, family, at.scale);
        double now = merit(p, family, at.scale, noise);
        if (!(now > best))
            break;
        best = now, kept = at;
        double gamma = best_gamma(p, noise), off = log(at.scale) - family->prior_ln;
        double ss = p->cross[SB_S][SB_S] / noise + 1.0 / (SB_GLIDE_USUAL * SB_GLIDE_USUAL);
        double sd = gamma * p->cross[SB_S][SB_D] / noise;
        double dd = gamma * gamma * p->cross[SB_D][SB_D] / noise + prior;
        double slope =
            gamma * (p->cross[SB_D][SB_U] - gamma * p->cross[SB_S][SB_D]) / noise - prior * off;
        double step = slope / fmax(dd - sd * sd / ss, 1e-3 * dd);
        at.scale *= exp(fmin(fmax(step, -0.5), 0.5));
        if (fabs(step) < 1e-5)
            break;
    }
    return kept;
}

/* A string's tension falls, and its pitch with it: no gamma below zero is possible, so that what is
 * normal about it otherwise is cut off there. */
static void only_downward(struct option *option, double gamma_var, double covariance) {
    double std = sqrt(gamma_var), z = fmax(option->gamma / std, MOST_BELOW_ZERO);
    double above = 0.5 * erfc(-z / sqrt(2.0));
    double hazard = exp(-0.5 * z * z) / (sqrt(SB_TWO_PI) * above);
    double lean = covariance / std;
    option->odds += log(2.0 * above);
    option->gamma += std * hazard;
    option->shift += lean * hazard;
    option->shift_var -= lean * lean * hazard * (z + hazard);
}

static struct option judge(const struct sb_glide_family *family, const struct place *at,
                           double noise) {
    const struct sb_glide_pooled *p = &at->p;
    double gamma = best_gamma(p, noise);
    double ss = p->cross[SB_S][SB_S] / noise + 1.0 / (SB_GLIDE_USUAL * SB_GLIDE_USUAL);
    double sd = gamma * p->cross[SB_S][SB_D] / noise;
    double dd = gamma * gamma * p->cross[SB_D][SB_D] / noise +
                1.0 / (family->prior_ln_std * family->prior_ln_std);
    double det = fmax(ss * dd - sd * sd, 1e-12 * ss * dd);
    double gs = p->lean[SB_S], gd = gamma * p->lean[SB_D];
    double variance = (gs * gs * dd - 2.0 * gs * gd * sd + gd * gd * ss) / det;
    double occam = -0.5 * log(det) - log(SB_GLIDE_USUAL * family->prior_ln_std);
    occam += family->preferred;
    struct option option = {.family = family,
                            .gamma = gamma,
                            .scale = at->scale,
                            .odds = merit(p, family, at->scale, noise) + occam,
                            .shift = gamma * gs,
                            .shift_var = variance};
    only_downward(&option, dd / det, (gs * dd - gd * sd) / det);
    option.shift_var = fmax(option.shift_var, 0.0);
    return option;
}

static double start_scale(const struct sb_glide_seen *seen, const struct sb_glide_family *family,
                          double *left) {
    double best = 0, top = -(double)INFINITY;
    *left = (double)INFINITY;
    for (size_t i = 0; i < TAUS; i++) {
        double scale = FIRST_TAU_S * pow(TAU_GROWTH, (double)i);
        struct sb_glide_pooled p = sb_glide_pool_all(seen, family, scale);
        if (!(p.cross[SB_S][SB_S] > 0))
            continue;
        double gain = p.cross[SB_S][SB_U] * p.cross[SB_S][SB_U] / p.cross[SB_S][SB_S];
        *left = fmin(*left, (p.cross[SB_U][SB_U] - gain) / p.count);
        if (gain > top)
            top = gain, best = scale;
    }
    return best;
}

/* How far the tracks differ about gamma, in units of their noise: beating bends phases as a
 * glide does, but not all alike (a Birge ratio: Phys. Rev. 40, 207, 1932). */
static double disagreement(const struct sb_glide_pooled *p) {
    double common = p->cross[SB_S][SB_U] * p->cross[SB_S][SB_U] / p->cross[SB_S][SB_S];
    return p->tracks > 1.0 ? (p->own - common) / (p->tracks - 1.0) : 0.0;
}

static void set_shape(sb_glide *glide, const struct option *chosen) {
    const struct sb_glide_family *family = chosen->family;
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

/* A family at its likeliest scale, from a first one; *loud: the noise, or what the tracks differ by
 * if that is more. */
static struct place settle(const struct sb_glide_seen *seen, const struct sb_glide_family *family,
                           const struct place *first, double noise, double *loud) {
    struct place at = refine_scale(seen, family, *first, noise);
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

static double disagreement_about(const struct sb_glide_seen *seen,
                                 const struct sb_glide_blend *blend) {
    struct sb_glide_family shape = {.terms = blend->terms};
    memcpy(shape.weight, blend->weight, sizeof shape.weight);
    memcpy(shape.rate_per_s, blend->rate_per_s, sizeof shape.rate_per_s);
    struct sb_glide_pooled p = sb_glide_pool_all(seen, &shape, 1.0);
    return disagreement(&p);
}

/* A blend, judged by what the tracks differ about it, or what it leaves of them if that is more:
 * about an exponential they differ the more, the less the glide is one. */
static bool judge_blended(const struct sb_glide_seen *seen, const struct sb_glide_blended *of,
                          struct sb_glide_blend *blend) {
    if (!sb_glide_blend_judge(of, 1.0, blend))
        return false;
    return sb_glide_blend_judge(of, fmax(disagreement_about(seen, blend), blend->noise), blend);
}

/* The families, each where it is likeliest, and by what noise. */
struct trial {
    struct sb_glide_family families[FAMILIES];
    size_t n, quietest; /* which leaves the tracks differing least */
    struct place at[FAMILIES];
    double loud[FAMILIES];
};

/* Of the shape before it, and held to its scale: it begins where that does. */
static bool is_exact(size_t i) {
    return i > HEARD && (i - HEARD) % 2 == 1;
}

static void settle_all(struct trial *trial, const struct sb_glide_seen *seen, double tau,
                       double noise) {
    struct place first = {0};
    trial->quietest = 0;
    for (size_t i = 0; i < trial->n; i++) {
        const struct sb_glide_family *family = &trial->families[i];
        if (!is_exact(i)) {
            first.scale = i < HEARD ? tau : 1.0;
            first.p = sb_glide_pool_all(seen, family, first.scale);
        }
        trial->at[i] = settle(seen, family, &first, noise, &trial->loud[i]);
        if (trial->loud[i] < trial->loud[trial->quietest])
            trial->quietest = i;
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

/* What is no single formula's: any blend, and one about the energy; NULL where there is none. */
struct blends {
    struct sb_glide_blended any, about;
    struct sb_glide_blend any_best, about_best, *is_any, *is_about;
};

/* Each at its own noise, but for the odds. */
static void judge_families(const struct trial *trial, double heard_by, double disturbance,
                           struct option options[]) {
    for (size_t i = 0; i < trial->n; i++) {
        const struct sb_glide_family *family = &trial->families[i];
        const struct place *at = &trial->at[i];
        options[i] = judge(family, at, trial->loud[i]);
        options[i].shift_var = judge(family, at, fmax(trial->loud[i], disturbance)).shift_var;
        options[i].odds = judge(family, at, heard_by).odds;
    }
    options[STAGES].odds = fmin(options[STAGES].odds, options[EXPONENTIAL].odds + STAGES_MORE);
}

/* The likelier energy, of those that are exact; EXPONENTIAL where that is about as likely. */
static size_t likely_energy(const struct trial *trial, const struct option options[]) {
    size_t best = HEARD;
    for (size_t i = HEARD; i < trial->n; i++)
        if (options[i].odds > options[best].odds)
            best = i;
    bool likely = trial->n == FAMILIES && options[best].odds > options[EXPONENTIAL].odds + LIKELIER;
    return !likely ? EXPONENTIAL : is_exact(best) ? best : best + 1;
}

/* At any time of the note, or of as much again. */
static bool rises(const struct sb_glide_blend *blend, double end_s) {
    for (size_t k = 0; k <= 2 * MOMENTS; k++) {
        double t = (double)k / MOMENTS * end_s, fall = 0;
        for (size_t m = 0; m < blend->terms; m++)
            fall += blend->weight[m] * blend->rate_per_s[m] * exp(-blend->rate_per_s[m] * t);
        if (!(fall > 0))
            return true;
    }
    return false;
}

/* The energy, its weights reconsidered. */
static struct sb_glide_blend *reweigh(const struct trial *trial, const struct sb_glide_seen *seen,
                                      const struct option options[], double disturbance,
                                      struct blends *blends) {
    size_t energy = likely_energy(trial, options);
    const struct sb_glide_family *family = &trial->families[energy];
    struct sb_glide_blend *best = &blends->about_best;
    if (energy == EXPONENTIAL ||
        !sb_glide_blend_about(seen, family, options[energy].gamma, &blends->about) ||
        !judge_blended(seen, &blends->about, best))
        return NULL;
    double off = family->heard_ln_std * sqrt(fmax(best->noise, disturbance));
    bool worth = best->noise < BLEND_WORTH * trial->loud[trial->quietest];
    return worth && off < MOST_DECAYS_OFF && !rises(best, seen->end_s) ? best : NULL;
}

static struct option judge_reweighed(const struct blends *blends, double preferred, double heard_by,
                                     double disturbance) {
    const struct sb_glide_blend *best = blends->is_about;
    struct sb_glide_blend by_same = *best, disturbed = *best;
    (void)sb_glide_blend_judge(&blends->about, fmax(best->noise, disturbance), &disturbed);
    (void)sb_glide_blend_judge(&blends->about, heard_by, &by_same);
    return (struct option){.blend = best,
                           .gamma = best->gamma,
                           .odds = by_same.odds + preferred,
                           .shift = best->shift,
                           .shift_var = disturbed.shift_var};
}

/* All shapes' odds are by one noise, that of the shape which leaves the least. What no shape
 * accounts for is no noise of many independent samples: it says the less; but not less than what
 * the tracks differ by leaves to say. */
static size_t judge_all(const struct trial *trial, const struct sb_glide_seen *seen, double noise,
                        struct blends *blends, struct option options[]) {
    struct sb_glide_blend *any = blends->is_any;
    size_t quietest = trial->quietest;
    double least = any ? fmin(trial->loud[quietest], any->noise) : trial->loud[quietest];
    double misfit = fmax(any ? fmin(noise, any->noise) : noise, 1.0);
    double disturbance =
        sb_glide_disturbed(seen, &trial->families[quietest], trial->at[quietest].scale);
    double heard_by = fmax(least, fmin(least * misfit, disturbance));
    size_t n = trial->n;
    judge_families(trial, heard_by, disturbance, options);
    blends->is_about = reweigh(trial, seen, options, disturbance, blends);
    if (blends->is_about) {
        heard_by = fmin(heard_by, blends->is_about->noise);
        double preferred = trial->families[HEARD + 1].preferred;
        options[n++] = judge_reweighed(blends, preferred, heard_by, disturbance);
    }
    if (any) {
        struct sb_glide_blend by_same;
        if (sb_glide_blend_judge(&blends->any, heard_by, &by_same))
            any->odds = by_same.odds;
        options[n++] = judge_blend(any, &options[EXPONENTIAL], noise);
    }
    return keep_sound(options, n);
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present) {
    struct sb_glide_seen seen;
    struct trial trial;
    struct option options[FAMILIES + 2] = {{0}};
    struct blends blends = {0};
    double left;
    trial.n = sb_glide_families(tracks, n, trial.families);
    sb_glide_gather(tracks, n, present, &seen);
    double tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    if (tau == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    sb_glide_lower_odd_ones(&seen, &trial.families[EXPONENTIAL], tau);
    tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    double noise = fmax(left, 1.0);
    settle_all(&trial, &seen, tau, noise);
    if (sb_glide_blend_any(&seen, &blends.any) &&
        judge_blended(&seen, &blends.any, &blends.any_best))
        blends.is_any = &blends.any_best;
    size_t judged = judge_all(&trial, &seen, noise, &blends, options);
    if (judged == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    return decide(options, judged, seen.end_s, trial.at[EXPONENTIAL].p.count);
}
