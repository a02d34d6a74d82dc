#include "audio/ear_parts.h"

#include <math.h>

#include "core/levels.h"
#include "core/pitch.h"

/* Lines within this of a harmonic of the mains are hum; and another string's are at least so
 * strong. */
static const double HUM_REACH_HZ = 1.5, STRING_SHARE = 0.05;
static const double EVEN_SHARE = 0.03;
static const double WEAK_ENERGY_SNR = 70.0;

static bool line_is_hum(const sb_ear *ear, const sb_track *track, size_t j) {
    return sb_hum_at(&ear->hum, track->band.centre_hz + sb_ear_sound(track, j)->hz, HUM_REACH_HZ) !=
           0;
}

/* The partial's other plane's, not hum that happens to lie there. */
static bool is_beat(const sb_ear *ear, const sb_track *track, size_t j) {
    return sb_track_other_plane(track, j) && !line_is_hum(ear, track, j);
}

static double apart_cents(const sb_track *track, size_t j) {
    return SB_CENTS_PER_LN * fabs(track->lines[j].hz - track->lines[0].hz) / track->hz;
}

/* Another line in a partial's band: its other polarisation when it lies within a few cents,
 * else another string's, but for hum and for what is too faint to matter. */
static unsigned company_of(const sb_ear *ear, const sb_track *track) {
    unsigned flags = 0;
    const sb_line *own = &track->lines[0];
    for (size_t j = 1; j < sb_ear_sounds(track); j++) {
        const sb_line *line = sb_ear_sound(track, j);
        if (line_is_hum(ear, track, j))
            continue;
        if (j < track->n_lines && sb_track_other_plane(track, j))
            flags |= SB_PARTIAL_BEATING;
        else if (hypot(line->re, line->im) > STRING_SHARE * hypot(own->re, own->im))
            flags |= SB_PARTIAL_OTHER_STRING;
    }
    return flags;
}

static unsigned flags_of(const sb_ear *ear, const sb_track *track, const sb_series_point *point) {
    unsigned flags = company_of(ear, track);
    bool off = point->pulled || (point->left_out && point->weight == 0);
    if (off && track->energy_snr >= WEAK_ENERGY_SNR)
        flags |= SB_PARTIAL_PULLED;
    if (sb_hum_at(&ear->hum, track->hz, HUM_REACH_HZ))
        flags |= SB_PARTIAL_HUM;
    if (track->energy_snr < WEAK_ENERGY_SNR)
        flags |= SB_PARTIAL_WEAK;
    return flags;
}

static void report_partials(const sb_ear *ear, sb_reading *out) {
    out->n_partials = ear->now.n_tracks;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        const sb_line *line = &track->lines[0];
        out->partials[i] =
            (sb_partial){.number = track->number,
                         .hz = track->hz * (1.0 + ear->now.glide.to_mean),
                         .std_error_cents = ear->now.points[i].std_cents,
                         .level_dbfs = sb_power_db(0.5 * sb_ear_partial_power(track)),
                         .decay_per_s = line->decay_per_s,
                         .departure_cents = ear->now.points[i].departure_cents,
                         .weight = ear->now.points[i].weight,
                         .flags = flags_of(ear, track, &ear->now.points[i])};
    }
}

/* How far a partial's other plane lies off, times its part of the amplitude. */
static double beating_of(const sb_ear *ear, const sb_track *track) {
    const sb_line *own = &track->lines[0];
    double most = 0;
    for (size_t j = 1; j < track->n_lines; j++) {
        const sb_line *line = &track->lines[j];
        if (!is_beat(ear, track, j))
            continue;
        double ratio = fmin(hypot(line->re, line->im) / hypot(own->re, own->im), 1.0);
        most = fmax(most, ratio * apart_cents(track, j));
    }
    return most;
}

static double mean_beating(const sb_ear *ear) {
    double sum = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        sum += ear->now.points[i].weight * beating_of(ear, &ear->now.tracks[i]);
    return sum;
}

/* Where both planes are about as strong nothing tells which of them a player goes by: what that
 * may be off, the odds of a wrong choice falling steeply with the other's share of the power. */
static double plane_doubt(const sb_ear *ear) {
    double wrong = 0, cents = 0, all = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double own = sb_ear_partial_power(track), weight = ear->now.points[i].weight;
        for (size_t j = 1; j < track->n_lines; j++) {
            const sb_line *line = &track->lines[j];
            if (track->told_apart || !is_beat(ear, track, j))
                continue;
            double power = line->re * line->re + line->im * line->im;
            double share = power / (power + own);
            wrong += weight / (1.0 + exp((0.5 - share) / EVEN_SHARE));
            cents += weight * apart_cents(track, j);
            all += weight;
        }
    }
    if (!(all > 0))
        return 0.0;
    double odds = fmin(wrong / all, 1.0);
    return fmin(all, 1.0) * cents / all * sqrt(odds * (1.0 - odds));
}

void sb_ear_report(const sb_ear *ear, const sb_series_fit *fit, sb_reading *out) {
    double shared_std = hypot(ear->now.glide.common_std, ear->now.hidden_std);
    double common_cents = hypot(SB_CENTS_PER_LN * shared_std, plane_doubt(ear));
    double to_mean = 1.0 + ear->now.glide.to_mean;
    out->hz = to_mean * fit->sounding_hz;
    out->inharmonicity = fmax(fit->inharmonicity, 0.0);
    out->inharmonicity_std_error = fit->inharmonicity_std;
    out->octave_partial_hz = to_mean * sb_series_hz(fit->f0_hz, fit->inharmonicity, 2);
    out->std_error_cents = hypot(fit->sounding_std_cents, common_cents);
    out->common_std_error_cents = common_cents;
    out->scatter_cents = fit->scatter_cents;
    out->beating_cents = mean_beating(ear);
    out->glide_cents = SB_CENTS_PER_LN * log1p(ear->now.glide.gamma);
    report_partials(ear, out);
}
