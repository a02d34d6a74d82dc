#include <math.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

/* What the tracks show of a glide: their phases as time shifts, and how much each is to say. */

enum { FEWEST_BLOCKS = 3 };

static const double NEIGHBOUR_COSTS = 30.0, NEAR_CYCLES = 2.5; /* cycles over the band */
static const double SAMPLE_SNR = 8.0; /* below it a phase may slip a turn */
static const double LOUD_SHARE = 0.05;
static const double LEAST_ENERGY_SNR = 140.0;

/* Unwrapped phase of the partial as a time shift u(t), weights |z|^2 hz^2/noise, up to
 * where it sinks toward the noise. Returns how many samples hold. */
static size_t time_shift(const sb_track *track, const sb_glide *present, double u[], double w[]) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX], previous = 0, phase = 0;
    double ahead_s[SB_BAND_MAX];
    const sb_band *band = &track->band;
    sb_lines_subtract(band, track->lines + 1, track->n_lines - 1, re, im);
    sb_glide_ahead(present, track->number, band->t0_s, band->step_s, band->n, ahead_s);
    double rotate = SB_TWO_PI * track->lines[0].hz * band->step_s, peak2 = 0;
    for (size_t k = 0; k < band->n; k++)
        peak2 = fmax(peak2, re[k] * re[k] + im[k] * im[k]);
    /* A glide not yet taken out leaves so much over that it passes for noise. */
    double noise = sb_track_sample_noise(track), turn2 = pow(SB_TWO_PI * track->hz, 2);
    double least2 = fmin(SAMPLE_SNR * noise, LOUD_SHARE * peak2);
    for (size_t k = 0; k < band->n; k++) {
        double size2 = re[k] * re[k] + im[k] * im[k];
        if (size2 < least2)
            return k;
        double angle = atan2(im[k], re[k]);
        double turn = k ? angle - previous - rotate : angle;
        phase += turn - SB_TWO_PI * floor(turn / SB_TWO_PI + 0.5);
        previous = angle;
        u[k] = phase / (SB_TWO_PI * track->hz) + ahead_s[k];
        w[k] = size2 * turn2 / (0.5 * noise);
    }
    return band->n;
}

/* Whether another line lies so near to the partial that the two together may bend as a glide does,
 * and have taken it up. */
static bool has_near_line(const sb_track *track) {
    double span_s = (double)track->band.n * track->band.step_s;
    for (size_t j = 1; j < track->n_lines; j++)
        if (fabs(track->lines[j].hz - track->lines[0].hz) * span_s < NEAR_CYCLES)
            return true;
    return false;
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

void sb_glide_weigh_less(struct sb_glide_seen *seen, size_t i, double by) {
    struct sb_glide_sums *sums = &seen->track[i].sums;
    for (size_t k = 0; k < seen->track[i].held; k++)
        seen->track[i].w[k] *= by;
    sums->w *= by, sums->t *= by, sums->tt *= by;
    sums->u *= by, sums->ut *= by, sums->uu *= by;
}

static void add_shift(struct sb_glide_sums *sum, double w, double t, double u) {
    double wu = w * u;
    sum->w += w, sum->t += w * t, sum->tt += w * t * t;
    sum->u += wu, sum->ut += wu * t, sum->uu += wu * u;
}

void sb_glide_gather(const sb_track tracks[], size_t n, const sb_glide *present,
                     struct sb_glide_seen *seen) {
    double u[SB_BAND_MAX] = {0}, w[SB_BAND_MAX] = {0};
    size_t chosen[SB_GLIDE_TRACKS], kept = sb_glide_choose(tracks, n, worth_of, chosen);
    seen->n = seen->longest = 0;
    seen->end_s = 0;
    for (size_t i = 0; i < kept; i++) {
        const sb_track *track = &tracks[chosen[i]];
        size_t blocks = time_shift(track, present, u, w) / SB_GLIDE_BLOCK;
        seen->track[seen->n].number = track->number;
        seen->track[seen->n].held = blocks;
        seen->track[seen->n].turn = SB_TWO_PI * track->hz;
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
        if (has_near_line(track))
            sb_glide_weigh_less(seen, seen->n, 1.0 / NEIGHBOUR_COSTS);
        seen->longest = blocks > seen->longest ? blocks : seen->longest;
        seen->end_s = fmax(seen->end_s, seen->track[seen->n].t0_s +
                                            (double)blocks * seen->track[seen->n].step_s);
        seen->n++;
    }
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
    sb_glide_gather(tracks, n, &none, &seen);
    for (size_t i = 0; i < seen.n; i++) {
        size_t held = seen.track[i].held, at = kept++;
        double size = fabs(slope_of(&seen, i, held / 2, held) - slope_of(&seen, i, 0, held / 2));
        for (; at > 0 && moved[at - 1] > size; at--)
            moved[at] = moved[at - 1];
        moved[at] = size;
    }
    return kept ? SB_CENTS_PER_LN * moved[kept / 2] : 0.0;
}
