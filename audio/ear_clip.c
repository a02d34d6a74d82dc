#include <math.h>
#include <string.h>

#include "audio/ear_parts.h"
#include "core/pitch.h"

/* What of a note is overloaded is missing, but for its sign and for its being more than the limit:
 * it is filled in by what is known of the note, in turns with the measurement of it. Missing
 * samples filled in by turns with the model that they are filled in by: Janssen, Veldhuis & Vries,
 * IEEE Trans. Acoust. Speech Signal Process. 34, 317, 1986, with damped lines for their
 * autoregression. */

enum { BLOCK = 32 };

/* The overloaded samples from..to-1, between two that are not. */
struct gap {
    size_t from, to;
    double limit; /* signed */
};

static bool over(const sb_clip_limits *limits, double x) {
    return x >= limits->high || x <= limits->low;
}

/* The first gap at or after `at` that has sound on both sides. */
static bool next_gap(const sb_clip_limits *limits, const float samples[], size_t n, size_t at,
                     struct gap *gap) {
    while (at < n && !over(limits, (double)samples[at]))
        at++;
    gap->from = at;
    while (at < n && over(limits, (double)samples[at]))
        at++;
    gap->to = at;
    if (at >= n)
        return false;
    gap->limit = (double)samples[gap->from];
    return gap->from >= 2 || next_gap(limits, samples, n, at, gap);
}

static double beyond(double limit, double x) {
    return limit > 0 ? fmax(limit, x) : fmin(limit, x);
}

/* A cubic with the feet's values and slopes. */
static void arch(const struct gap *gap, const float samples[], size_t n, float out[]) {
    size_t a = gap->from - 1, b = gap->to;
    double width = (double)(b - a), left = (double)samples[a], right = (double)samples[b];
    double rise = left - (double)samples[a - 1];
    double fall = b + 1 < n ? (double)samples[b + 1] - right : 0.0;
    for (size_t k = gap->from; k < gap->to; k++) {
        double u = (double)(k - a) / width, v = 1.0 - u;
        double x = v * v * (1.0 + 2.0 * u) * left + u * u * (1.0 + 2.0 * v) * right +
                   width * u * v * (v * rise - u * fall);
        out[k] = (float)beyond(gap->limit, x);
    }
}

double sb_ear_mend(sb_ear *ear, const float samples[], size_t n) {
    struct gap gap = {0};
    size_t filled = 0;
    ear->limits = sb_clip_limits_of(samples, n);
    memcpy(ear->mended, samples, n * sizeof samples[0]);
    while (next_gap(&ear->limits, samples, n, gap.to, &gap)) {
        arch(&gap, samples, n, ear->mended);
        filled += gap.to - gap.from;
    }
    return (double)filled / (double)n;
}

static void add_line(struct moment line, double rate_hz, double out[], size_t n) {
    double size = exp(line.growth_per_s / rate_hz), turn = SB_TWO_PI * line.hz / rate_hz;
    sb_cpx by = {size * cos(turn), size * sin(turn)};
    for (size_t k = 0; k < n; k++) {
        out[k] += line.value.re;
        line.value = sb_cpx_times(line.value, by);
    }
}

/* The note's lines from sample `from` on, to out[0..n-1]. */
static void sound_of(const sb_ear *ear, double spacing_hz, size_t from, double out[], size_t n) {
    const struct heard *now = &ear->now;
    double from_s = (double)from / ear->rate_hz;
    memset(out, 0, n * sizeof out[0]);
    for (size_t i = 0; i < now->n_tracks; i++) {
        const sb_track *track = &now->tracks[i];
        for (size_t j = 0; j < sb_ear_sounds(track); j++)
            if (sb_ear_sound_counts(track, j, spacing_hz))
                add_line(sb_ear_sound_at(track, j, &now->glide, from_s), ear->rate_hz, out, n);
    }
}

/* What the lines leave of the sample `at`. */
static double left_at(const sb_ear *ear, const float samples[], double spacing_hz, size_t at) {
    double model;
    sound_of(ear, spacing_hz, at, &model, 1);
    return (double)samples[at] - model;
}

static void fill(sb_ear *ear, const struct gap *gap, const float samples[], double spacing_hz,
                 double step) {
    size_t a = gap->from - 1, b = gap->to;
    double left = left_at(ear, samples, spacing_hz, a),
           right = left_at(ear, samples, spacing_hz, b);
    for (size_t k = gap->from; k < gap->to; k += BLOCK) {
        double model[BLOCK];
        size_t n = gap->to - k < BLOCK ? gap->to - k : BLOCK;
        sound_of(ear, spacing_hz, k, model, n);
        for (size_t j = 0; j < n; j++) {
            double u = (double)(k + j - a) / (double)(b - a);
            double x = model[j] + (1.0 - u) * left + u * right;
            double was = (double)ear->mended[k + j];
            ear->mended[k + j] = (float)beyond(gap->limit, was + step * (x - was));
        }
    }
}

void sb_ear_mend_again(sb_ear *ear, const float samples[], size_t n, double spacing_hz,
                       double step) {
    struct gap gap = {0};
    while (next_gap(&ear->limits, samples, n, gap.to, &gap))
        fill(ear, &gap, samples, spacing_hz, step);
}
