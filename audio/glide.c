#include <math.h>
#include <string.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

enum { TAUS = 12, ROUNDS = 10 };

/* Shapes of glide: HEARD and after, by what is heard of the string. */
enum { EXPONENTIAL, STAGES, HEARD, FAMILIES = HEARD + 4 };

/* What glides are like before this one is heard: a relative shift at the first measured
 * sample of some 3 cents, up to 20 for hard plucks (the stretch of a 4 mm pluck), with a
 * time constant about half the note's own decay (the shift goes as amplitude squared).
 * The energy's own shape may be off by a little: partials unseen, losses that change; and by what
 * the decays may be off, which a second plane bends by more than their noise does. */
static const double PRIOR_LN_TAU = 0.9, PRIOR_LN_SCALE = 0.15, PRIOR_LN_EXACT = 0.01;
static const double DECAYS_OFF = 3.0; /* times their noise */
static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.55;
static const double TAIL_SHARE = 0.05, SHIFT_SHARE = 0.005;
/* Of that, where the shape leaves so large a part of what it explains. Those of the energy are by
 * what is heard of the string, which is not all of it. */
static const double EXPONENTIAL_LEFT = 0.015, ENERGY_LEFT = 0.005;
/* Log odds against each shape, before anything is heard: a glide is as likely as one too small to
 * matter. Less is held against the energy as it is heard, for that is what stretches a string. */
static const double ANY_HANDICAP = 1.2, HEARD_MORE = 1.5;
/* The second stage's rate over the first's. This shape is there for the doubt where it and the
 * exponential cannot be told apart; one that fits much better is the blend's to find. */
static const double STAGES_APART = 4.0, STAGES_HANDICAP = 2.0, STAGES_MORE = 1.0;
/* Standard deviations; further off, numbers run over. */
static const double MOST_BELOW_ZERO = -12.0;
static const double BLEND_HANDICAP = 30.0, BLEND_WORTH = 0.5;

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

static struct sb_glide_family exponential(void) {
    return (struct sb_glide_family){.terms = 1,
                                    .weight = {1.0},
                                    .rate_per_s = {1.0},
                                    .prior_ln = log(SB_GLIDE_USUAL_S),
                                    .prior_ln_std = PRIOR_LN_TAU,
                                    .preferred = -ANY_HANDICAP};
}

/* As a string rings whose energy leaves it in two stages (G. Weinreich, J. Acoust. Soc. Am. 62,
 * 1474, 1977). Over a short note an exponential and this one fit alike, and settle apart. */
static struct sb_glide_family two_stages(void) {
    struct sb_glide_family family = exponential();
    family.terms = 2;
    family.weight[0] = family.weight[1] = 0.5;
    family.rate_per_s[1] = STAGES_APART * family.rate_per_s[0];
    family.preferred -= STAGES_HANDICAP;
    return family;
}

/* The energy that stretches the string, from the partials' amplitudes to a power of their numbers,
 * and their decays, of which noise leaves as much open as of their frequencies in rad/s. What is
 * more than the terms hold goes into the last. */
static struct sb_glide_family energy_shape(const sb_track tracks[], size_t n, double power) {
    struct sb_glide_family family = {.prior_ln_std = PRIOR_LN_SCALE, .preferred = -ANY_HANDICAP};
    double total = 0, rate = 0, variance = 0;
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
        rate += share * line->decay_per_s;
        variance += pow(share * SB_TWO_PI * tracks[i].hz_std, 2);
    }
    for (size_t m = 0; m < family.terms; m++)
        family.weight[m] /= total;
    family.heard_ln_std = rate > 0 ? sqrt(variance) / rate : 0.0;
    return family;
}

/* What is heard of the energy may be all that stretches the string. */
static struct sb_glide_family exactly(struct sb_glide_family family) {
    double heard = hypot(PRIOR_LN_EXACT, DECAYS_OFF * family.heard_ln_std);
    family.prior_ln_std = fmin(heard, PRIOR_LN_SCALE);
    return family;
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

/* The blend, judged by what the tracks differ about it: about an exponential they differ the more,
 * the less the glide is one. */
static bool judge_blended(const struct sb_glide_seen *seen, struct sb_glide_blend *blend) {
    if (!sb_glide_blend_judge(seen, 1.0, blend))
        return false;
    struct sb_glide_family shape = {.terms = blend->terms};
    memcpy(shape.weight, blend->weight, sizeof shape.weight);
    memcpy(shape.rate_per_s, blend->rate_per_s, sizeof shape.rate_per_s);
    struct sb_glide_pooled p = sb_glide_pool_all(seen, &shape, 1.0);
    return sb_glide_blend_judge(seen, fmax(disagreement(&p), 1.0), blend);
}

/* The families, each where it is likeliest, and by what noise. */
struct trial {
    struct sb_glide_family families[FAMILIES];
    size_t n;
    struct place at[FAMILIES];
    double loud[FAMILIES], quietest;
};

static void begin_trial(struct trial *trial, const sb_track tracks[], size_t n) {
    struct sb_glide_family heard = energy_shape(tracks, n, 0.0);
    trial->families[EXPONENTIAL] = exponential();
    trial->families[STAGES] = two_stages();
    trial->families[HEARD] = heard;
    trial->families[HEARD + 1] = exactly(heard);
    trial->families[HEARD + 1].preferred += HEARD_MORE;
    trial->families[HEARD + 2] = energy_shape(tracks, n, 2.0);
    trial->families[HEARD + 3] = exactly(trial->families[HEARD + 2]);
    trial->n = heard.terms > 1 ? FAMILIES : heard.terms > 0 ? HEARD + 1 : HEARD;
}

/* Of the shape before it, and held to its scale: it begins where that does. */
static bool is_exact(size_t i) {
    return i > HEARD && (i - HEARD) % 2 == 1;
}

static void settle_all(struct trial *trial, const struct sb_glide_seen *seen, double tau,
                       double noise) {
    struct place first = {0};
    trial->quietest = (double)INFINITY;
    for (size_t i = 0; i < trial->n; i++) {
        const struct sb_glide_family *family = &trial->families[i];
        if (!is_exact(i)) {
            first.scale = i < HEARD ? tau : 1.0;
            first.p = sb_glide_pool_all(seen, family, first.scale);
        }
        trial->at[i] = settle(seen, family, &first, noise, &trial->loud[i]);
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
        sb_glide_disturbed(seen, &trial->families[EXPONENTIAL], trial->at[EXPONENTIAL].scale);
    double heard_by = fmax(quietest, fmin(quietest * misfit, disturbance));
    size_t n = trial->n;
    for (size_t i = 0; i < n; i++) {
        const struct sb_glide_family *family = &trial->families[i];
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
    sb_glide_lower_odd_ones(&seen, &trial.families[EXPONENTIAL], tau);
    tau = start_scale(&seen, &trial.families[EXPONENTIAL], &left);
    double noise = fmax(left, 1.0);
    settle_all(&trial, &seen, tau, noise);
    bool blended = judge_blended(&seen, &blend);
    size_t judged = judge_all(&trial, &seen, noise, blended ? &blend : NULL, options);
    if (judged == 0)
        return (sb_glide){.common_std = SB_GLIDE_USUAL};
    return decide(options, judged, seen.end_s, trial.at[EXPONENTIAL].p.count);
}
