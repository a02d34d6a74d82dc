#include "audio/ear_parts.h"

#include <math.h>

enum { GUESSES = 6, GUESSES_TRIED = 3, FEWEST_STRAYS = 4, BODY_PULLS_TO = 2 };

static const double MOST_FOREIGN = 0.3, SOME_FOREIGN = 0.12, LITTLE_FOREIGN = 0.05;
/* Of the peaks' power, by a series that needs no rival, and by a rival beyond another. */
static const double MOSTLY_HELD = 0.5, MUCH_MORE = 0.25;
static const double MOSTLY_ASTRAY = 0.85, ASTRAY_CENTS = 6.0; /* of their energy */
/* So far off lies a tenth of a string's own power at most; nine tenths did where a string that rang
 * along had another's loud partial in its series. */
static const double MOST_STRAY_POWER = 0.4;
static const double LOUD_DB = 6.0; /* below the loudest peak */
/* Half as much again as in recorded notes: another guess may be better. */
static const double RIVALLED_SCATTER_CENTS = 1.5;
/* A peak's error in parts of what the window resolves; how far two planes may lie apart. */
static const double SHARPNESS = 0.75, PLANES_APART = 0.0015;
/* Power of a partial whose two planes add up, over one plane's. */
static const double MOST_SUMMED = 4.0;

/* Those left out for their small errors alone count; those up to a number may be pulled. */
static bool is_on_series(const sb_series_point *point, int pulled_to) {
    double most =
        point->number <= pulled_to ? SB_EAR_MOST_PULLED_CENTS : SB_EAR_USUAL_SCATTER_CENTS;
    return !point->left_out || fabs(point->departure_cents) < most;
}

/* Two partials lie on some series whatever they are; three of a tap's modes, now and then. */
double sb_ear_most_foreign(const sb_series_fit *fit) {
    return fit->used < 3 ? LITTLE_FOREIGN : fit->used < 4 ? SOME_FOREIGN : MOST_FOREIGN;
}

/* Was a partial of that number looked for in vain? What is loud near its place is none, then. */
static bool is_missing(const struct heard *heard, int number) {
    int highest = 0;
    for (size_t i = 0; i < heard->n_tracks; i++) {
        highest = heard->tracks[i].number;
        if (highest == number)
            return false;
    }
    return number < highest + SB_EAR_GIVE_UP_AFTER;
}

/* Share of the peaks' power that lies on no partial of the series. */
double sb_ear_foreign_share(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    double foreign = 0, all = 1e-30, top_db = -(double)INFINITY;
    for (size_t i = 0; i < n; i++)
        top_db = fmax(top_db, peaks[i].db);
    for (size_t i = 0; i < n; i++) {
        double hz = peaks[i].hz, power = pow(10.0, peaks[i].db / 10.0);
        int number = sb_series_nearest(fit->f0_hz, fit->inharmonicity, hz);
        double off_hz = hz - sb_series_hz(fit->f0_hz, fit->inharmonicity, number);
        all += power;
        bool loud = peaks[i].db > top_db - LOUD_DB;
        if (fabs(off_hz) > fmax(0.012 * hz, 2.0 / span_s) ||
            (loud && is_missing(&ear->now, number)))
            foreign += power;
    }
    return foreign / all;
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
static double held_share(const sb_ear *ear, double span_s, int pulled_to) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    double held = 0, all = 1e-30;
    for (size_t i = 0; i < n; i++) {
        double power = pow(10.0, peaks[i].db / 10.0);
        double most = 0;
        for (size_t j = 0; j < ear->now.n_tracks; j++)
            if (is_on_series(&ear->now.points[j], pulled_to) &&
                is_of(ear, &peaks[i], &ear->now.tracks[j], span_s))
                most = fmax(most, MOST_SUMMED * sb_ear_partial_power(&ear->now.tracks[j]));
        all += power;
        held += fmin(power, most);
    }
    return held / all;
}

double sb_ear_held_share(const sb_ear *ear, double span_s) {
    return held_share(ear, span_s, SB_EAR_PULLED_TO);
}

/* Share of the partials' power that the series does not hold. */
static double stray_share(const struct heard *heard) {
    double stray = 0, all = 1e-30;
    for (size_t i = 0; i < heard->n_tracks; i++) {
        double power = sb_ear_partial_power(&heard->tracks[i]);
        all += power;
        stray += is_on_series(&heard->points[i], 0) ? 0.0 : power;
    }
    return stray / all;
}

bool sb_ear_mostly_astray(const sb_ear *ear, const sb_series_fit *fit) {
    double stray = 0, all = 1e-30, far = fmax(ASTRAY_CENTS, 4.0 * fit->scatter_cents);
    double stray_power = 0, power = 1e-30;
    size_t strays = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        const sb_track *track = &ear->now.tracks[i];
        double energy = track->energy_snr * track->noise; /* what dies at once has little */
        bool off = fabs(point->departure_cents) > hypot(far, 3.0 * point->std_cents);
        power += sb_ear_partial_power(track);
        stray_power += off && point->number > BODY_PULLS_TO ? sb_ear_partial_power(track) : 0.0;
        if (point->number == 1) /* a body pulls it */
            continue;
        all += energy;
        stray += off ? energy : 0.0;
        strays += off;
    }
    return (strays >= FEWEST_STRAYS && stray > MOSTLY_ASTRAY * all) ||
           stray_power > MOST_STRAY_POWER * power;
}

/* What a guess came to: what it holds of the peaks' power, 0 where that is nothing to read a
 * pitch from, and how well. */
struct claim {
    double held, scatter_cents;
    size_t used;
};

/* Measures by one guess. True when it needs no rival. */
static bool settles(sb_ear *ear, const sb_series_guess *guess, bool first, double span_s,
                    sb_series_fit *fit, struct claim *claim) {
    *claim = (struct claim){0};
    if (!sb_ear_measure_string(ear, guess, span_s, fit))
        return false;
    double foreign = sb_ear_foreign_share(ear, fit, span_s);
    double beside = first ? foreign : foreign + stray_share(&ear->now);
    if (foreign < MOST_FOREIGN && fit->scatter_cents < SB_EAR_POOR_SCATTER_CENTS)
        *claim = (struct claim){held_share(ear, span_s, 0), fit->scatter_cents, fit->used};
    return claim->held > MOSTLY_HELD && claim->scatter_cents < RIVALLED_SCATTER_CENTS &&
           beside < (first ? sb_ear_most_foreign(fit) : LITTLE_FOREIGN);
}

/* It holds much more; or the other rests on two partials, which any series has; or it holds as much
 * and many partials all but exactly, which the other does not: the string's own multiples scatter
 * as it does. */
static bool is_better(const struct claim *rival, const struct claim *best) {
    return rival->held > best->held + MUCH_MORE ||
           (best->used < 3 && rival->used >= 5 && rival->held > 0.5 * best->held) ||
           (best->scatter_cents > RIVALLED_SCATTER_CENTS && rival->held > MOSTLY_HELD &&
            rival->used >= 5 && rival->scatter_cents < 0.1 * best->scatter_cents);
}

/* By the first guess that holds most of what is heard and leaves little beside it; else by the
 * first, unless another is better. */
bool sb_ear_recognise(sb_ear *ear, const float samples[], size_t n, double span_s,
                      sb_series_fit *fit) {
    sb_series_guess guesses[GUESSES];
    size_t found = sb_coarse_find(ear->coarse, samples, n, &ear->hum, guesses, GUESSES);
    size_t tried = found < GUESSES_TRIED ? found : GUESSES_TRIED, best = 0;
    struct claim claims[GUESSES_TRIED];
    for (size_t i = 0; i < tried; i++) {
        bool sure = settles(ear, &guesses[i], i == 0, span_s, fit, &claims[i]);
        bool better = i > 0 && is_better(&claims[i], &claims[best]);
        if (sure && (better || i == 0 || claims[0].scatter_cents < RIVALLED_SCATTER_CENTS))
            return true;
        if (better)
            best = i;
    }
    return tried > 0 && sb_ear_measure_string(ear, &guesses[best], span_s, fit);
}
