#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/ear_parts.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { BLOCK = 64 };

/* Beyond the ends by this many times the filter's reach: the second half fades out. */
static const double REACHES = 2.0;
/* Where the ends are more than this part of the note, what is measured with them in sight
 * continues it better than what was measured without. */
static const double TWICE_SHARE = 0.1;

/* Adds a line's real part beyond its end, told outward, to out[0..n-1], the sample next to the edge
 * first; n is a multiple of SB_LANES. The growth wears off, or what decays fast would explode
 * before the note. A block begins in double precision and goes on with SB_LANES samples at once. */
static void continue_line(struct moment end, double rate_hz, float out[], size_t n) {
    double wears_off = 0.5 * (double)n, turn = SB_TWO_PI * end.hz / rate_hz;
    double worn = exp(-0.5 * BLOCK / wears_off), wear = exp(-BLOCK / wears_off);
    sb_cpx unit = {cos(turn), sin(turn)};
    for (size_t k = 0; k < n; k += BLOCK, worn *= wear) {
        double size = exp(end.growth_per_s * worn / rate_hz);
        sb_cpx step = {size * unit.re, size * unit.im}, power = {1.0, 0.0};
        sb_lanes re, im;
        for (size_t i = 0; i < SB_LANES; i++) {
            power = sb_cpx_times(power, step);
            sb_cpx value = sb_cpx_times(end.value, power);
            re[i] = (float)value.re, im[i] = (float)value.im;
        }
        sb_lanes by_re = sb_lanes_all((float)power.re), by_im = sb_lanes_all((float)power.im);
        for (size_t j = k; j < k + BLOCK && j < n; j += SB_LANES) {
            sb_lanes sum = sb_lanes_load(out + j) + re, next = re * by_re - im * by_im;
            memcpy(out + j, &sum, sizeof sum);
            im = re * by_im + im * by_re;
            re = next;
        }
        for (size_t i = SB_LANES; i < BLOCK; i *= 2)
            power = sb_cpx_times(power, power);
        end.value = sb_cpx_times(end.value, power);
    }
}

size_t sb_ear_sounds(const sb_track *track) {
    return track->n_lines + track->n_apart;
}

const sb_line *sb_ear_sound(const sb_track *track, size_t j) {
    return j < track->n_lines ? &track->lines[j] : &track->apart[j - track->n_lines];
}

struct moment sb_ear_sound_at(const sb_track *track, size_t j, const sb_glide *glide, double t_s) {
    const sb_glide none = {0}, *own = j < track->n_lines ? glide : &none;
    const sb_line *line = sb_ear_sound(track, j);
    double since_s = t_s - track->band.t0_s, ahead_s;
    sb_glide_ahead(own, track->number, t_s, 1.0, 1, &ahead_s);
    double turns = line->hz * since_s + track->band.centre_hz * t_s + track->hz * ahead_s;
    double angle = SB_TWO_PI * turns, size = exp(-line->decay_per_s * since_s);
    return (struct moment){
        .value = sb_cpx_times((sb_cpx){line->re, line->im},
                              (sb_cpx){size * cos(angle), size * sin(angle)}),
        .hz =
            track->band.centre_hz + line->hz + sb_glide_shift(own, track->number, t_s) * track->hz,
        .growth_per_s = -line->decay_per_s,
    };
}

bool sb_ear_sound_counts(const sb_track *track, size_t j, double spacing_hz) {
    return fabs(sb_ear_sound(track, j)->hz - track->lines[0].hz) < 0.5 * spacing_hz;
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
        for (size_t j = 0; j < sb_ear_sounds(track); j++) {
            /* What dies so fast would have been so loud before the note that, with that in sight,
             * it would be taken for louder still. */
            if (!sb_ear_sound_counts(track, j, spacing_hz) ||
                sb_ear_sound(track, j)->decay_per_s > SB_EAR_FASTEST_PER_S)
                continue;
            double last_s = span_s - 1.0 / ear->rate_hz;
            struct moment first = sb_ear_sound_at(track, j, &now->glide, 0.0);
            struct moment last = sb_ear_sound_at(track, j, &now->glide, last_s);
            first.hz = -first.hz;
            first.growth_per_s = -first.growth_per_s;
            continue_line(first, ear->rate_hz, ear->before, n);
            continue_line(last, ear->rate_hz, ear->after, n);
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
