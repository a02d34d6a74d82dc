#include "audio/ear_parts.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

enum {
    HIGHEST_ABOVE = SB_MAX_PARTIALS,
    HIGH_ABOVE = 5,
    LOWEST_BELOW = 5,
    FEWEST_FOREIGN = 3,
    HALVES_ASKED = 9
};

/* As SB_EAR_LEAST_BETWEEN, for every other partial of a series that lies close. */
static const double LEAST_ODD_SHARE = 1e-3;
/* No string is the 4th or a higher one where its multiples are not heard, and those between
 * scatter. */
static const double SINGLE_SHARE = 0.05;
/* On every 5th or a higher one no string has most of its power: recorded and made notes have 1.7
 * and more of it elsewhere, fits to a string that rings along 0.2 and less. */
static const double LEAST_ELSEWHERE = 0.5;
/* Of the peaks' power: what one peak more or less in reach may come to. */
static const double LOST_SHARE = 0.1;
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

/* Power of all partials but every k-th, over that of these. */
static double elsewhere(const sb_ear *ear, int k) {
    struct split split = sb_ear_split_power(ear, k);
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
            if (k % j == 0 && elsewhere(ear, j) < SB_EAR_LEAST_BETWEEN_HIGH)
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
        struct split split = sb_ear_split_power(ear, k);
        double between = split.between + split.between_off;
        bool poor = fit->scatter_cents > SB_EAR_POOR_SCATTER_CENTS;
        bool off = split.members_off > 0.5 * split.members;
        double least = k >= 3 || poor ? SB_EAR_LEAST_BETWEEN_HIGH
                       : off          ? SB_EAR_LEAST_BETWEEN
                                      : LEAST_ODD_SHARE;
        double most = fmax(least, SB_EAR_LEAST_BETWEEN);
        bool alone = split.n_members >= (k <= 3 ? 1 : 2) && split.between < least * split.members &&
                     between < most * split.members;
        bool single = k > 3 && split.n_members == 1 &&
                      fit->scatter_cents > SB_EAR_USUAL_SCATTER_CENTS &&
                      between < SINGLE_SHARE * split.members;
        bool strangers = 2.0 * between < split.members && sb_ear_strangers_between(ear, fit, k);
        if (((alone || single) && !sb_ear_one_string(ear, fit, k, false)) || strangers) {
            *doubtful = !strangers && sb_ear_one_string(ear, fit, k, true);
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
        if (below == 0 || sb_ear_one_string(ear, &found, below, false)) {
            *fit = found;
            return true;
        }
        ear->doubtful = ear->doubtful || sb_ear_one_string(ear, &found, below, true) ||
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
        struct split split = sb_ear_split_power(ear, j);
        bool weak = split.between < SB_EAR_LEAST_BETWEEN * split.members;
        k = weak && !sb_ear_one_string(ear, fit, j, false) ? j : 1;
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
