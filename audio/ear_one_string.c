/* Whether the partials of a series are one string's, or its multiples one's and those between
 * another's that rings along. */
#include "audio/ear_parts.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

enum { HIGHEST_IN_TUNE = 5 };

/* More than a string that rings along would have: then the two planes of either may part. */
static const double STRONG_SHARE = 0.15;
/* Of the power of the loudest of every k-th. */
static const double LOUD_MEMBER = 0.03;
/* Less may be the noise's own peak. */
static const double LEAST_ENERGY_SNR = 70.0;
/* But several of them that all miss the series are no help to it. */
static const double LEAST_STRAY_SNR = 21.0;
/* What is known no better lies on any series. */
static const double UNSURE_CENTS = 3.0;
/* Nearer than this partials of one string lie to their series now and then only by scatter. */
static const double CLOSE_CENTS = 0.1;
/* By so much at least two series lie apart. */
static const double LEAST_STRANGE_CENTS = 0.15;

static double least_between(int k) {
    return k >= 3 ? SB_EAR_LEAST_BETWEEN_HIGH : SB_EAR_LEAST_BETWEEN;
}

struct split sb_ear_split_power(const sb_ear *ear, int k) {
    struct split split = {0};
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        double power = sb_ear_partial_power(&ear->now.tracks[i]);
        if (point->number % k == 0) {
            split.members += power;
            split.members_off += point->left_out ? power : 0.0;
            split.n_members++;
        } else if (point->std_cents < UNSURE_CENTS &&
                   (!point->left_out || fabs(point->departure_cents) < SB_EAR_MOST_PULLED_CENTS)) {
            *(point->left_out ? &split.between_off : &split.between) += power;
            split.n_between += !point->left_out;
        }
    }
    return split;
}

/* Power of the partial where it lies so near to the series; else of its other plane's line, where
 * that does: 0 for neither. Another string's line that rings beside a loud one would be taken for
 * its other plane. */
static double power_within(const sb_series_point *point, const sb_track *track, double cents) {
    if (fabs(point->departure_cents) < cents)
        return sb_ear_partial_power(track);
    for (size_t j = 1; j < track->n_lines; j++) {
        const sb_line *line = &track->lines[j];
        double apart_hz = line->hz - track->lines[0].hz;
        double departure = point->departure_cents + SB_CENTS_PER_LN * apart_hz / track->hz;
        if (sb_track_other_plane(track, j) && fabs(departure) < cents)
            return line->re * line->re + line->im * line->im;
    }
    return 0.0;
}

/* Are nearly all between on every j-th? Then two strings sound that are in tune with each other,
 * in a fifth as a rule. */
static bool two_in_tune(const sb_ear *ear, int k, double between) {
    bool found = false;
    for (int j = 2; j <= HIGHEST_IN_TUNE && !found; j++) {
        double others = 0;
        for (size_t i = 0; i < ear->now.n_tracks; i++) {
            int number = ear->now.points[i].number;
            bool other = number % k != 0 && number % j != 0 && !ear->now.points[i].left_out;
            others += other ? sb_ear_partial_power(&ear->now.tracks[i]) : 0.0;
        }
        found = j != k && others < SB_EAR_LEAST_BETWEEN * between;
    }
    return found;
}

/* Of the k-th, 2k-th, ... partials, the members, and of those between: how many lie on the series.
 */
struct on_series {
    int members, members_off, on, off, strays; /* strays: off, and faint */
    int on_every[HIGHEST_IN_TUNE + 1];         /* those of `on` that every j-th is */
    double members_power;                      /* of those that do */
};

static double loudest_member(const sb_ear *ear, int k) {
    double most = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        if (ear->now.points[i].number % k == 0)
            most = fmax(most, sb_ear_partial_power(&ear->now.tracks[i]));
    return most;
}

static struct on_series count_on_series(const sb_ear *ear, int k, double limit, double sure) {
    struct on_series count = {0};
    double least = LOUD_MEMBER * loudest_member(ear, k);
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        const sb_track *track = &ear->now.tracks[i];
        double power = power_within(point, track, hypot(limit, 3.0 * point->std_cents));
        bool fits = power > 0, known = point->std_cents <= sure;
        if (point->number % k == 0) {
            bool loud = known && sb_ear_partial_power(track) > least;
            count.members_power += power;
            count.members += loud;
            count.members_off += loud && !fits;
        } else if (known && track->energy_snr > LEAST_ENERGY_SNR) {
            *(fits ? &count.on : &count.off) += 1;
            for (int j = 2; j <= HIGHEST_IN_TUNE; j++)
                count.on_every[j] += fits && point->number % j == 0;
        } else {
            count.strays += !fits && track->energy_snr > LEAST_STRAY_SNR;
        }
    }
    return count;
}

/* Nearly all those between that lie on the series are multiples of a number that k has nothing to
 * do with: then two strings sound that are in tune, and none below both. */
static bool all_on_another(const struct on_series *count, int k) {
    for (int j = 2; j <= HIGHEST_IN_TUNE && k > 2; j++)
        if (k % j != 0 && j % k != 0 && 5 * count->on_every[j] >= 4 * count->on)
            return true;
    return false;
}

/* Less stiff than any string: every k-th partial of one lies on a series of 1/k^2 of its B. */
static bool too_slack(const sb_series_fit *fit) {
    return fit->inharmonicity + SB_EAR_STIFFNESS_SIGMAS * fit->inharmonicity_std <
           SB_EAR_LEAST_STIFFNESS;
}

bool sb_ear_one_string(const sb_ear *ear, const sb_series_fit *fit, int k, bool lenient) {
    struct split split = sb_ear_split_power(ear, k);
    double share = split.between / split.members;
    bool weak = too_slack(fit) || (!lenient && share < least_between(k));
    bool strong = share > STRONG_SHARE && !two_in_tune(ear, k, split.between);
    double sure = weak ? 0.1 : 1.0, most = weak ? 0.1 : strong ? 1.5 : 0.5;
    double least_limit = strong ? SB_EAR_USUAL_SCATTER_CENTS : CLOSE_CENTS;
    double limit = fmin(strong ? 2.0 : 0.5, fmax(4.0 * fit->scatter_cents, least_limit));
    struct on_series count = count_on_series(ear, k, limit, sure);
    int least = count.off + count.strays == 0 && fit->used >= 5 ? 2 : 3;
    return count.on >= least && count.on >= 2 * count.off && !all_on_another(&count, k) &&
           fit->scatter_cents < most && count.members_power > 0.5 * split.members &&
           3 * count.members_off <= count.members;
}

/* Fits the partials measured to a cent of one side: the k-th, 2k-th, ..., or those between. False
 * where too few of them agree on a series. */
static bool solve_side(const sb_ear *ear, int k, bool between, sb_series_fit *fit) {
    sb_series_point points[SB_MAX_PARTIALS];
    size_t n = ear->now.n_tracks, sure = 0;
    memcpy(points, ear->now.points, n * sizeof points[0]);
    for (size_t i = 0; i < n; i++) {
        points[i].left_out = (points[i].number % k != 0) != between || points[i].std_cents > 1.0;
        sure += !points[i].left_out;
    }
    return sure >= 4 && sb_series_solve(points, n, fit) && 3 * fit->used >= 2 * sure;
}

/* Have the partials between a series of their own that most of the k-th, 2k-th, ... lie off,
 * which agree with each other? */
static bool two_series(const sb_ear *ear, int k) {
    sb_series_fit between, members;
    int n = 0, off = 0;
    if (!solve_side(ear, k, true, &between) || !solve_side(ear, k, false, &members))
        return false;
    double scatter = fmax(between.scatter_cents, members.scatter_cents);
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        if (point->number % k != 0 || point->std_cents > 1.0)
            continue;
        double hz = sb_series_hz(between.f0_hz, between.inharmonicity, point->number);
        double by_b =
            0.5 * SB_CENTS_PER_LN * between.inharmonicity_std * point->number * point->number;
        double by_noise = 3.0 * hypot(by_b, hypot(point->std_cents, between.sounding_std_cents));
        n++;
        off += fabs(SB_CENTS_PER_LN * log(point->hz / hz)) >
               hypot(fmax(LEAST_STRANGE_CENTS, 8.0 * scatter), by_noise);
    }
    return 3 * off >= 2 * n;
}

/* Do most of the partials between lie off the series of the others by much more than it
 * scatters? */
static bool far_between(const sb_ear *ear, const sb_series_fit *fit, int k) {
    struct split split = sb_ear_split_power(ear, k);
    bool weak = split.between + split.between_off < SB_EAR_LEAST_BETWEEN * split.members;
    double far = weak ? fmax(CLOSE_CENTS, 3.0 * fit->scatter_cents)
                      : fmax(SB_EAR_USUAL_SCATTER_CENTS, 5.0 * fit->scatter_cents);
    int n[2] = {0}, off[2] = {0};
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_series_point *point = &ear->now.points[i];
        int between = point->number % k != 0;
        if (point->std_cents > 1.0)
            continue;
        n[between]++;
        off[between] += fabs(point->departure_cents) > hypot(far, 3.0 * point->std_cents);
    }
    return off[1] >= 3 && 3 * off[1] >= 2 * n[1] && 4 * off[0] <= n[0];
}

bool sb_ear_strangers_between(const sb_ear *ear, const sb_series_fit *fit, int k) {
    return far_between(ear, fit, k) || two_series(ear, k);
}
