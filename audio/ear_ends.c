#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/ear_parts.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { BLOCK = 32 };

/* Beyond the ends by this many times the filter's reach: the second half fades out. */
static const double REACHES = 2.0;
/* Where the ends are more than this part of the note, what is measured with them in sight
 * continues it better than what was measured without. */
static const double TWICE_SHARE = 0.1;

/* Adds the real parts of a line's ends, which are continued alike, to before[] and after[0..n-1],
 * the sample next to the edge first. The growth wears off, or what decays fast would explode before
 * the note. */
static void continue_line(const struct moment ends[2], double rate_hz, float before[],
                          float after[], size_t n) {
    double wears_off_s = 0.5 * (double)n / rate_hz;
    double turn[2] = {SB_TWO_PI * ends[0].hz / rate_hz, SB_TWO_PI * ends[1].hz / rate_hz};
    sb_pair c = {cos(turn[0]), cos(turn[1])}, s = {sin(turn[0]), sin(turn[1])};
    sb_pair re = {ends[0].value.re, ends[1].value.re}, im = {ends[0].value.im, ends[1].value.im};
    for (size_t k = 0; k < n; k += BLOCK) {
        double since_s = ((double)k + 0.5 * BLOCK) / rate_hz, worn = exp(-since_s / wears_off_s);
        sb_pair size = {exp(ends[0].growth_per_s * worn / rate_hz),
                        exp(ends[1].growth_per_s * worn / rate_hz)};
        sb_pair by_re = size * c, by_im = size * s;
        for (size_t j = k; j < k + BLOCK && j < n; j++) {
            sb_pair next = re * by_re - im * by_im;
            im = re * by_im + im * by_re;
            re = next;
            before[j] += (float)re[0];
            after[j] += (float)re[1];
        }
    }
}

struct moment sb_ear_line_at(const sb_track *track, const sb_line *line, const sb_glide *glide,
                             double t_s) {
    double since_s = t_s - track->band.t0_s, ahead_s;
    sb_glide_ahead(glide, t_s, 1.0, 1, &ahead_s);
    double turns = line->hz * since_s + track->band.centre_hz * t_s + track->hz * ahead_s;
    double angle = SB_TWO_PI * turns, size = exp(-line->decay_per_s * since_s);
    return (struct moment){
        .value = sb_cpx_times((sb_cpx){line->re, line->im},
                              (sb_cpx){size * cos(angle), size * sin(angle)}),
        .hz = track->band.centre_hz + line->hz + sb_glide_shift(glide, t_s) * track->hz,
        .growth_per_s = -line->decay_per_s,
    };
}

/* A foreign line between two partials is in the bands of both: it counts in the nearer's. */
bool sb_ear_line_counts(const sb_track *track, size_t j, double spacing_hz) {
    return fabs(track->lines[j].hz - track->lines[0].hz) < 0.5 * spacing_hz;
}

static void fade(float out[], size_t n) {
    for (size_t k = n / 2; k < n; k++) {
        double x = 2.0 * (double)k / (double)n - 1.0;
        out[k] *= (float)(0.5 + 0.5 * cos(0.5 * SB_TWO_PI * x));
    }
}

static void reverse(float x[], size_t n) {
    for (size_t k = 0; k < n / 2; k++) {
        float kept = x[k];
        x[k] = x[n - 1 - k];
        x[n - 1 - k] = kept;
    }
}

static void continue_sound(sb_ear *ear, double spacing_hz, double span_s, size_t n) {
    const struct heard *now = &ear->now;
    memset(ear->before, 0, n * sizeof ear->before[0]);
    memset(ear->after, 0, n * sizeof ear->after[0]);
    for (size_t i = 0; i < now->n_tracks; i++) {
        const sb_track *track = &now->tracks[i];
        for (size_t j = 0; j < track->n_lines; j++) {
            if (!sb_ear_line_counts(track, j, spacing_hz))
                continue;
            double last_s = span_s - 1.0 / ear->rate_hz;
            struct moment ends[2] = {sb_ear_line_at(track, &track->lines[j], &now->glide, 0.0),
                                     sb_ear_line_at(track, &track->lines[j], &now->glide, last_s)};
            ends[0].hz = -ends[0].hz;
            ends[0].growth_per_s = -ends[0].growth_per_s;
            continue_line(ends, ear->rate_hz, ear->before, ear->after, n);
        }
    }
    fade(ear->before, n);
    fade(ear->after, n);
    reverse(ear->before, n);
}

bool sb_ear_see_ends(sb_ear *ear, double spacing_hz, double span_s) {
    size_t stride = sb_spectrum_stride(ear->spectrum);
    double beyond_s = REACHES * sb_spectrum_reach_s(ear->spectrum, spacing_hz);
    size_t n = (size_t)(beyond_s * ear->rate_hz) / stride * stride;
    if (n > ear->beyond_max)
        return false;
    for (int round = 0; round < (beyond_s > TWICE_SHARE * span_s ? 2 : 1); round++) {
        continue_sound(ear, spacing_hz, span_s, n);
        if (!sb_spectrum_continue(ear->spectrum, ear->before, n, ear->after, n))
            return false;
        for (size_t i = 0; i < ear->now.n_tracks; i++)
            sb_track_cut_again(&ear->now.tracks[i], ear->spectrum, &ear->now.glide, spacing_hz);
    }
    return true;
}
