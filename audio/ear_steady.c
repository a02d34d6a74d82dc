/* Does the pitch come to rest? A string's own glide is its tension's, which falls with the energy
 * that stretches it: it goes down only, ever more slowly, and is so small that, however long it
 * lasts, it cannot be fast late. One of G cents at the pluck that dies with a time constant T moves
 * by G/T exp(-t/T) cents/s, at most G/(e t) whatever T is, and so does any blend of such. A pitch
 * that all partials say falls faster, or that rises, or that departs by a good part of that from
 * the glide that was told of it, is a finger's, a bend's, an arm's or a recorder's doing. */
#include <math.h>

#include "audio/ear_parts.h"
#include "core/order.h"
#include "core/pitch.h"

/* LOW: so many of the lowest are asked by themselves too, for the high ones leave their bands
 * first where the pitch moves far. FEWEST: fewer agree by chance, and are believed only of all that
 * they are heard of, and where they move far. LEAST_SAMPLES: five a third.
 * LEAVING: what falls between the bands of the first of them is well within one of the second. */
enum { FEWEST = 3, LOW = 4, LEAST_SAMPLES = 15, LEAVING = 2 };

static const double EULER = 2.718281828459045;
/* No tension makes a note rise: by more than this and by so many standard errors it does not. */
static const double MOST_RISE_CENTS = 2.0, RISE_SIGMAS = 3.0;
/* Of the fastest fall: what may rise, or depart from the glide told. Two planes that beat alike in
 * all partials seem to move by a tenth of it. */
static const double SHARE_NOT_TOLD = 0.125;
static const double LEAST_MOVED_CENTS = 1.0; /* in a stretch: less is beating, or does no harm */
static const double SHORTEST_S = 0.08;       /* a few periods of the lowest string */
static const double LEAST_COVERED = 0.95;    /* of a stretch, by a partial that tells of it */
static const double USEFUL_ENERGY_SNR = 21.0;
/* A partial is heard while it is not so far below its highest that what is left is another's
 * sound, nor so near its noise that a phase may slip a turn; a noise that seems so high because the
 * pitch moves hides no loud part. */
static const double LEAST_POWER = 1e-3, SAMPLE_SNR = 8.0, LOUD_SHARE = 0.05;
static const double SIGMAS = 3.0, MEDIAN_CHI_SQUARE = 0.455; /* of one degree of freedom */
static const double TELLING_SHARE = 0.3; /* of the fastest fall: a speed's error, to be of use */
/* How far the partials may differ: by more, the fewer they are, for few agree by chance. */
static const double APART = 1.0, APART_FEW = 9.0;
/* Of the string in the band beside its partial's own: by how much its power there must have grown,
 * and how much of what the partial has then it must be. */
static const double GROWN = 8.0, BESIDE_SHARE = 0.1;

/* Noise variance of a sample of unit power, by the median of second differences over as many
 * samples as the band's filter makes alike: unlike what the lines leave, it hardly sees movement.
 */
static double noise_of(const struct path *path, double pass_hz) {
    double sizes[SB_BAND_MAX];
    size_t lag = (size_t)ceil(0.5 / (pass_hz * path->step_s)), n = 0;
    for (size_t k = lag; k + lag < path->n; k++) {
        const double *u = path->ahead_s + k, *w = path->power + k;
        double second = u[lag] - 2.0 * u[0] + *(u - lag);
        double variance = 1.0 / w[lag] + 4.0 / w[0] + 1.0 / *(w - lag);
        sizes[n++] = second * second / variance;
    }
    return n > 0 ? sb_median(sizes, n) / MEDIAN_CHI_SQUARE : (double)INFINITY;
}

/* The turns of the partial's phase beyond its settled frequency's. What was set apart is in it
 * again: where the pitch moves it may be the partial's own. */
static void follow(const sb_track *track, const sb_glide *taken_out, struct path *path) {
    const sb_band *band = &track->band;
    double band_re[SB_BAND_MAX], band_im[SB_BAND_MAX];
    double phase = 0, previous = 0, top = 0;
    double rotate = SB_TWO_PI * track->lines[0].hz * band->step_s, turn = SB_TWO_PI * track->hz;
    path->track = track;
    path->n = band->n, path->t0_s = band->t0_s, path->step_s = band->step_s;
    sb_track_whole(track, taken_out, band_re, band_im);
    for (size_t k = 0; k < band->n; k++) {
        double re = band_re[k], im = band_im[k], angle = atan2(im, re);
        double by = k ? angle - previous - rotate : 0.0;
        phase += by - SB_TWO_PI * floor(by / SB_TWO_PI + 0.5);
        previous = angle;
        path->ahead_s[k] = phase / turn;
        path->power[k] = re * re + im * im;
        top = fmax(top, path->power[k]);
    }
    double noise = sb_track_sample_noise(track);
    double least = fmax(fmin(SAMPLE_SNR * noise, LOUD_SHARE * top), LEAST_POWER * top);
    path->n = 0;
    while (path->n < band->n && path->power[path->n] >= least)
        path->n++;
    path->noise = fmin(0.5 * noise / (turn * turn), noise_of(path, band->pass_hz));
}

struct figure {
    double value, variance;
};

/* Relative shift of the pitch over samples from..to-1, louder ones counting for more. Its variance
 * is by what a straight line leaves of them, or by the noise if that is more: they are few. */
static struct figure shift_of(const struct path *path, size_t from, size_t to) {
    double w = 0, t = 0, tt = 0, y = 0, yt = 0, yy = 0;
    for (size_t k = from; k < to; k++) {
        double power = path->power[k], x = (double)(k - from) * path->step_s;
        double rise = path->ahead_s[k] - path->ahead_s[from];
        w += power, t += power * x, tt += power * x * x;
        y += power * rise, yt += power * rise * x, yy += power * rise * rise;
    }
    double own = tt - t * t / w, lean = yt - t * y / w;
    double left = yy - y * y / w - lean * lean / own;
    return (struct figure){lean / own, fmax(left / (double)(to - from - 2), path->noise) / own};
}

/* By how many cents/s the pitch moves over samples from..to-1: the last third against the first,
 * so that what lies between may be a step. Band samples are not independent: their errors are
 * taken to be twice what they seem in variance. */
static struct figure speed_of(const struct path *path, size_t from, size_t to) {
    size_t third = (to - from) / 3;
    struct figure a = shift_of(path, from, from + third), b = shift_of(path, to - third, to);
    double scale = SB_CENTS_PER_LN / ((double)(to - third - from) * path->step_s);
    return (struct figure){scale * (b.value - a.value),
                           2.0 * scale * scale * (a.variance + b.variance)};
}

/* A stretch of the note. Speeds in cents/s. */
struct stretch {
    double from_s, length_s;
    bool whole;     /* all that is heard */
    double fastest; /* that a glide may fall there */
    double told;    /* of the glide that was told, and is out of the paths */
};

static struct stretch stretch_of(const sb_ear *ear, double from_s, double length_s) {
    const sb_glide *told = &ear->now.taken_out;
    double since_s = ear->since_pluck_s + from_s + 0.5 * length_s, sixth_s = length_s / 6.0;
    double first = sb_glide_shift(told, 0, from_s + sixth_s);
    double last = sb_glide_shift(told, 0, from_s + length_s - sixth_s);
    return (struct stretch){.from_s = from_s,
                            .length_s = length_s,
                            .fastest = SB_EAR_LARGEST_GLIDE_CENTS / (EULER * since_s),
                            .told = SB_CENTS_PER_LN * (last - first) / (4.0 * sixth_s)};
}

/* The speeds of those of paths[0..n-1] that can tell; returns how many. */
static size_t ask(const struct path paths[], size_t n, const struct stretch *at,
                  struct figure speeds[]) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        const struct path *path = &paths[i];
        double from = fmax((at->from_s - path->t0_s) / path->step_s, 0.0);
        double to = fmin((at->from_s + at->length_s - path->t0_s) / path->step_s, (double)path->n);
        if (to - from < LEAST_SAMPLES || (to - from) * path->step_s < LEAST_COVERED * at->length_s)
            continue;
        struct figure speed = speed_of(path, (size_t)from, (size_t)to);
        if (isfinite(speed.value) && speed.variance <= pow(TELLING_SHARE * at->fastest, 2))
            speeds[kept++] = speed;
    }
    return kept;
}

/* What speeds[0..n-1] have in common, and the doubt of it: how far they are apart, and noise. */
static double together(const struct figure speeds[], size_t n, double *doubt) {
    double values[SB_EAR_PATHS], noise = 0, count = (double)n;
    for (size_t i = 0; i < n; i++)
        values[i] = speeds[i].value, noise += speeds[i].variance;
    double middle = sb_median(values, n);
    for (size_t i = 0; i < n; i++)
        values[i] = fabs(speeds[i].value - middle);
    double apart = (APART + APART_FEW / count) * sb_kth_smallest(values, n, 3 * n / 4);
    *doubt = hypot(apart, SIGMAS * sqrt(noise) / count);
    return middle;
}

/* What of a speed is beyond doubt. */
static double at_least(double speed, double doubt) {
    return copysign(fmax(fabs(speed) - doubt, 0.0), speed);
}

static bool moves_in(const struct path paths[], size_t n, const struct stretch *at) {
    struct figure speeds[SB_EAR_PATHS];
    double doubt;
    size_t asked = ask(paths, n, at, speeds);
    if (asked < (at->whole ? 2 : FEWEST))
        return false;
    double not_told = together(speeds, asked, &doubt);
    if (asked < FEWEST && fabs(not_told) < at->fastest)
        return false;
    double all = at_least(at->told + not_told, doubt);
    double wrong = fmax(all, fabs(at_least(not_told, doubt)));
    return -all > at->fastest ||
           wrong > fmax(SHARE_NOT_TOLD * at->fastest, LEAST_MOVED_CENTS / at->length_s);
}

/* Follows the strong partials; returns how many. ends_s[]: the two latest of their ends. */
static size_t follow_all(sb_ear *ear, double ends_s[2]) {
    size_t n = 0;
    ends_s[0] = ends_s[1] = 0;
    for (size_t i = 0; i < ear->now.n_tracks && n < SB_EAR_PATHS; i++) {
        const sb_track *track = &ear->now.tracks[i];
        if (track->n_lines == 0 || !(track->energy_snr > USEFUL_ENERGY_SNR))
            continue;
        struct path *path = &ear->paths[n++];
        follow(track, &ear->now.taken_out, path);
        double end_s = path->t0_s + (double)path->n * path->step_s;
        ends_s[1] = fmax(ends_s[1], fmin(ends_s[0], end_s));
        ends_s[0] = fmax(ends_s[0], end_s);
    }
    return n;
}

static double mean_power(const sb_band *band, size_t from, size_t to) {
    double sum = 0;
    for (size_t k = from; k < to; k++)
        sum += band->re[k] * band->re[k] + band->im[k] * band->im[k];
    return sum / (double)(to - from);
}

/* Has the string left this partial's band? Bent far and at once, it takes all partials out of
 * theirs before they tell of it, and is heard next to them late, where it was not early. Only where
 * there is room between the partials; elsewhere it does not get out. */
static bool has_left(const sb_ear *ear, const sb_track *track) {
    const sb_band *own = &track->band;
    double spacing_hz = track->hz / track->number;
    size_t quarter = own->n / 4;
    if (quarter == 0 || 3.0 * own->pass_hz > 0.5 * spacing_hz)
        return false;
    double least = fmax(LEAST_POWER * mean_power(own, 0, quarter),
                        BESIDE_SHARE * mean_power(own, own->n - quarter, own->n));
    for (int side = -1; side <= 1; side += 2) {
        sb_band next;
        sb_spectrum_band(ear->spectrum, own->centre_hz + 2.0 * side * own->pass_hz, spacing_hz,
                         &next);
        quarter = next.n / 4;
        if (quarter == 0)
            continue;
        double early = mean_power(&next, 0, quarter);
        if (mean_power(&next, next.n - quarter, next.n) > fmax(least, GROWN * early))
            return true;
    }
    return false;
}

/* Whether the first n paths move in any of so many parts of the note, overlapping by half. */
static bool moves_in_parts(const sb_ear *ear, size_t n, int parts, double end_s) {
    double length_s = end_s / (double)parts;
    for (int half = 0; half <= 2 * (parts - 1); half++) {
        struct stretch at = stretch_of(ear, 0.5 * half * length_s, length_s);
        at.whole = parts == 1;
        if (moves_in(ear->paths, n, &at) || moves_in(ear->paths, n < LOW ? n : LOW, &at))
            return true;
    }
    return false;
}

/* Is what was told for a glide none that a string has? */
static bool is_a_bend(const sb_glide *glide) {
    double cents = SB_CENTS_PER_LN * glide->gamma;
    double doubt = RISE_SIGMAS * SB_CENTS_PER_LN * glide->common_std;
    return cents > SB_EAR_LARGEST_GLIDE_CENTS || cents < -fmax(MOST_RISE_CENTS, doubt);
}

/* In all of it, in halves, in quarters...; up to where two partials are heard. */
bool sb_ear_moves(sb_ear *ear) {
    double ends_s[2];
    if (is_a_bend(&ear->now.glide))
        return true;
    size_t n = follow_all(ear, ends_s);
    for (int parts = 1; ends_s[1] > SHORTEST_S * (double)parts; parts *= 2)
        if (moves_in_parts(ear, n, parts, ends_s[1]))
            return true;
    for (size_t i = 0; i < n && i < LEAVING; i++)
        if (has_left(ear, ear->paths[i].track))
            return true;
    return false;
}
