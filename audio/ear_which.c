#include "audio/ear_parts.h"

#include <math.h>
#include <string.h>

enum { GUESSES = 6, GUESSES_TRIED = 3, HIGHEST_ABOVE = 12 };

static const double LITTLE_FOREIGN = 0.05;
/* Power of the partials between, over that of the others, in a series that is not too low. */
static const double LEAST_ODD_SHARE = 1e-3, LEAST_BETWEEN_SHARE = 0.03,
                    LEAST_HIGH_SHARE = 0.1; /* the 4th or a higher all but alone: not a string */
/* Of the peaks' power, by a series that needs no rival, and by a rival beyond another. */
static const double MOSTLY_HELD = 0.5, MUCH_MORE = 0.25;
/* A peak's error in parts of what the window resolves; how far two planes may lie apart. */
static const double SHARPNESS = 0.75, PLANES_APART = 0.0015;
/* Recorded notes show one partial in fifty pulled by more than 8 cents, one by 17. */
static const double MOST_PULLED_CENTS = 17.0;
/* Of a plain string in the middle of its neck; near enough to find the first three by. */
static const double USUAL_INHARMONICITY = 1.5e-4;

/* The strongest peak near hz, or NULL. */
static const sb_peak *peak_near(const sb_ear *ear, double hz, double reach_hz) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n), *best = NULL;
    for (size_t i = 0; i < n; i++)
        if (fabs(peaks[i].hz - hz) <= reach_hz && (!best || peaks[i].db > best->db))
            best = &peaks[i];
    return best;
}

/* Is the note really the k-th below? Then there are peaks between the partials, just where
 * its series wants them; chance and other strings miss it by more. */
static bool sounds_below(const sb_ear *ear, const sb_series_fit *fit, int k, double span_s) {
    double f0 = fit->f0_hz / k, b = fmax(fit->inharmonicity, 0.0) / (k * k);
    int found = 0, wanted = 0, at_last = 0;
    if (f0 < ear->lowest_hz)
        return false;
    for (int m = 1; m <= 6 * k; m++) {
        double hz = sb_series_hz(f0, b, m);
        if (m % k == 0)
            continue;
        wanted++;
        if (peak_near(ear, hz, 0.15 / fmin(span_s, 1.0) + 0.0006 * hz))
            found++, at_last = wanted;
    }
    return found >= 3 && 3 * found >= 2 * at_last;
}

/* Do the partials between, measured, lie on the one series, and are they strong enough to be
 * its own? A lower string that only rings along has a stiffness and a tuning of its own; in
 * tune by chance it is still weaker than any string's own partials, but for the odd ones of a
 * string that all but sounds its octave. */
static bool members_agree(const sb_ear *ear, const sb_series_fit *fit, int k) {
    int on = 0, off = 0;
    double between = 0, members = 0;
    double limit = fmin(0.5, fmax(4.0 * fit->scatter_cents, 0.1));
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        double power = sb_ear_partial_power(&ear->now.tracks[i]);
        members += point->number % k == 0 ? power : 0.0;
        if (point->number % k == 0 || point->std_cents > 1.0)
            continue;
        bool fits =
            !point->left_out && fabs(point->departure_cents) < hypot(limit, 3.0 * point->std_cents);
        between += fits ? power : 0.0;
        *(fits ? &on : &off) += 1;
    }
    double least = k == 2 ? LEAST_ODD_SHARE : LEAST_BETWEEN_SHARE;
    return on >= 3 && on >= 2 * off && fit->scatter_cents < 0.5 && between > least * members;
}

/* Power of the k-th, 2k-th, ... partials and of those between, on the series and off it. What
 * lies further off than a body pulls goes uncounted. */
struct split {
    double members, members_off, between, between_off;
    int n_members;
};

static struct split split_power(const sb_ear *ear, int k) {
    struct split split = {0};
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        double power = sb_ear_partial_power(&ear->now.tracks[i]);
        if (point->number % k == 0) {
            split.members += power;
            split.members_off += point->left_out ? power : 0.0;
            split.n_members++;
        } else if (!point->left_out || fabs(point->departure_cents) < MOST_PULLED_CENTS) {
            *(point->left_out ? &split.between_off : &split.between) += power;
        }
    }
    return split;
}

/* The k of which nearly all power lies on every k-th partial, 1 for none: then a string that
 * merely rings along lent its series to the one that was plucked. The highest first. It needs
 * the less, the worse the series holds the strong partials. */
static int sounds_above(const sb_ear *ear, const sb_series_fit *fit) {
    for (int k = HIGHEST_ABOVE; k >= 2; k--) {
        struct split split = split_power(ear, k);
        bool poor = fit->scatter_cents > SB_EAR_POOR_SCATTER_CENTS;
        bool off = split.members_off > 0.5 * split.members;
        double least = k > 3 || poor   ? LEAST_HIGH_SHARE
                       : k == 3 || off ? LEAST_BETWEEN_SHARE
                                       : LEAST_ODD_SHARE;
        double most = fmax(least, LEAST_BETWEEN_SHARE);
        if (split.n_members >= (k <= 3 ? 1 : 2) && split.between < least * split.members &&
            split.between + split.between_off < most * split.members)
            return k;
    }
    return 1;
}

static void copy_heard(const struct heard *from, struct heard *to) {
    memcpy(to->tracks, from->tracks, from->n_tracks * sizeof from->tracks[0]);
    memcpy(to->points, from->points, from->n_tracks * sizeof from->points[0]);
    to->n_tracks = from->n_tracks;
    to->glide = from->glide;
}

/* Measures another string instead, which has to have the more to show. */
static bool instead(sb_ear *ear, const sb_series_guess *other, int below, double span_s,
                    sb_series_fit *fit) {
    sb_series_fit found;
    if (other->f0_hz > ear->highest_hz)
        return false;
    copy_heard(&ear->now, &ear->kept);
    if (sb_ear_measure(ear, other, span_s, &found) && found.used >= 2 &&
        (below == 0 || members_agree(ear, &found, below))) {
        *fit = found;
        return true;
    }
    copy_heard(&ear->kept, &ear->now);
    return false;
}

static bool step_up(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit) {
    int k = sounds_above(ear, fit);
    sb_series_guess above = {.f0_hz = k * fit->f0_hz,
                             .inharmonicity = USUAL_INHARMONICITY, /* not that of two strings */
                             .highest = guess->highest / k};
    return k > 1 && instead(ear, &above, 0, span_s, fit);
}

static bool step_down(sb_ear *ear, const sb_series_guess *guess, double span_s,
                      sb_series_fit *fit) {
    for (int k = 2; k <= 3; k++) {
        if (!sounds_below(ear, fit, k, span_s))
            continue;
        sb_series_guess below = {.f0_hz = fit->f0_hz / k,
                                 .inharmonicity = fmax(fit->inharmonicity, 0.0) / (k * k),
                                 .highest = guess->highest * k};
        return instead(ear, &below, k, span_s, fit);
    }
    return false;
}

/* Share of the peaks' power that lies on no partial of the series. */
double sb_ear_foreign_share(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    double foreign = 0, all = 1e-30;
    for (size_t i = 0; i < n; i++) {
        int number = (int)lround(peaks[i].hz / fit->f0_hz), low = number > 3 ? number - 3 : 1;
        double power = pow(10.0, peaks[i].db / 10.0), nearest = (double)INFINITY;
        for (int k = low; k <= number + 1; k++)
            nearest =
                fmin(nearest, fabs(peaks[i].hz - sb_series_hz(fit->f0_hz, fit->inharmonicity, k)));
        all += power;
        if (nearest > fmax(0.012 * peaks[i].hz, 2.0 / span_s))
            foreign += power;
    }
    return foreign / all;
}

/* By one guess, unless what it gives speaks for a string that is a multiple or a part of it. */
static bool measure_guess(sb_ear *ear, const sb_series_guess *guess, double span_s,
                          sb_series_fit *fit) {
    if (!sb_ear_measure(ear, guess, span_s, fit))
        return false;
    if (step_up(ear, guess, span_s, fit))
        (void)step_up(ear, guess, span_s, fit); /* of a third string's, once more */
    else
        (void)step_down(ear, guess, span_s, fit);
    return true;
}

/* Does the peak stem from this line of a string? The pitch there is the settled one, the
 * peak's a mean over the glide. */
static bool is_of(const sb_ear *ear, const sb_peak *peak, const sb_track *track, double span_s) {
    double glide = fabs(ear->now.glide.gamma);
    return fabs(peak->hz - track->hz) <
           SHARPNESS / fmin(span_s, 1.0) + (PLANES_APART + glide) * peak->hz;
}

/* Share of the peaks' power that partials on the series account for. Next to nothing where
 * the series is that of a string that only rings along, even one whose partials lie so near
 * the loud ones that these are foreign to it by no more than a body's pull. */
double sb_ear_held_share(const sb_ear *ear, double span_s) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    double held = 0, all = 1e-30;
    for (size_t i = 0; i < n; i++) {
        double power = pow(10.0, peaks[i].db / 10.0);
        bool is_held = false;
        for (size_t j = 0; j < ear->now.n_tracks && !is_held; j++)
            is_held = !ear->now.points[j].left_out &&
                      is_of(ear, &peaks[i], &ear->now.tracks[j], span_s);
        all += power;
        held += is_held ? power : 0.0;
    }
    return held / all;
}

/* Share of the partials' power that the series does not hold. */
static double stray_share(const struct heard *heard) {
    double stray = 0, all = 1e-30;
    for (size_t i = 0; i < heard->n_tracks; i++) {
        double power = sb_ear_partial_power(&heard->tracks[i]);
        all += power;
        stray += heard->points[i].left_out ? power : 0.0;
    }
    return stray / all;
}

/* A guess that is measured, and whether no other can be better. */
static bool settles(sb_ear *ear, const sb_series_guess *guess, bool first, double span_s,
                    sb_series_fit *fit, double *held) {
    *held = 0;
    if (!measure_guess(ear, guess, span_s, fit))
        return false;
    double beside = sb_ear_foreign_share(ear, fit, span_s);
    if (!first)
        beside += stray_share(&ear->now);
    *held = sb_ear_held_share(ear, span_s);
    return fit->scatter_cents < SB_EAR_POOR_SCATTER_CENTS && *held > MOSTLY_HELD &&
           beside < (first ? SB_EAR_MOST_FOREIGN : LITTLE_FOREIGN);
}

/* By the first guess that holds most of what is heard and leaves little beside it; else by the
 * first, unless another holds much more. */
bool sb_ear_recognise(sb_ear *ear, const float samples[], size_t n, double span_s,
                      sb_series_fit *fit) {
    sb_series_guess guesses[GUESSES];
    size_t found = sb_coarse_find(ear->coarse, samples, n, &ear->hum, guesses, GUESSES);
    size_t tried = found < GUESSES_TRIED ? found : GUESSES_TRIED, best = 0;
    double most = -1;
    if (tried == 0)
        return false;
    for (size_t i = 0; i < tried; i++) {
        double held;
        if (settles(ear, &guesses[i], i == 0, span_s, fit, &held))
            return true;
        if (held > most + (i > 0 ? MUCH_MORE : 0.0))
            most = held, best = i;
    }
    return measure_guess(ear, &guesses[best], span_s, fit);
}
