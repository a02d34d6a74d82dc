#include "audio/ear_parts.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

enum { HIGHEST_ABOVE = 24, HIGH_ABOVE = 5, LOWEST_BELOW = 5, FEWEST_FOREIGN = 3, HALVES_ASKED = 9 };

/* Power of the partials between, over that of the others, in a series that is not too low. */
static const double LEAST_ODD_SHARE = 1e-3, LEAST_BETWEEN_SHARE = 0.03;
/* The 4th or a higher all but alone is no string; nor where its own multiples are not heard, and
 * those between scatter. */
static const double LEAST_HIGH_SHARE = 0.1, SINGLE_SHARE = 0.05;
/* On every 5th or a higher one no string has most of its power: recorded and made notes have 1.7
 * and more of it elsewhere, fits to a string that rings along 0.2 and less. */
static const double LEAST_ELSEWHERE = 0.5;
/* More than a string that rings along would have: then the two planes of either may part. */
static const double STRONG_SHARE = 0.15;
/* Of the power of the loudest of every k-th. */
static const double LOUD_MEMBER = 0.03;
/* Less may be the noise's own peak. */
static const double LEAST_ENERGY_SNR = 100.0;
/* But several of them that all miss the series are no help to it. */
static const double LEAST_STRAY_SNR = 30.0;
/* Of the peaks' power: what one peak more or less in reach may come to. */
static const double LOST_SHARE = 0.1;
/* What is known no better lies on any series. */
static const double UNSURE_CENTS = 3.0;
/* Nearer than this partials of one string lie to their series now and then only by scatter. */
static const double CLOSE_CENTS = 0.1;
/* By so much at least two series lie apart. */
static const double LEAST_STRANGE_CENTS = 0.15;
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

/* How far a peak may lie from its partial's settled pitch. */
static double peak_reach_hz(const sb_ear *ear, double hz, double span_s) {
    return 0.15 / fmin(span_s, 1.0) + (0.0006 + fabs(ear->now.glide.gamma)) * hz;
}

/* Are the peaks that the series does not hold nearly all partials of the k-th below, between its
 * own? Few of another string's would be. */
static bool foreign_lie_below(const sb_ear *ear, double f0, double b, int k, double span_s) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    int on = 0, foreign = 0;
    for (size_t i = 0; i < n; i++) {
        double hz = peaks[i].hz, reach_hz = peak_reach_hz(ear, hz, span_s);
        int m = sb_series_nearest(f0, b, hz);
        bool near = fabs(hz - sb_series_hz(f0, b, m)) < reach_hz;
        foreign += !near || m % k != 0;
        on += near && m % k != 0;
    }
    return on >= FEWEST_FOREIGN && 4 * on >= 3 * foreign;
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
        if (peak_near(ear, hz, peak_reach_hz(ear, hz, span_s)))
            found++, at_last = wanted;
    }
    return (found >= 2 && 3 * found >= 2 * at_last) || foreign_lie_below(ear, f0, b, k, span_s);
}

/* Power of the k-th, 2k-th, ... partials and of those between, on the series and off it. What
 * lies further off than a body pulls goes uncounted. */
struct split {
    double members, members_off, between, between_off;
    int n_members, n_between;
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
    for (int j = 2; j <= LOWEST_BELOW && !found; j++) {
        double others = 0;
        for (size_t i = 0; i < ear->now.n_tracks; i++) {
            int number = ear->now.points[i].number;
            bool other = number % k != 0 && number % j != 0 && !ear->now.points[i].left_out;
            others += other ? sb_ear_partial_power(&ear->now.tracks[i]) : 0.0;
        }
        found = j != k && others < LEAST_BETWEEN_SHARE * between;
    }
    return found;
}

/* Of the k-th, 2k-th, ... partials, the members, and of those between: how many lie on the series.
 */
struct on_series {
    int members, members_off, on, off, strays; /* strays: off, and faint */
    int on_every[LOWEST_BELOW + 1];            /* those of `on` that every j-th is */
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
            for (int j = 2; j <= LOWEST_BELOW; j++)
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
    for (int j = 2; j <= LOWEST_BELOW && k > 2; j++)
        if (k % j != 0 && j % k != 0 && 5 * count->on_every[j] >= 4 * count->on)
            return true;
    return false;
}

/* Do the k-th, 2k-th, ... partials and those between lie on the one series? Another string that
 * rings along has a stiffness and a tuning of its own, and is weaker than any string's own
 * partials; so those between prove one string however weak they are, but then they have to fit
 * the closer. */
static bool one_string(const sb_ear *ear, const sb_series_fit *fit, int k, bool lenient) {
    struct split split = split_power(ear, k);
    double share = split.between / split.members;
    bool weak = !lenient && share < LEAST_BETWEEN_SHARE;
    bool strong = share > STRONG_SHARE && !two_in_tune(ear, k, split.between);
    double sure = weak ? 0.25 : 1.0, most = weak ? 0.1 : strong ? 1.5 : 0.5;
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
static bool strangers_between(const sb_ear *ear, const sb_series_fit *fit, int k, bool weak) {
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

/* Power of all partials but every k-th, over that of these. */
static double elsewhere(const sb_ear *ear, int k) {
    struct split split = split_power(ear, k);
    return split.n_members > 0 ? (split.between + split.between_off) / split.members
                               : (double)INFINITY;
}

/* The k, the 5th or higher, with more power on every k-th partial than a string has; or what
 * divides it and has nearly all. 1 for none. */
static int sounds_high_above(const sb_ear *ear) {
    for (int k = HIGHEST_ABOVE; k >= HIGH_ABOVE; k--) {
        if (elsewhere(ear, k) >= LEAST_ELSEWHERE)
            continue;
        for (int j = k; j >= 2; j--)
            if (k % j == 0 && elsewhere(ear, j) < LEAST_HIGH_SHARE)
                return j;
        return k;
    }
    return 1;
}

/* The k of which nearly all power lies on every k-th partial, 1 for none: then a string that
 * merely rings along lent its series to the one that was plucked. The highest first. It needs
 * the less, the worse the series holds the strong partials. Doubtful where those between fit, but
 * not closely enough to prove one string. */
static int sounds_above(const sb_ear *ear, const sb_series_fit *fit, bool *doubtful) {
    int high = sounds_high_above(ear);
    if (high > 1)
        return high;
    for (int k = HIGH_ABOVE - 1; k >= 2; k--) {
        struct split split = split_power(ear, k);
        double between = split.between + split.between_off;
        bool poor = fit->scatter_cents > SB_EAR_POOR_SCATTER_CENTS;
        bool off = split.members_off > 0.5 * split.members;
        bool lone = k == 3 && split.n_between < 2;
        double least = k > 3 || poor || lone ? LEAST_HIGH_SHARE
                       : k == 3 || off       ? LEAST_BETWEEN_SHARE
                                             : LEAST_ODD_SHARE;
        double most = fmax(least, LEAST_BETWEEN_SHARE);
        bool alone = split.n_members >= (k <= 3 ? 1 : 2) && split.between < least * split.members &&
                     between < most * split.members;
        bool single = k > 3 && split.n_members == 1 &&
                      fit->scatter_cents > SB_EAR_USUAL_SCATTER_CENTS &&
                      between < SINGLE_SHARE * split.members;
        bool strangers =
            2.0 * between < split.members &&
            (strangers_between(ear, fit, k, between < LEAST_BETWEEN_SHARE * split.members) ||
             two_series(ear, k));
        if (((alone || single) && !one_string(ear, fit, k, false)) || strangers) {
            *doubtful = !strangers && one_string(ear, fit, k, true);
            return k;
        }
    }
    return 1;
}

static void copy_heard(const struct heard *from, struct heard *to) {
    memcpy(to->tracks, from->tracks, from->n_tracks * sizeof from->tracks[0]);
    memcpy(to->points, from->points, from->n_tracks * sizeof from->points[0]);
    to->n_tracks = from->n_tracks;
    to->glide = from->glide;
    to->taken_out = from->taken_out;
    to->planes = from->planes;
}

/* Measures another string instead, which has to have the more to show: one below holds all that
 * the string above held, and more. */
static bool instead(sb_ear *ear, const sb_series_guess *other, int below, double span_s,
                    sb_series_fit *fit) {
    sb_series_fit found;
    if (other->f0_hz > ear->highest_hz)
        return false;
    double held = below == 0 ? 0.0 : sb_ear_held_share(ear, span_s);
    copy_heard(&ear->now, &ear->kept);
    bool measured = sb_ear_measure(ear, other, span_s, &found) && found.used >= 2;
    double more = measured ? sb_ear_held_share(ear, span_s) - held : 0.0;
    if (measured && more > -LOST_SHARE) {
        if (below == 0 || one_string(ear, &found, below, false)) {
            *fit = found;
            return true;
        }
        ear->doubtful = ear->doubtful || one_string(ear, &found, below, true) ||
                        (more > LOST_SHARE && found.used >= 2 * fit->used);
    }
    copy_heard(&ear->kept, &ear->now);
    return false;
}

double sb_ear_octave_below(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
    size_t n;
    const sb_peak *peaks = sb_coarse_peaks(ear->coarse, &n);
    double below = 0, all = 1e-30;
    bool found[2] = {false, false};
    for (size_t i = 0; i < n; i++) {
        double hz = peaks[i].hz, power = pow(10.0, peaks[i].db / 10.0);
        int halves = (int)floor(2.0 * hz / fit->f0_hz + 0.5);
        all += power;
        if (halves % 2 == 0 || halves > HALVES_ASKED ||
            fabs(hz - 0.5 * halves * fit->f0_hz) > fmax(0.012 * hz, 2.0 / span_s))
            continue;
        below += power;
        if (halves <= 3)
            found[halves / 2] = true;
    }
    return found[0] && found[1] ? below / all : 0.0;
}

bool sb_ear_lent_its_series(const sb_ear *ear, const sb_series_fit *fit, bool alone) {
    bool doubtful;
    int k = sounds_above(ear, fit, &doubtful);
    for (int j = 2; j <= 3 && k == 1 && !alone; j++) {
        struct split split = split_power(ear, j);
        bool weak = split.between < LEAST_BETWEEN_SHARE * split.members;
        k = weak && !one_string(ear, fit, j, false) ? j : 1;
    }
    return k >= HIGH_ABOVE || (k > 1 && k * fit->f0_hz <= ear->highest_hz);
}

static bool step_up(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit) {
    bool doubtful = false;
    int k = sounds_above(ear, fit, &doubtful);
    sb_series_guess above = {.f0_hz = k * fit->f0_hz,
                             .inharmonicity = USUAL_INHARMONICITY, /* not that of two strings */
                             .highest = guess->highest / k};
    if (k == 1 || !instead(ear, &above, 0, span_s, fit))
        return false;
    ear->doubtful = ear->doubtful || doubtful;
    return true;
}

static bool step_down(sb_ear *ear, const sb_series_guess *guess, double span_s,
                      sb_series_fit *fit) {
    for (int k = 2; k <= LOWEST_BELOW; k++) {
        if (!sounds_below(ear, fit, k, span_s))
            continue;
        sb_series_guess below = {.f0_hz = fit->f0_hz / k,
                                 .inharmonicity = fmax(fit->inharmonicity, 0.0) / (k * k),
                                 .highest = guess->highest * k};
        if (instead(ear, &below, k, span_s, fit))
            return true;
    }
    return false;
}

bool sb_ear_measure_string(sb_ear *ear, const sb_series_guess *guess, double span_s,
                           sb_series_fit *fit) {
    ear->doubtful = false;
    if (!sb_ear_measure(ear, guess, span_s, fit))
        return false;
    /* Of a third string's, up once more; or down by a third, and half of it back. One that lay high
     * above may be a partial of the note's. */
    int high = sounds_high_above(ear);
    if (step_up(ear, guess, span_s, fit)) {
        sb_series_guess above = {.highest = guess->highest / high};
        if (!step_up(ear, guess, span_s, fit) && high > 1)
            (void)step_down(ear, &above, span_s, fit);
    } else if (step_down(ear, guess, span_s, fit) && !step_down(ear, guess, span_s, fit)) {
        (void)step_up(ear, guess, span_s, fit);
    }
    return true;
}
