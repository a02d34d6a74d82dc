#include <math.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

/* What glides are like before this one is heard: a relative shift at the first measured
 * sample of some 3 cents, up to 20 for hard plucks (the stretch of a 4 mm pluck), with a
 * time constant about half the note's own decay (the shift goes as amplitude squared): the usual
 * one's, or that of the energy as it is heard where it dies sooner.
 * The energy's own shape may be off by a little: partials unseen, losses that change; and by what
 * the decays may be off, which a second plane bends by more than their noise does. */
static const double PRIOR_LN_TAU = 0.75, PRIOR_LN_SCALE = 0.15, PRIOR_LN_EXACT = 0.01;
static const double DECAYS_OFF = 3.0; /* times their noise */
/* What is heard of a partial's energy is not what it has: pickup and body colour it by such a part,
 * and a partial that the pickup has a node at may have such a part of the string's, over its number
 * squared. */
static const double WEIGHTS_OFF = 0.7, NODE_SHARE = 0.05;
/* Log odds against each shape, before anything is heard: a glide is as likely as one too small to
 * matter. Less is held against the energy as it is heard, for that is what stretches a string, and
 * against the exponential: 37 recorded notes are likeliest where the two are about as likely, and
 * this goes as far toward that as short notes of known truth, the energy's, allow. */
static const double ANY_HANDICAP = 1.2, HEARD_MORE = 1.5, EXPONENTIAL_MORE = 1.2;
/* Against what a partial's own energy adds: planes that turn about each other take it away. */
static const double OWNING_HANDICAP = 1.1;
/* The second stage's rate over the first's. This shape is there for the doubt where it and the
 * exponential cannot be told apart; one that fits much better is the blend's to find. */
static const double STAGES_APART = 4.0, STAGES_HANDICAP = 2.0;

/* Of an exponential, where such energy is heard. */
static double usual_ln_tau(const struct sb_glide_family *energy) {
    double rate = 0;
    for (size_t m = 0; m < energy->shape.terms; m++)
        rate += energy->shape.weight[m] * energy->shape.rate_per_s[m];
    return -log(fmax(rate, 1.0 / SB_GLIDE_USUAL_S));
}

static struct sb_glide_family exponential(const struct sb_glide_family *energy) {
    return (struct sb_glide_family){.shape = sb_glide_exponential(1.0, 1.0).shape,
                                    .prior_ln = usual_ln_tau(energy),
                                    .prior_ln_std = PRIOR_LN_TAU,
                                    .preferred = EXPONENTIAL_MORE - ANY_HANDICAP};
}

/* As a string rings whose energy leaves it in two stages (G. Weinreich, J. Acoust. Soc. Am. 62,
 * 1474, 1977). Over a short note an exponential and this one fit alike, and settle apart. */
static struct sb_glide_family two_stages(const struct sb_glide_family *energy) {
    struct sb_glide_family family = exponential(energy);
    family.shape.terms = 2;
    family.shape.weight[0] = family.shape.weight[1] = 0.5;
    family.shape.rate_per_s[1] = STAGES_APART * family.shape.rate_per_s[0];
    family.preferred = -ANY_HANDICAP - STAGES_HANDICAP;
    return family;
}

/* The energy that stretches the string, from the partials' amplitudes to a power of their numbers,
 * and their decays, of which noise leaves as much open as of their frequencies in rad/s. What is
 * more than the terms hold goes into the last. */
static struct sb_glide_family energy_shape(const sb_track tracks[], size_t n, double power) {
    struct sb_glide_family family = {.prior_ln_std = PRIOR_LN_SCALE, .preferred = -ANY_HANDICAP};
    sb_glide_shape *shape = &family.shape;
    double total = 0, rate = 0, variance = 0;
    for (size_t i = 0; i < n; i++) {
        const sb_line *line = &tracks[i].lines[0];
        if (tracks[i].n_lines == 0 || tracks[i].astray || line->decay_per_s < 0.05)
            continue;
        double start = exp(2.0 * line->decay_per_s * tracks[i].band.t0_s);
        double share =
            pow(tracks[i].number, power) * (line->re * line->re + line->im * line->im) * start;
        size_t m = shape->terms < SB_GLIDE_TERMS ? shape->terms++ : SB_GLIDE_TERMS - 1;
        double before = shape->weight[m] * shape->rate_per_s[m];
        shape->number[m] = tracks[i].number;
        family.weight_std[m] = hypot(family.weight_std[m], share);
        shape->weight[m] += share;
        shape->rate_per_s[m] = (before + share * 2.0 * line->decay_per_s) / shape->weight[m];
        total += share;
        rate += share * line->decay_per_s;
        variance += pow(share * SB_TWO_PI * tracks[i].hz_std, 2);
    }
    for (size_t m = 0; m < shape->terms; m++) {
        shape->weight[m] /= total;
        family.weight_std[m] =
            WEIGHTS_OFF * (family.weight_std[m] / total + NODE_SHARE / pow(shape->number[m], 2));
    }
    if (shape->terms == SB_GLIDE_TERMS)
        shape->number[SB_GLIDE_TERMS - 1] = 0;
    family.heard_ln_std = rate > 0 ? DECAYS_OFF * sqrt(variance) / rate : 0.0;
    return family;
}

/* What is heard of the energy may be all that stretches the string. */
static struct sb_glide_family exactly(struct sb_glide_family family) {
    double heard = hypot(PRIOR_LN_EXACT, family.heard_ln_std);
    family.prior_ln_std = fmin(heard, PRIOR_LN_SCALE);
    return family;
}

/* An energy in all three ways. */
static void add_ways(const struct sb_glide_family *energy, double more,
                     struct sb_glide_family out[SB_GLIDE_WAYS]) {
    out[0] = *energy;
    out[1] = out[2] = exactly(*energy);
    out[1].preferred += more;
    out[2].preferred += more - OWNING_HANDICAP;
    out[2].shape.own = SB_GLIDE_OWN;
}

size_t sb_glide_families(const sb_track tracks[], size_t n,
                         struct sb_glide_family out[SB_GLIDE_FAMILIES]) {
    struct sb_glide_family heard = energy_shape(tracks, n, 0.0);
    out[SB_GLIDE_EXPONENTIAL] = exponential(&heard);
    out[SB_GLIDE_STAGES] = two_stages(&heard);
    add_ways(&heard, HEARD_MORE, &out[SB_GLIDE_HEARD]);
    const struct sb_glide_family displaced = energy_shape(tracks, n, 2.0);
    add_ways(&displaced, 0.0, &out[SB_GLIDE_HEARD + SB_GLIDE_WAYS]);
    return heard.shape.terms > 1   ? SB_GLIDE_FAMILIES
           : heard.shape.terms > 0 ? SB_GLIDE_HEARD + 1
                                   : SB_GLIDE_HEARD;
}
