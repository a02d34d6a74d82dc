#include "audio/joint.h"

#include <math.h>
#include <string.h>

#include "audio/joint_parts.h"
#include "audio/reading.h"
#include "core/pitch.h"

enum { DETUNES = 10, HALVINGS = 3, WEIGHINGS = 2, FEWEST_STRANDS = 3 };
enum { SEARCH_ROUNDS = 20, ROUNDS = 120 }; /* lines that lie close are a long valley */

static const double FIRST_DETUNE = 0.0002, DETUNE_GROWTH = 1.35;
static const double SINCE_STD_S = 0.03; /* of the time since the pluck */
/* Over a strand's length, and of decays: beyond them no string's line. */
static const double MOST_GROWTH = 2.0, FASTEST_PER_S = 200.0;
static const double LEAD_SCATTER = 0.3; /* of partials about what they share, in ln */
/* Planes share all partials about alike; what does not is something else. */
static const double MOST_LEAD_STD = 0.6;
static const double LEAST_ENERGY_SNR = 100.0;
/* With a second line what is left must fall to less than this part of what it was, as a geometric
 * mean of all strands'; and so far that of most of them. */
static const double LEAST_FALL = 2.5, LEAST_GAIN = 1.5;
/* And what is left may not be much more than noise, nor than a root of that fall: two lines account
 * for a part of anything. Once the planes are known less is asked. */
static const double MOST_LEFT = 1.6, MOST_LEFT_KNOWN = 3.0, LEFT_POWER = 0.25;
/* Not worth a closer look: so small a fall before the descent; or this much left after one that is
 * not much larger. */
static const double HOPELESS_FALL = 1.7, POOR_FALL = 3.4, POOR_LEFT = 4.0;
/* Variance over that of the linearised fit, whose decays and amplitudes are far from linear:
 * found by notes of known truth. */
static const double MODEL_EXCESS = 8.0;
static const double NEARLY = 2.0; /* so far off it is worth going on */
/* Of the cost: while it is looked where the lines are, and once they are found. */
static const double SEARCH_SLACK = 0.1, SLACK = 1e-3;
static const double GLIDE_WORTH = 16.0; /* chi-square that a glide must explain */

/* ---- the samples ---- */

/* Averages `block` samples of what is left of the band when the foreign lines are gone. */
static void fill(struct sb_joint_strand *strand, size_t block) {
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

static bool begin_strand(struct sb_joint_strand *strand, sb_track *track, const sb_glide *present) {
    const sb_band *band = &track->band;
    size_t block = (band->n + SB_JOINT_POINTS - 1) / SB_JOINT_POINTS;
    if (block < 4)
        block = 4;
    *strand = (struct sb_joint_strand){.of = track, .n = band->n / block, .hz = track->hz};
    if (strand->n < 8)
        return false;
    strand->step_s = (double)block * band->step_s;
    strand->t0_s = band->t0_s + 0.5 * (double)(block - 1) * band->step_s;
    strand->weight = strand->heard = 2.0 * (double)block / track->noise;
    fill(strand, block);
    sb_glide_ahead(present, strand->t0_s, strand->step_s, strand->n, strand->ahead_s);
    const sb_line *line = &track->lines[0];
    strand->size = hypot(line->re, line->im);
    strand->x[A1] = line->re;
    strand->x[B1] = line->im;
    strand->x[D1] = line->decay_per_s;
    strand->x[D2] = fmax(line->decay_per_s, 0.1);
    strand->decay_per_s = fmax(line->decay_per_s, 0.1);
    return true;
}

/* The tracks that say most of what is shared, strongest first. */
static size_t choose(sb_track tracks[], size_t n, const sb_glide *present,
                     struct sb_joint_strand strands[SB_JOINT_STRANDS]) {
    bool taken[SB_MAX_PARTIALS] = {false};
    size_t kept = 0;
    while (kept < SB_JOINT_STRANDS) {
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

/* ---- where the second line might be ---- */

/* Amplitude of a second line that far apart, by a strand's residual. What the first line could
 * take up by itself does not count. */
static sb_cpx second_amplitude(const struct sb_joint_fit *fit,
                               const struct sb_joint_strand *strand) {
    struct sb_joint_columns column;
    struct sb_joint_sums sums;
    sb_joint_expand(fit, strand, &column);
    (void)sb_joint_sum(fit, strand, &column, &sums);
    const sb_cpx *line = sums.gram[LINE1], *rise = sums.gram[RISE1], *rest = sums.on_rest;
    double level = line[LINE1].re, tilt = line[RISE1].re, bow = rise[RISE1].re;
    double det = level * bow - tilt * tilt;
    sb_cpx as_line = {(bow * line[LINE2].re - tilt * rise[LINE2].re) / det,
                      (bow * line[LINE2].im - tilt * rise[LINE2].im) / det};
    sb_cpx as_rise = {(level * rise[LINE2].re - tilt * line[LINE2].re) / det,
                      (level * rise[LINE2].im - tilt * line[LINE2].im) / det};
    const sb_cpx own[SPAN] = {[LINE1] = {-as_line.re, -as_line.im},
                              [RISE1] = {-as_rise.re, -as_rise.im},
                              [LINE2] = {1.0, 0.0}};
    const sb_cpx turned[SPAN] = {[LINE1] = {as_line.im, -as_line.re},
                                 [RISE1] = {as_rise.im, -as_rise.re},
                                 [LINE2] = {0.0, 1.0}};
    double left = sb_joint_product(own, sums.on[A2]);
    if (!(left > 1e-3 * sums.gram[LINE2][LINE2].re))
        return (sb_cpx){0, 0};
    return (sb_cpx){sb_joint_product(own, rest) / left, sb_joint_product(turned, rest) / left};
}

/* Makes the second line the first. */
static void swap_lines(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double *x = strand->x, old[LOCAL];
    memcpy(old, x, sizeof old);
    x[W] += SB_TWO_PI * strand->hz * fit->shared[DETUNE];
    x[A1] = old[A2], x[B1] = old[B2], x[D1] = old[D2];
    x[A2] = old[A1], x[B2] = old[B1], x[D2] = old[D1];
}

/* A strand with a second line that far above the first. The line that one alone found may be
 * either. Returns its cost. */
static double split(struct sb_joint_fit *fit, struct sb_joint_strand *strand, double detune) {
    double best[LOCAL], alone[LOCAL], least = (double)INFINITY;
    memcpy(alone, strand->x, sizeof alone);
    memcpy(best, alone, sizeof best);
    fit->locals = LOCAL;
    for (int way = 0; way < 2; way++) {
        memcpy(strand->x, alone, sizeof alone);
        fit->shared[DETUNE] = way ? -detune : detune;
        strand->x[A2] = strand->x[B2] = 0;
        strand->x[D2] = strand->x[D1];
        sb_cpx amplitude = second_amplitude(fit, strand);
        strand->x[A2] = amplitude.re;
        strand->x[B2] = amplitude.im;
        if (way)
            swap_lines(fit, strand);
        fit->shared[DETUNE] = detune;
        double cost = sb_joint_settle(fit, strand);
        if (cost < least)
            least = cost, memcpy(best, strand->x, sizeof best);
    }
    memcpy(strand->x, best, sizeof best);
    return least;
}

/* What all strands cost together, but a strand that fits badly anyhow has little say. */
static double split_all(struct sb_joint_fit *fit, double detune) {
    double sum = 0;
    sb_joint_tabulate(fit);
    for (size_t i = 0; i < fit->n; i++) {
        double free = 2.0 * (double)fit->strands[i].n;
        sum += free * log(1.0 + split(fit, &fit->strands[i], detune) / free);
    }
    return sum;
}

/* ---- the outcome ---- */

/* By how much the first line was plucked harder, as the logarithm of their ratio, and the variance
 * of that: of one partial, or of all together. */
struct lead {
    double mean, variance;
};

static struct lead lead_of(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand) {
    const double *x = strand->x;
    double one = x[A1] * x[A1] + x[B1] * x[B1], two = x[A2] * x[A2] + x[B2] * x[B2];
    double noise1 = sb_joint_own_variance(fit, strand, A1),
           noise2 = sb_joint_own_variance(fit, strand, A2);
    double since_s = fit->since_pluck_s + strand->t0_s, faster = x[D1] - x[D2];
    double decays = sb_joint_own_variance(fit, strand, D1) + sb_joint_own_variance(fit, strand, D2);
    one = fmax(one, noise1), two = fmax(two, noise2);
    return (struct lead){0.5 * log(one / two) + faster * since_s, noise1 / one + noise2 / two +
                                                                      decays * since_s * since_s +
                                                                      pow(faster * SINCE_STD_S, 2)};
}

/* No two partials are shared alike between the planes. */
static struct lead lead_of_all(struct sb_joint_fit *fit) {
    double sum = 0, weights = 0, off = 0;
    (void)sb_joint_linearise(fit);
    if (!sb_joint_eliminate(fit, 0.0))
        return (struct lead){0, 1.0};
    for (size_t i = 0; i < fit->n; i++) {
        struct lead lead = lead_of(fit, &fit->strands[i]);
        double weight = 1.0 / (lead.variance + LEAD_SCATTER * LEAD_SCATTER);
        sum += weight * lead.mean, weights += weight, off += weight * lead.mean * lead.mean;
    }
    double mean = sum / weights, misfit = (off / weights - mean * mean) * weights;
    return (struct lead){mean, fmax(misfit / (double)fit->n, 1.0) / weights};
}

/* Of a strand whose lines cannot be told apart the stronger one may have become the second. */
static void reorder(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    double old[LOCAL], cost = sb_joint_settle(fit, strand);
    memcpy(old, strand->x, sizeof old);
    if (old[A1] * old[A1] + old[B1] * old[B1] > old[A2] * old[A2] + old[B2] * old[B2])
        return;
    swap_lines(fit, strand);
    strand->x[A2] = strand->x[B2] = 0;
    strand->x[D2] = old[D2];
    if (sb_joint_settle(fit, strand) > cost)
        memcpy(strand->x, old, sizeof old);
}

/* The one that was plucked the harder is the partial, though the other may last longer. */
static struct lead put_stronger_first(struct sb_joint_fit *fit) {
    struct lead lead = lead_of_all(fit);
    if (lead.mean < 0) {
        for (size_t i = 0; i < fit->n; i++)
            swap_lines(fit, &fit->strands[i]);
        fit->shared[DETUNE] = -fit->shared[DETUNE];
    }
    fit->ordered = true;
    for (size_t i = 0; i < fit->n; i++)
        reorder(fit, &fit->strands[i]);
    sb_joint_descend(fit);
    return lead_of_all(fit);
}

/* The odds that the other one was plucked the harder. */
static double doubt_of(const struct lead *lead) {
    return 0.5 * erfc(fmax(lead->mean, 0.0) / sqrt(2.0 * lead->variance));
}

/* Lines that grow much, die at once or have run away are no string's, and run over where they are
 * continued. */
static bool is_sane(const struct sb_joint_strand *strand) {
    const double *x = strand->x, span_s = (double)strand->n * strand->step_s;
    double leash_hz = fmax(3.0 / span_s, 0.25 * strand->of->band.pass_hz);
    return fabs(x[W]) < SB_TWO_PI * leash_hz && fmin(x[D1], x[D2]) > -MOST_GROWTH / span_s &&
           fmax(x[D1], x[D2]) < FASTEST_PER_S;
}

static void update_track(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                         double excess) {
    sb_track *track = strand->of;
    const double *x = strand->x;
    double hz = track->lines[0].hz + x[W] / SB_TWO_PI;
    double std_hz = sqrt(sb_joint_own_variance(fit, strand, W) * excess) / SB_TWO_PI;
    if (!isfinite(hz) || !isfinite(std_hz) || !is_sane(strand))
        return;
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
    kept[0].hz_std_unit = std_hz / sqrt(track->noise);
    memcpy(track->lines, kept, n * sizeof kept[0]);
    track->n_lines = n;
    track->hz = track->band.centre_hz + hz;
    track->hz_std = std_hz;
    track->told_apart = true;
}

/* The glide as the fit has it; its error holds what the shared unknowns leave open. */
static void update_glide(struct sb_joint_fit *fit, double excess, sb_glide *glide) {
    *glide = fit->shape;
    glide->gamma = fit->shared[GAMMA];
    for (size_t m = 0; m < glide->terms; m++)
        glide->rate_per_s[m] /= exp(fit->shared[SCALE]);
    double taken = fit->shape_gamma != 0 ? fabs(glide->gamma / fit->shape_gamma) : 0.0;
    glide->shape_std = fmin(taken, 2.0) * fit->shape.shape_std;
    glide->common_std = hypot(sb_joint_common_std(fit, excess), glide->shape_std);
}

/* The partials that say less of what is shared, once it is known. */
static void settle_others(struct sb_joint_fit *fit, sb_track tracks[], size_t n,
                          const sb_glide *present, double excess) {
    for (size_t i = 0; i < fit->n; i++)
        update_track(fit, &fit->strands[i], excess);
    for (size_t i = 0; i < n; i++) {
        struct sb_joint_strand strand;
        struct sb_joint_fit one = *fit;
        one.strands = &strand, one.n = 1, one.tabled = 0;
        if (tracks[i].told_apart || tracks[i].n_lines == 0 ||
            tracks[i].energy_snr < LEAST_ENERGY_SNR || !begin_strand(&strand, &tracks[i], present))
            continue;
        one.locals = A2;
        (void)split_all(&one, fit->shared[DETUNE]);
        reorder(&one, &strand);
        (void)sb_joint_reweigh(&one);
        (void)sb_joint_linearise(&one);
        if (sb_joint_eliminate(&one, 0.0))
            update_track(&one, &strand, excess);
    }
}

static void report(struct sb_joint_fit *fit, const struct lead *lead, sb_track tracks[], size_t n,
                   sb_glide *glide) {
    double excess = MODEL_EXCESS * sb_joint_colour(fit);
    (void)sb_joint_linearise(fit);
    if (!sb_joint_eliminate(fit, 0.0))
        return;
    settle_others(fit, tracks, n, glide, excess);
    double odds = doubt_of(lead), apart = fit->shared[DETUNE];
    for (size_t i = 0; i < n; i++) {
        if (!tracks[i].told_apart)
            tracks[i].hz_std = hypot(tracks[i].hz_std, 0.5 * apart * tracks[i].hz);
        else /* the mean of what is possible */
            tracks[i].hz *= 1.0 + odds * apart;
    }
    update_glide(fit, excess, glide);
    glide->common_std = hypot(glide->common_std, sqrt(odds * (1.0 - odds)) * apart);
}

static struct sb_joint_fit begin_fit(const sb_glide *present, struct sb_joint_strand strands[],
                                     size_t n) {
    struct sb_joint_fit fit = {.n = n, .locals = A2, .strands = strands, .shape = *present};
    if (present->terms == 0)
        fit.shape = (sb_glide){.terms = 1, .weight = {1.0}, .rate_per_s = {1.0 / SB_GLIDE_USUAL_S}};
    fit.shape_gamma = present->gamma;
    fit.shape.gamma = 1.0;
    fit.shared[GAMMA] = present->gamma;
    fit.slack = SLACK;
    fit.rounds = SEARCH_ROUNDS;
    return fit;
}

/* Tries a distance of the lines, from the unknowns as they were with one line. */
static double try_detune(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                         double detune) {
    sb_joint_restore(fit, alone);
    return split_all(fit, detune);
}

/* A distance, and what it costs. */
struct distance {
    double detune, cost;
};

static void try_better(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                       double detune, struct distance *best) {
    double cost = try_detune(fit, alone, detune);
    if (cost < best->cost)
        *best = (struct distance){detune, cost};
}

/* The likeliest distance: the best of many, or the one that is known, then ever nearer to it. */
static double find_detune(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    struct distance best = {0, (double)INFINITY};
    if (fit->known > 0)
        try_better(fit, alone, fit->known, &best);
    for (size_t i = 0; fit->known == 0 && i < DETUNES; i++)
        try_better(fit, alone, FIRST_DETUNE * pow(DETUNE_GROWTH, (double)i), &best);
    double ratio = DETUNE_GROWTH;
    for (int halving = 0; halving < HALVINGS; halving++) {
        ratio = sqrt(ratio);
        double middle = best.detune;
        try_better(fit, alone, middle / ratio, &best);
        try_better(fit, alone, middle * ratio, &best);
    }
    return best.detune;
}

/* From where it is to its best place, the noise being what is left there. */
static double descend_weighed(struct sb_joint_fit *fit) {
    for (int i = 0; i < WEIGHINGS; i++) {
        (void)sb_joint_reweigh(fit);
        sb_joint_descend(fit);
    }
    double merit = sb_joint_reweigh(fit);
    fit->cost = sb_joint_linearise(fit);
    return merit;
}

/* Geometric means over the strands: variance of what the fit leaves over that of the noise round
 * the partials; and that by which it fell since `alone`. */
struct gain {
    double left, fall;
};

static struct gain gain_of(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    double left = 0, fall = 0;
    for (size_t i = 0; i < fit->n; i++) {
        double weight = sb_joint_own_weight(fit, &fit->strands[i]);
        left += log(fit->strands[i].heard / weight);
        fall += log(weight / alone->weight[i]);
    }
    return (struct gain){exp(left / (double)fit->n), exp(fall / (double)fit->n)};
}

/* Puts a second line where it does best. */
static struct gain place_second(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    struct sb_joint_unknowns from;
    sb_joint_save(fit, &from);
    (void)try_detune(fit, &from, find_detune(fit, &from));
    return gain_of(fit, alone);
}

static bool is_hopeless(const struct gain *gain) {
    return gain->fall < HOPELESS_FALL || (gain->fall < POOR_FALL && gain->left > POOR_LEFT);
}

/* Another string's line near one partial or two, or hum there, is no plane: that betters most of
 * them. */
static bool most_gain(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    size_t gained = 0;
    for (size_t i = 0; i < fit->n; i++)
        gained += fit->strands[i].weight > LEAST_GAIN * alone->weight[i];
    return 2 * gained > fit->n;
}

static void place_without_glide(struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone) {
    sb_joint_restore(fit, alone);
    fit->locals = A2;
    fit->no_glide = true;
    sb_joint_turn_glide_into_pitch(fit);
    sb_joint_descend(fit);
    (void)place_second(fit, alone);
    (void)descend_weighed(fit);
    fit->no_glide = false;
}

/* `ease` above 1 asks for less. */
static bool is_enough(const struct sb_joint_fit *fit, const struct sb_joint_unknowns *alone,
                      double ease) {
    struct gain gain = gain_of(fit, alone);
    double most = fit->known > 0 ? MOST_LEFT_KNOWN : MOST_LEFT;
    return gain.fall * ease > LEAST_FALL && most_gain(fit, alone) &&
           gain.left < ease * fmax(most, pow(gain.fall, LEFT_POWER));
}

/* From two places to the better one's best place. */
static void take_better(struct sb_joint_fit *fit, const struct sb_joint_unknowns *first,
                        const struct sb_joint_unknowns *second) {
    struct sb_joint_unknowns there;
    sb_joint_restore(fit, second);
    double merit = descend_weighed(fit);
    sb_joint_save(fit, &there);
    sb_joint_restore(fit, first);
    if (descend_weighed(fit) < merit)
        return;
    sb_joint_restore(fit, &there);
    fit->cost = sb_joint_linearise(fit);
}

/* A second line beside each partial; what passed for a glide may all have been beating, so
 * it is looked for without one, too. False where one line is as good. */
static bool add_second(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns alone, gliding, freed;
    (void)descend_weighed(fit);
    sb_joint_save(fit, &alone);
    fit->slack = SEARCH_SLACK;
    fit->rounds = SEARCH_ROUNDS;
    struct gain gain = place_second(fit, &alone);
    if (is_hopeless(&gain))
        return false;
    (void)descend_weighed(fit);
    sb_joint_save(fit, &gliding);
    bool near = is_enough(fit, &alone, NEARLY);
    place_without_glide(fit, &alone);
    sb_joint_save(fit, &freed);
    if (!near && !is_enough(fit, &alone, NEARLY))
        return false;
    fit->slack = SLACK;
    fit->rounds = ROUNDS;
    take_better(fit, &gliding, &freed);
    return is_enough(fit, &alone, 1.0);
}

/* A slow glide and the pitch itself look much alike: without need there is none. */
static void do_without_glide(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns with;
    sb_joint_save(fit, &with);
    double cost = fit->cost;
    fit->no_glide = true;
    sb_joint_turn_glide_into_pitch(fit);
    sb_joint_descend(fit);
    if (fit->cost < cost + GLIDE_WORTH)
        return;
    fit->no_glide = false;
    sb_joint_restore(fit, &with);
    sb_joint_descend(fit);
}

/* False where one line is as good. */
static bool find_planes(struct sb_joint_fit *fit, struct lead *lead) {
    /* As a rule one line fits so well that there is nothing to look for. */
    double enough = LEAST_FALL * sb_joint_degrees_of_freedom(fit);
    fit->cost = sb_joint_linearise(fit);
    if (fit->cost < enough)
        return false;
    sb_joint_descend_on(fit, enough);
    if (fit->cost < enough)
        return false;
    fit->looked = true;
    if (!add_second(fit))
        return false;
    do_without_glide(fit);
    *lead = put_stronger_first(fit);
    return lead->variance < MOST_LEAD_STD * MOST_LEAD_STD;
}

bool sb_joint_refine(sb_track tracks[], size_t n, double since_pluck_s, sb_planes *planes,
                     sb_glide *glide) {
    struct sb_joint_strand strands[SB_JOINT_STRANDS];
    struct lead lead;
    for (size_t i = 0; i < n; i++)
        tracks[i].told_apart = false;
    if (planes->none || n > SB_MAX_PARTIALS)
        return false;
    size_t kept = choose(tracks, n, glide, strands);
    if (kept < FEWEST_STRANDS)
        return false;
    struct sb_joint_fit fit = begin_fit(glide, strands, kept);
    fit.since_pluck_s = since_pluck_s;
    fit.known = planes->apart;
    if (!find_planes(&fit, &lead)) {
        planes->none = fit.looked;
        return false;
    }
    planes->apart = fabs(fit.shared[DETUNE]);
    report(&fit, &lead, tracks, n, glide);
    return true;
}
