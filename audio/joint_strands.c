/* What partials go into a joint fit, and which of their samples. */
#include "audio/joint_parts.h"

#include <math.h>

#include "audio/cpx.h"
#include "audio/reading.h"
#include "core/pitch.h"

static const double LEAST_ENERGY_SNR = 70.0;
static const double HELD_SHARE = 0.5; /* of what a band lets through */

/* Averages `block` samples of what it holds. */
static void fill(struct sb_joint_strand *strand, size_t block, enum sb_joint_held held) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    const sb_track *track = strand->of;
    const sb_band *band = &track->band;
    sb_line foreign[SB_LINES_MAX];
    size_t n_foreign = 0;
    for (size_t j = 1; held == SB_JOINT_OWN_LINES && j < track->n_lines; j++)
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

bool sb_joint_begin_strand(struct sb_joint_strand *strand, sb_track *track, const sb_glide *present,
                           enum sb_joint_held held) {
    const sb_band *band = &track->band;
    size_t block = (band->n + SB_JOINT_POINTS - 1) / SB_JOINT_POINTS;
    if (block < 4)
        block = 4;
    *strand = (struct sb_joint_strand){.of = track, .n = band->n / block, .hz = track->hz};
    if (strand->n < 8)
        return false;
    strand->step_s = (double)block * band->step_s;
    strand->t0_s = band->t0_s + 0.5 * (double)(block - 1) * band->step_s;
    strand->weight = strand->heard = 2.0 * (double)block / sb_track_sample_noise(track);
    fill(strand, block, held);
    sb_glide_ahead(present, track->number, strand->t0_s, strand->step_s, strand->n,
                   strand->ahead_s);
    const sb_line *line = &track->lines[0];
    strand->size = hypot(line->re, line->im);
    strand->x[A1] = line->re;
    strand->x[B1] = line->im;
    strand->x[D1] = line->decay_per_s;
    strand->x[D2] = fmax(line->decay_per_s, 0.1);
    strand->decay_per_s = fmax(line->decay_per_s, 0.1);
    return true;
}

bool sb_joint_is_strong(const sb_track *track) {
    return track->n_lines > 0 && track->energy_snr >= LEAST_ENERGY_SNR;
}

size_t sb_joint_choose(sb_track tracks[], size_t n, const sb_glide *present,
                       struct sb_joint_strand strands[SB_JOINT_STRANDS]) {
    bool taken[SB_MAX_PARTIALS] = {false};
    size_t kept = 0;
    while (kept < SB_JOINT_STRANDS) {
        size_t best = n;
        double worth = 0;
        for (size_t i = 0; i < n && i < SB_MAX_PARTIALS; i++) {
            double w = tracks[i].energy_snr * tracks[i].hz * tracks[i].hz;
            if (!taken[i] && sb_joint_is_strong(&tracks[i]) && w > worth)
                worth = w, best = i;
        }
        if (best == n)
            break;
        taken[best] = true;
        kept += sb_joint_begin_strand(&strands[kept], &tracks[best], present, SB_JOINT_OWN_LINES);
    }
    return kept;
}

size_t sb_joint_choose_held(sb_track tracks[], size_t n, const sb_glide *present,
                            struct sb_joint_strand strands[SB_JOINT_STRANDS]) {
    size_t kept = 0;
    for (size_t i = 0; i < n && kept < SB_JOINT_STRANDS; i++) {
        sb_track *track = &tracks[i];
        bool held = track->hz * fabs(present->gamma) < HELD_SHARE * track->band.pass_hz;
        if (sb_joint_is_strong(track) && (held || kept < SB_JOINT_FEWEST))
            kept += sb_joint_begin_strand(&strands[kept], track, present, SB_JOINT_ALL_LINES);
    }
    return kept;
}
