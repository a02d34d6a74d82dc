#include "audio/joint.h"

#include <math.h>
#include <string.h>

#include "audio/joint_parts.h"
#include "audio/reading.h"
#include "core/pitch.h"

enum { FREEINGS = 2 };

static const double SINCE_STD_S = 0.03; /* of the time since the pluck */
/* Over a strand's length, and of decays: beyond them no string's line. */
static const double MOST_GROWTH = 2.0, FASTEST_PER_S = 200.0;
static const double LEAD_SCATTER = 0.3; /* of partials about what they share, in ln */
/* Planes share all partials about alike; what does not is something else. */
static const double MOST_LEAD_STD = 0.6;
/* In ln; no partials of a string differ so much in what they share. */
static const double MOST_AGAINST = 0.7, FAR_OFF = 1.5, SURE_STD = 0.5;
static const double FREEING_WORTH = 16.0; /* chi-square that a better place must explain */
/* Minus twice the logarithm of odds: what a glide must be worth, and for e to one between places.
 */
static const double GLIDE_HANDICAP = 16.0, MERIT_SCALE = 16.0;
/* Relative, of all pitches: no nearer are places two; no farther is one of them found in haste. */
static const double SAME_PLACE = 3e-6, MOST_APART = 0.0012;
/* Variance over that of the linearised fit, whose decays and amplitudes are far from linear:
 * found by notes of known truth. */
static const double MODEL_EXCESS = 8.0;
/* Of a glide's amount: its shape was chosen by phases that the planes bend. By such notes, too. */
static const double SHAPE_SHARE = 0.01;

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
    sb_joint_swap_lines(fit, strand);
    strand->x[A2] = strand->x[B2] = 0;
    strand->x[D2] = old[D2];
    if (sb_joint_settle(fit, strand) > cost)
        memcpy(strand->x, old, sizeof old);
}

/* Caught beside its place: plucked in the other plane than the rest together, or much more or less
 * so than they. */
static bool is_caught(const struct lead *own, const struct lead *all) {
    return own->mean < -MOST_AGAINST ||
           (fabs(own->mean - all->mean) > FAR_OFF && own->variance < SURE_STD * SURE_STD);
}

/* Has the strands that are caught begin anew, with a line in the stronger plane alone, and all
 * descend from there. False, and all as it was, where that is no better place. */
static bool free_caught(struct sb_joint_fit *fit) {
    struct sb_joint_unknowns before;
    struct lead all = lead_of_all(fit);
    double cost = fit->cost;
    size_t caught = 0;
    sb_joint_save(fit, &before);
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        struct lead own = lead_of(fit, strand);
        if (!is_caught(&own, &all))
            continue;
        caught++;
        if (own.mean < 0)
            sb_joint_swap_lines(fit, strand);
        strand->x[A2] = strand->x[B2] = 0;
        strand->x[D1] = strand->x[D2] = strand->decay_per_s;
    }
    if (caught == 0)
        return false;
    sb_joint_descend(fit);
    bool better = 2 * caught < fit->n && fit->cost < cost - FREEING_WORTH;
    if (better)
        (void)sb_joint_reweigh(fit);
    else
        sb_joint_restore(fit, &before);
    sb_joint_descend(fit);
    return better;
}

/* The one that was plucked the harder is the partial, though the other may last longer. */
static struct lead put_stronger_first(struct sb_joint_fit *fit) {
    struct lead lead = lead_of_all(fit);
    if (lead.mean < 0) {
        for (size_t i = 0; i < fit->n; i++)
            sb_joint_swap_lines(fit, &fit->strands[i]);
        fit->shared[DETUNE] = -fit->shared[DETUNE];
    }
    fit->ordered = true;
    for (size_t i = 0; i < fit->n; i++)
        reorder(fit, &fit->strands[i]);
    sb_joint_descend(fit);
    for (int turn = 0; turn < FREEINGS && free_caught(fit); turn++)
        ;
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

static sb_glide glide_of(const struct sb_joint_fit *fit) {
    sb_glide glide = fit->unit;
    glide.gamma = fit->shared[GAMMA];
    for (size_t m = 0; m < glide.shape.terms; m++)
        glide.shape.rate_per_s[m] /= exp(fit->shared[SCALE]);
    return glide;
}

/* The glide as the fit has it; its error holds what the shared unknowns leave open. */
static void update_glide(struct sb_joint_fit *fit, double excess, sb_glide *glide) {
    *glide = glide_of(fit);
    double taken = fit->shape_gamma != 0 ? fabs(glide->gamma / fit->shape_gamma) : 0.0;
    glide->shape_std = hypot(fmin(taken, 2.0) * fit->unit.shape_std, SHAPE_SHARE * glide->gamma);
    glide->to_mean = fmin(taken, 2.0) * fit->unit.to_mean;
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
        if (tracks[i].told_apart || !sb_joint_is_strong(&tracks[i]) ||
            !sb_joint_begin_strand(&strand, &tracks[i], present, SB_JOINT_OWN_LINES))
            continue;
        one.locals = A2;
        (void)sb_joint_split_all(&one, fit->shared[DETUNE]);
        reorder(&one, &strand);
        (void)sb_joint_reweigh(&one);
        (void)sb_joint_linearise(&one);
        if (sb_joint_eliminate(&one, 0.0))
            update_track(&one, &strand, excess);
    }
}

static bool report(struct sb_joint_fit *fit, const struct lead *lead, const sb_planes *planes,
                   sb_track tracks[], size_t n, sb_glide *glide) {
    double excess = MODEL_EXCESS * sb_joint_colour(fit);
    (void)sb_joint_linearise(fit);
    if (!sb_joint_eliminate(fit, 0.0))
        return false;
    settle_others(fit, tracks, n, glide, excess);
    double odds = doubt_of(lead), apart = fit->shared[DETUNE];
    for (size_t i = 0; i < n; i++) {
        if (!tracks[i].told_apart)
            tracks[i].hz_std = hypot(tracks[i].hz_std, 0.5 * apart * tracks[i].hz);
        else /* the mean of what is possible */
            tracks[i].hz *= 1.0 + odds * apart + planes->moved;
    }
    update_glide(fit, excess, glide);
    glide->common_std = hypot(glide->common_std, sqrt(odds * (1.0 - odds)) * apart);
    glide->common_std = hypot(glide->common_std, planes->doubt);
    return true;
}

static struct sb_joint_fit begin_fit(const sb_glide *present, struct sb_joint_strand strands[],
                                     size_t n) {
    struct sb_joint_fit fit = {.n = n, .locals = A2, .strands = strands, .unit = *present};
    if (present->shape.terms == 0)
        fit.unit = sb_glide_exponential(1.0, SB_GLIDE_USUAL_S);
    fit.shape_gamma = present->gamma;
    fit.unit.gamma = 1.0;
    fit.shared[GAMMA] = present->gamma;
    return fit;
}

/* ---- places ---- */

static double off_of(const struct sb_joint_fit *fit) {
    double sum = 0, weights = 1e-300;
    for (size_t i = 0; i < fit->n; i++) {
        const struct sb_joint_strand *strand = &fit->strands[i];
        double weight = is_sane(strand) ? strand->heard * pow(strand->size * strand->hz, 2) : 0.0;
        if (weight > 0)
            sum += weight * strand->x[W] / (SB_TWO_PI * strand->hz), weights += weight;
    }
    return sum / weights;
}

/* Notes that the place which was left lies so far from the one that was taken, with such odds
 * against it: the reading is by the likelier one, and knows of the other. */
static void note_other_place(sb_planes *planes, double apart, double ln_odds) {
    double chance = 1.0 / (1.0 + exp(ln_odds));
    if (!isfinite(chance) || fabs(apart) < SAME_PLACE)
        return;
    planes->moved += chance * apart;
    planes->doubt = hypot(planes->doubt, sqrt(chance * (1.0 - chance)) * fabs(apart));
}

/* What a glide makes of planes that are known. */
struct attempt {
    double merit, off;
};

/* Leaves the strands as they were, but for what is tabled. */
static struct attempt try_glide(struct sb_joint_fit fit, const sb_glide *other, double apart) {
    struct sb_joint_unknowns from;
    sb_joint_save(&fit, &from);
    if (other)
        sb_joint_exchange_glide(&fit, other);
    double merit = sb_joint_try_planes(&fit, apart), off = off_of(&fit);
    sb_joint_restore(&fit, &from);
    return (struct attempt){merit, off};
}

/* The glide that the phases tell, planes being known, or that which the planes were found with,
 * where by far the better account of them. */
static void choose_glide(struct sb_joint_fit *fit, sb_planes *planes) {
    struct attempt told = try_glide(*fit, NULL, planes->apart),
                   found = try_glide(*fit, &planes->glide, planes->apart);
    fit->tabled = 0;
    double ln_odds = (found.merit - told.merit) / MERIT_SCALE, apart = found.off - told.off;
    bool by_found = ln_odds < -1.0;
    if (by_found)
        sb_joint_exchange_glide(fit, &planes->glide);
    if (fabs(apart) < MOST_APART)
        note_other_place(planes, by_found ? -apart : apart, by_found ? -ln_odds : ln_odds);
}

/* Where a place leads to once its lines are in order. */
struct outcome {
    struct sb_joint_unknowns at;
    struct lead lead;
    bool no_glide;
    double merit, off; /* off: of all pitches, relative */
};

static void finish(struct sb_joint_fit *fit, const struct sb_joint_unknowns *from,
                   struct outcome *out) {
    sb_joint_restore(fit, from);
    fit->no_glide = fit->ordered = false;
    fit->cost = sb_joint_linearise(fit);
    sb_joint_do_without_glide(fit);
    out->lead = put_stronger_first(fit);
    out->no_glide = fit->no_glide;
    out->off = off_of(fit) + doubt_of(&out->lead) * fit->shared[DETUNE];
    out->merit = sb_joint_reweigh(fit) + (fit->no_glide ? 0.0 : GLIDE_HANDICAP);
    sb_joint_save(fit, &out->at);
}

static bool find_planes(struct sb_joint_fit *fit, sb_planes *planes, struct lead *lead) {
    struct sb_joint_unknowns places[2];
    struct outcome outcomes[2];
    if (!sb_joint_find_second(fit, places))
        return false;
    for (size_t i = 0; i < 2; i++)
        finish(fit, &places[i], &outcomes[i]);
    const struct outcome *best = &outcomes[outcomes[1].merit < outcomes[0].merit],
                         *other = &outcomes[best == outcomes];
    note_other_place(planes, other->off - best->off, (other->merit - best->merit) / MERIT_SCALE);
    fit->no_glide = best->no_glide;
    sb_joint_restore(fit, &best->at);
    *lead = best->lead;
    return lead->variance < MOST_LEAD_STD * MOST_LEAD_STD;
}

static void note_evidence(const struct sb_joint_fit *fit, const double against[],
                          sb_planes *planes) {
    for (size_t i = 0; i <= SB_MAX_PARTIALS; i++)
        planes->against[i] = (double)NAN;
    for (size_t i = 0; i < fit->n; i++)
        planes->against[fit->strands[i].of->number] = against[i];
}

static void note_planes(struct sb_joint_fit *fit, const sb_glide *glide, sb_planes *planes) {
    double against[SB_JOINT_STRANDS];
    planes->apart = fabs(fit->shared[DETUNE]);
    planes->glide = *glide;
    if (sb_joint_account(fit, against))
        note_evidence(fit, against, planes);
}

bool sb_joint_guess_glide(sb_track tracks[], size_t n, const sb_glide *present, sb_glide *guess) {
    struct sb_joint_strand strands[SB_JOINT_STRANDS];
    size_t kept = sb_joint_choose_held(tracks, n, present, strands);
    if (kept < SB_JOINT_FEWEST)
        return false;
    struct sb_joint_fit fit = begin_fit(present, strands, kept);
    sb_joint_search_glide(&fit);
    *guess = glide_of(&fit);
    return true;
}

bool sb_joint_refine(sb_track tracks[], size_t n, double since_pluck_s, sb_planes *planes,
                     sb_glide *glide) {
    struct sb_joint_strand strands[SB_JOINT_STRANDS];
    struct lead lead;
    for (size_t i = 0; i < n; i++)
        tracks[i].told_apart = false;
    if (planes->none || n > SB_MAX_PARTIALS)
        return false;
    size_t kept = sb_joint_choose(tracks, n, glide, strands);
    if (kept < SB_JOINT_FEWEST)
        return false;
    struct sb_joint_fit fit = begin_fit(glide, strands, kept);
    planes->moved = planes->doubt = 0;
    fit.since_pluck_s = since_pluck_s;
    fit.known = planes->apart;
    if (planes->apart > 0 && (glide->gamma != 0 || planes->glide.gamma != 0))
        choose_glide(&fit, planes);
    if (!find_planes(&fit, planes, &lead) || !report(&fit, &lead, planes, tracks, n, glide)) {
        planes->none = fit.looked;
        note_evidence(&fit, fit.alone, planes);
        return false;
    }
    note_planes(&fit, glide, planes);
    return true;
}
