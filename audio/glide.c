#include <math.h>
#include <string.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

enum { TAUS = 12, ROUNDS = 10, MOMENTS = 8 };

enum { EXPONENTIAL = SB_GLIDE_EXPONENTIAL, STAGES = SB_GLIDE_STAGES, HEARD = SB_GLIDE_HEARD };
enum { HELD = SB_GLIDE_HELD, OWNING = SB_GLIDE_OWNING, WAYS = SB_GLIDE_WAYS };
enum { FAMILIES = SB_GLIDE_FAMILIES };

static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.55;
static const double TAIL_SHARE = 0.05, SHIFT_SHARE = 0.005;
/* Of that, where the shape leaves so large a part of what it explains. Those of the energy are by
 * what is heard of the string, which is not all of it. */
static const double EXPONENTIAL_LEFT = 0.015, ENERGY_LEFT = 0.005;
/* No shape is taken for nearer than this. */
static const double LEAST_LEFT = 0.002;
static const double STAGES_MORE = 1.0; /* log odds */
/* The energy, its weights reconsidered: where it is much likelier than the exponential (log odds),
 * the decays, whose figures it takes, are off by no more, and nothing of it rises. */
static const double LIKELIER = 7.0, MOST_DECAYS_OFF = 0.05;
/* With what is the partials' own, where it leaves so small a part of what it does without: planes
 * bend the phases, too, each partial's by itself. */
static const double OWNING_WORTH = 0.01;
/* Standard deviations; further off, numbers run over. */
static const double MOST_BELOW_ZERO = -12.0;
static const double BLEND_HANDICAP = 30.0, BLEND_WORTH = 0.5;
static const double MOST_LIKELY = 0.5;
/* No shape is exact, nor what is done to a band: what shapes leave less of than this part of what
 * they explain does not tell them apart. */
static const double TOLD_APART = 2e-4;

/* Of a shift and of what is still to come when the note ends: no sum of exponentials is its exact
 * shape, but the nearer the less it leaves. `left`: the RMS of what it does over that of the glide.
 */
static double shape_doubt(const sb_glide *glide, double shift, double end_s, double left) {
    double most = glide->shape.terms == 1 ? EXPONENTIAL_LEFT : ENERGY_LEFT;
    double share = fmin(fmax(left, LEAST_LEFT) / most, 1.0);
    return share * hypot(SHIFT_SHARE * shift, TAIL_SHARE * sb_glide_shift(glide, 0, end_s));
}

/* One family's best glide and what it stands for. */
struct option {
    const struct sb_glide_family *family; /* NULL: the blend */
    const struct sb_glide_blend *blend;
    double gamma, scale;
    double odds;             /* log odds against no glide */
    double shift, shift_var; /* relative shift of the settled pitch that it makes good */
    double left;             /* RMS of what it leaves, over that of the glide */
};

/* What a shape, of whatever amount, explains of u, and what it leaves. */
static double explained_by(const struct sb_glide_pooled *p) {
    return p->cross[SB_S][SB_U] * p->cross[SB_S][SB_U] / p->cross[SB_S][SB_S];
}

static double left_by(const struct sb_glide_pooled *p) {
    return p->cross[SB_U][SB_U] - explained_by(p);
}

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
            at.p = sb_glide_pool_all(seen, &family->shape, at.scale);
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
                            .shift_var = variance,
                            .left = sqrt(fmax(left_by(p) / explained_by(p), 0.0))};
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
        struct sb_glide_pooled p = sb_glide_pool_all(seen, &family->shape, scale);
        if (!(p.cross[SB_S][SB_S] > 0))
            continue;
        *left = fmin(*left, left_by(&p) / p.count);
        if (explained_by(&p) > top)
            top = explained_by(&p), best = scale;
    }
    return best;
}

/* How far the tracks differ about gamma, in units of their noise: beating bends phases as a
 * glide does, but not all alike (a Birge ratio: Phys. Rev. 40, 207, 1932). */
static double disagreement(const struct sb_glide_pooled *p) {
    return p->tracks > 1.0 ? (p->own - explained_by(p)) / (p->tracks - 1.0) : 0.0;
}

static void set_shape(sb_glide *glide, const struct option *chosen) {
    glide->gamma = chosen->gamma;
    glide->shape = chosen->family ? chosen->family->shape : chosen->blend->shape;
    for (size_t m = 0; m < glide->shape.terms; m++)
        glide->shape.rate_per_s[m] /= chosen->scale;
}

/* Takes the likelier shape, or none, and averages over what remains possible; but where most likely
 * there is none, the pitch is by that: the mean would move it by no evidence. */
static sb_glide decide(const struct option options[], size_t n, double end_s) {
    size_t best = 0;
    for (size_t i = 0; i < n; i++)
        if (options[i].odds > options[best].odds)
            best = i;
    const struct option *chosen = options[best].odds > 0 ? &options[best] : NULL;
    double top = fmax(options[best].odds, 0.0), applied = chosen ? chosen->shift : 0.0;
    double none = exp(-top), total = none, mean = 0, square = 0, own = 0;
    for (size_t i = 0; i < n; i++) {
        double weight = exp(options[i].odds - top);
        total += weight;
        own += weight * options[i].shift_var;
        mean += weight * options[i].shift;
        square += weight * options[i].shift * options[i].shift;
    }
    mean = none > MOST_LIKELY * total ? 0.0 : mean / total;
    double between = sqrt(fmax(square / total - mean * mean, 0.0));
    own = sqrt(own / total);
    sb_glide glide = {.common_std = hypot(own, between), .to_mean = applied - mean};
    if (!chosen)
        return glide;
    set_shape(&glide, chosen);
    glide.shape_std = hypot(between, shape_doubt(&glide, applied, end_s, chosen->left));
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
                           .scale = 1.0,
                           .odds = odds,
                           .shift = blend->shift,
                           .shift_var = blend->shift_var,
                           .left = blend->left};
}

static double disagreement_about(const struct sb_glide_seen *seen,
                                 const struct sb_glide_blend *blend) {
    struct sb_glide_pooled p = sb_glide_pool_all(seen, &blend->shape, 1.0);
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
    double roughly;     /* noise, or what an exponential leaves whose scale is not yet refined */
    struct place at[FAMILIES];
    double loud[FAMILIES];
};

/* Which of its ways an energy is taken in: 0 = with a free scale. */
static size_t way_of(size_t i) {
    return i < HEARD ? 0 : (i - HEARD) % WAYS;
}

static bool owns(size_t i) {
    return i >= HEARD && way_of(i) == OWNING - HEARD;
}

static void settle_all(struct trial *trial, const struct sb_glide_seen *seen, double tau,
                       double noise) {
    struct place first = {0};
    trial->quietest = 0;
    for (size_t i = 0; i < trial->n; i++) {
        const struct sb_glide_family *family = &trial->families[i];
        if (way_of(i) == 0 || owns(i)) { /* one held to its scale begins as the free one does */
            first.scale = i < HEARD ? tau : 1.0;
            first.p = sb_glide_pool_all(seen, &family->shape, first.scale);
        }
        trial->at[i] = settle(seen, family, &first, noise, &trial->loud[i]);
        if (trial->loud[i] < trial->loud[trial->quietest])
            trial->quietest = i;
    }
}

/* A block, by the family that leaves least. */
static double left_by_best(const struct trial *trial) {
    double least = (double)INFINITY;
    for (size_t i = 0; i < trial->n; i++)
        least = fmin(least, left_by(&trial->at[i].p) / trial->at[i].p.count);
    return least;
}

static double left_roughly(const struct trial *trial) {
    return fmax(trial->roughly, trial->loud[trial->quietest]);
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

/* An energy, its weights reconsidered. */
struct reweighed {
    struct sb_glide_blended of;
    struct sb_glide_blend best;
    double disturbance; /* of the phases, about it */
    bool sound;         /* as a string's energy may be */
};

/* What is no single formula's: any blend, where there is one, and those about the energy, without
 * and with what a partial's own adds. */
struct blends {
    struct sb_glide_blended any;
    struct sb_glide_blend any_best, *is_any;
    struct reweighed about[2];
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

/* An energy's weights are open, too: the shift may be off by what the tracks leave open of them. */
static void open_weights(const struct trial *trial, const struct sb_glide_seen *seen,
                         double disturbance, struct option options[]) {
    for (size_t i = HEARD; i < FAMILIES; i++) {
        struct option *energy = &options[i];
        struct sb_glide_blended of;
        struct sb_glide_blend about;
        if (sb_glide_blend_about(seen, energy->family, energy->gamma, &of) &&
            sb_glide_blend_judge(&of, fmax(trial->loud[i], disturbance), &about))
            energy->shift_var = fmax(energy->shift_var, about.shift_var);
    }
}

/* The likelier energy, in the way that it is to be reweighed in. */
static size_t likely_energy(const struct option options[], bool owning) {
    size_t best = HEARD;
    if (owning)
        return options[OWNING].odds > options[OWNING + WAYS].odds ? OWNING : OWNING + WAYS;
    for (size_t i = HEARD; i < FAMILIES; i++)
        if (!owns(i) && options[i].odds > options[best].odds)
            best = i;
    return way_of(best) == 0 ? best + 1 : best;
}

/* At any time of the note, or of as much again. */
static bool rises(const struct sb_glide_blend *blend, double end_s) {
    for (size_t k = 0; k <= 2 * MOMENTS; k++) {
        double t = (double)k / MOMENTS * end_s, fall = 0;
        for (size_t m = 0; m < blend->shape.terms; m++)
            fall += blend->shape.weight[m] * blend->shape.rate_per_s[m] *
                    exp(-blend->shape.rate_per_s[m] * t);
        if (!(fall > 0))
            return true;
    }
    return false;
}

/* Much likelier than the exponential, one of them. */
static bool is_likely(const struct option options[]) {
    double top = -(double)INFINITY;
    for (size_t i = HEARD; i < FAMILIES; i++)
        top = fmax(top, options[i].odds);
    return top > options[EXPONENTIAL].odds + LIKELIER;
}

/* False where its amounts all but cancel. */
static bool reweigh(const struct trial *trial, const struct sb_glide_seen *seen,
                    const struct option *energy, double disturbance, struct reweighed *out) {
    const struct sb_glide_family *family = energy->family;
    struct sb_glide_blend *best = &out->best;
    if (!sb_glide_blend_about(seen, family, energy->gamma, &out->of) ||
        !judge_blended(seen, &out->of, best))
        return false;
    out->disturbance = disturbance;
    if (family->shape.own > 0) /* without it no shape may have been near */
        out->disturbance = fmin(disturbance, sb_glide_disturbed(seen, &best->shape, 1.0));
    double off = family->heard_ln_std * sqrt(fmax(best->noise, out->disturbance));
    out->sound = best->noise < BLEND_WORTH * left_roughly(trial) && off < MOST_DECAYS_OFF &&
                 !rises(best, seen->end_s);
    return true;
}

/* About the likelier energy without what is the partials' own, and about that with it, which is
 * held against the first. */
static void reweigh_both(const struct trial *trial, const struct sb_glide_seen *seen,
                         const struct option options[], double disturbance,
                         struct reweighed about[2]) {
    const struct option *without = &options[likely_energy(options, false)],
                        *with = &options[likely_energy(options, true)];
    bool likely = is_likely(options);
    about[1].sound = reweigh(trial, seen, with, disturbance, &about[1]) && about[1].sound;
    if (!likely && !about[1].sound)
        return;
    bool judged = reweigh(trial, seen, without, disturbance, &about[0]);
    double left = judged ? about[0].best.noise : left_roughly(trial);
    about[0].sound = judged && likely && about[0].sound;
    about[1].sound = about[1].sound && about[1].best.noise < OWNING_WORTH * left;
}

static struct option judge_reweighed(const struct reweighed *about, double preferred,
                                     double heard_by) {
    const struct sb_glide_blend *best = &about->best;
    struct sb_glide_blend by_same = *best, disturbed = *best;
    (void)sb_glide_blend_judge(&about->of, fmax(best->noise, about->disturbance), &disturbed);
    (void)sb_glide_blend_judge(&about->of, heard_by, &by_same);
    return (struct option){.blend = best,
                           .gamma = best->gamma,
                           .scale = 1.0,
                           .odds = by_same.odds + preferred,
                           .shift = best->shift,
                           .shift_var = disturbed.shift_var,
                           .left = best->left};
}

/* What those that are sound leave, at the least. */
static double left_by_sound(const struct reweighed about[2]) {
    double least = (double)INFINITY;
    for (size_t i = 0; i < 2; i++)
        if (about[i].sound)
            least = fmin(least, about[i].best.noise);
    return least;
}

/* Adds those that are sound to the n options. Returns how many there are then. */
static size_t add_sound(const struct trial *trial, const struct reweighed about[2], double heard_by,
                        struct option options[], size_t n) {
    for (size_t i = 0; i < 2; i++)
        if (about[i].sound)
            options[n++] =
                judge_reweighed(&about[i], trial->families[HELD + i].preferred, heard_by);
    return n;
}

static double least_noise_told(const struct sb_glide_pooled *p) {
    double explained = p->cross[SB_S][SB_U] * p->cross[SB_S][SB_U] / p->cross[SB_S][SB_S];
    return TOLD_APART * TOLD_APART * explained;
}

/* All shapes' odds are by one noise, that of the shape which leaves the least. What no shape
 * accounts for is no noise of many independent samples: it says the less; but not less than what
 * the tracks differ by leaves to say. */
static size_t judge_all(const struct trial *trial, const struct sb_glide_seen *seen,
                        struct blends *blends, struct option options[]) {
    struct sb_glide_blend *any = blends->is_any;
    size_t quietest = trial->quietest;
    double least = any ? fmin(trial->loud[quietest], any->noise) : trial->loud[quietest];
    double misfit = any ? fmax(fmin(trial->roughly, any->noise), 1.0) : trial->roughly;
    double disturbance =
        sb_glide_disturbed(seen, &trial->families[quietest].shape, trial->at[quietest].scale);
    double told_by = least_noise_told(&trial->at[quietest].p);
    double heard_by = fmax(fmax(least, fmin(least * misfit, disturbance)), told_by);
    size_t n = trial->n;
    judge_families(trial, heard_by, disturbance, options);
    if (n == FAMILIES) {
        open_weights(trial, seen, disturbance, options);
        reweigh_both(trial, seen, options, disturbance, blends->about);
    }
    heard_by = fmax(fmin(heard_by, left_by_sound(blends->about)), told_by);
    n = add_sound(trial, blends->about, heard_by, options, n);
    if (any) {
        struct sb_glide_blend by_same;
        if (sb_glide_blend_judge(&blends->any, heard_by, &by_same))
            any->odds = by_same.odds;
        options[n++] = judge_blend(any, &options[EXPONENTIAL], trial->roughly);
    }
    return keep_sound(options, n);
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present) {
    struct sb_glide_seen seen;
    struct trial trial;
    struct option options[FAMILIES + 3] = {{0}};
    struct blends blends = {0};
    double left;
    trial.n = sb_glide_families(tracks, n, trial.families);
    sb_glide_gather(tracks, n, present, &seen);
    double tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    if (tau == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    sb_glide_lower_odd_ones(&seen, &trial.families[EXPONENTIAL].shape, tau);
    tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    trial.roughly = fmax(left, 1.0);
    settle_all(&trial, &seen, tau, trial.roughly);
    double noise = fmax(left_by_best(&trial), 1.0);
    if (fabs(noise - trial.roughly) > 0)
        settle_all(&trial, &seen, tau, noise);
    if (sb_glide_blend_any(&seen, &blends.any) &&
        judge_blended(&seen, &blends.any, &blends.any_best))
        blends.is_any = &blends.any_best;
    size_t judged = judge_all(&trial, &seen, &blends, options);
    if (judged == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    return decide(options, judged, seen.end_s);
}
