/* Does the pitch come to rest? A string's own glide is its tension's, which falls with the energy
 * that stretches it: it goes down only, ever more slowly, and is so small that, however long it
 * lasts, it cannot be fast late. One of G cents at the pluck that dies with a time constant T moves
 * by G/T exp(-t/T) cents/s, at most G/(e t) whatever T is, and so does any blend of such. A pitch
 * that all partials say falls faster, or that rises, or that departs by a good part of that from
 * the glide that was told of it, is a finger's, a bend's, an arm's or a recorder's doing. */
#include <math.h>
#include <string.h>

#include "audio/ear_parts.h"
#include "core/order.h"
#include "core/pitch.h"

/* LOW: so many of the lowest are asked by themselves too, for the high ones leave their bands
 * first where the pitch moves far. */
enum { FEWEST = 3, LOW = 4, LEAST_SAMPLES = 15 };

static const double EULER = 2.718281828459045;
static const double LARGEST_GLIDE_CENTS = 25.0; /* at the pluck; a hard one has 20 */
/* Of the fastest fall: what may rise, or depart from the glide told. Two planes that beat alike in
 * all partials seem to move by a tenth of it. */
static const double SHARE_NOT_TOLD = 0.125;
static const double SHORTEST_S = 0.08, LEAST_COVERED = 0.95;
static const double USEFUL_ENERGY_SNR = 30.0;
/* Of a partial's highest: later it is another's sound. Nor is it heard down to where a phase may
 * slip a turn, unless the noise seems so high because the pitch moves. */
static const double LEAST_POWER = 1e-3, SAMPLE_SNR = 8.0, LOUD_SHARE = 0.05;
static const double SIGMAS = 3.0, MEDIAN_CHI_SQUARE = 0.455; /* of one degree of freedom */
static const double TELLING_SHARE = 0.3; /* of the fastest fall: a speed's error, to be of use */
/* How far the partials may differ: by more, the fewer they are, for few agree by chance. */
static const double APART = 1.0, APART_FEW = 9.0;

/* Noise variance of a sample of unit power, by the median of second differences over as many
 * samples as the band's filter makes alike: unlike what the lines leave, it hardly sees movement.
 */
static double noise_of(const struct path *path, double pass_hz) {
    double sizes[SB_BAND_MAX];
    size_t lag = (size_t)ceil(0.5 / (pass_hz * path->step_s)), n = 0;
    for (size_t k = lag; k + lag < path->n; k++) {
        const double *u = path->left + k, *w = path->power + k;
        double second = u[lag] - 2.0 * u[0] + *(u - lag);
        double variance = 1.0 / w[lag] + 4.0 / w[0] + 1.0 / *(w - lag);
        sizes[n++] = second * second / variance;
    }
    return n > 0 ? sb_median(sizes, n) / MEDIAN_CHI_SQUARE : (double)INFINITY;
}

static void follow(const sb_track *track, const sb_glide *out, struct path *path) {
    const sb_band *band = &track->band;
    double phase = 0, previous = 0, top = 0;
    double rotate = SB_TWO_PI * track->lines[0].hz * band->step_s, turn = SB_TWO_PI * track->hz;
    path->n = band->n, path->t0_s = band->t0_s, path->step_s = band->step_s;
    sb_glide_ahead(out, band->t0_s, band->step_s, band->n, path->all);
    for (size_t k = 0; k < band->n; k++) {
        double re = band->re[k], im = band->im[k], angle = atan2(im, re);
        double by = k ? angle - previous - rotate : 0.0;
        phase += by - SB_TWO_PI * floor(by / SB_TWO_PI + 0.5);
        previous = angle;
        path->left[k] = phase / turn;
        path->all[k] += path->left[k];
        path->power[k] = re * re + im * im;
        top = fmax(top, path->power[k]);
    }
    double least = fmax(fmin(SAMPLE_SNR * track->noise, LOUD_SHARE * top), LEAST_POWER * top);
    while (path->n > 0 && path->power[path->n - 1] < least)
        path->n--;
    path->noise = fmin(0.5 * track->noise / (turn * turn), noise_of(path, band->pass_hz));
}

struct figure {
    double value, variance;
};

/* Slope of u[0..n-1] against time, louder samples counting for more, and its variance by what a
 * straight line leaves of them, or by the noise if that is more: they are few. */
static struct figure slope_of(const double u[], const double power[], size_t n,
                              const struct path *path) {
    double step_s = path->step_s;
    double w = 0, t = 0, tt = 0, y = 0, yt = 0, yy = 0;
    for (size_t k = 0; k < n; k++) {
        double x = (double)k * step_s, wy = power[k] * (u[k] - u[0]);
        w += power[k], t += power[k] * x, tt += power[k] * x * x;
        y += wy, yt += wy * x, yy += wy * (u[k] - u[0]);
    }
    double own = tt - t * t / w, lean = yt - t * y / w;
    double left = yy - y * y / w - lean * lean / own;
    return (struct figure){lean / own, fmax(left / (double)(n - 2), path->noise) / own};
}

/* By how many cents/s the pitch moves over samples from..to-1: the last third against the first,
 * so that what lies between may be a step. Band samples are not independent: their errors are
 * taken to be twice what they seem in variance. */
static struct figure speed_of(const struct path *path, const double u[], size_t from, size_t to) {
    size_t third = (to - from) / 3, last = to - third;
    struct figure a = slope_of(u + from, path->power + from, third, path);
    struct figure b = slope_of(u + last, path->power + last, third, path);
    double scale = SB_CENTS_PER_LN / ((double)(last - from) * path->step_s);
    return (struct figure){scale * (b.value - a.value),
                           2.0 * scale * scale * (a.variance + b.variance)};
}

/* The speed that all of them have at least, signed; 0 where they do not agree. */
static double agreed(const struct figure speeds[], size_t n) {
    double sorted[SB_EAR_PATHS], noise = 0, count = (double)n;
    if (n < FEWEST)
        return 0.0;
    for (size_t i = 0; i < n; i++)
        sorted[i] = speeds[i].value, noise += speeds[i].variance;
    double middle = sb_median(sorted, n);
    for (size_t i = 0; i < n; i++)
        sorted[i] = fabs(speeds[i].value - middle);
    double apart = (APART + APART_FEW / count) * sb_kth_smallest(sorted, n, (3 * n - 1) / 4);
    double doubt = hypot(apart, SIGMAS * sqrt(noise) / count);
    return copysign(fmax(fabs(middle) - doubt, 0.0), middle);
}

struct stretch {
    double from_s, length_s;
};

/* What the paths say of a stretch of the note: how fast the pitch moves, and the part of it that
 * was not told as a glide. */
struct said {
    struct figure all[SB_EAR_PATHS], left[SB_EAR_PATHS];
    size_t n, low;
};

static void ask(const struct path paths[], size_t n, struct stretch at, double fastest,
                struct said *said) {
    double most = pow(TELLING_SHARE * fastest, 2);
    said->n = said->low = 0;
    for (size_t i = 0; i < n; i++) {
        const struct path *path = &paths[i];
        double first = fmax((at.from_s - path->t0_s) / path->step_s, 0.0);
        double end = (at.from_s + at.length_s - path->t0_s) / path->step_s;
        end = fmin(end, (double)path->n);
        if (end - first < LEAST_SAMPLES ||
            (end - first) * path->step_s < LEAST_COVERED * at.length_s)
            continue;
        struct figure all = speed_of(path, path->all, (size_t)first, (size_t)end);
        struct figure left = speed_of(path, path->left, (size_t)first, (size_t)end);
        if (!(fmin(all.variance, left.variance) <= most) || !isfinite(all.value) ||
            !isfinite(left.value))
            continue;
        said->all[said->n] = all;
        said->left[said->n++] = left;
        if (i < LOW)
            said->low = said->n;
    }
}

static bool beyond(const struct said *said, size_t n, double fastest) {
    double speed = agreed(said->all, n), not_told = agreed(said->left, n);
    return -speed > fastest || fmax(speed, fabs(not_told)) > SHARE_NOT_TOLD * fastest;
}

static bool moves_in(const sb_ear *ear, size_t n, struct stretch at) {
    struct said said;
    double since_s = ear->since_pluck_s + at.from_s + 0.5 * at.length_s;
    double fastest = LARGEST_GLIDE_CENTS / (EULER * since_s);
    ask(ear->paths, n, at, fastest, &said);
    return beyond(&said, said.n, fastest) || beyond(&said, said.low, fastest);
}

bool sb_ear_moves(sb_ear *ear, double span_s) {
    double from_s = 0, to_s = span_s;
    size_t n = 0;
    for (size_t i = 0; i < ear->now.n_tracks && n < SB_EAR_PATHS; i++) {
        const sb_track *track = &ear->now.tracks[i];
        if (track->n_lines == 0 || !(track->energy_snr > USEFUL_ENERGY_SNR))
            continue;
        follow(track, &ear->now.taken_out, &ear->paths[n++]);
        from_s = fmax(from_s, track->band.t0_s);
        to_s = fmin(to_s, track->band.t0_s + (double)track->band.n * track->band.step_s);
    }
    for (double length_s = to_s - from_s; length_s > SHORTEST_S; length_s *= 0.5)
        for (int half = 0; from_s + (0.5 * half + 0.99) * length_s <= to_s; half++)
            if (moves_in(ear, n, (struct stretch){from_s + 0.5 * half * length_s, length_s}))
                return true;
    return false;
}
