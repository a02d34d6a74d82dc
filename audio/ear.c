#include "audio/ear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/clip.h"
#include "audio/coarse.h"
#include "audio/hum.h"
#include "audio/joint.h"
#include "audio/series.h"
#include "audio/track.h"
#include "core/pitch.h"

enum { GUESSES = 6, GUESSES_TRIED = 3, GIVE_UP_AFTER = 6, HIGHEST_ABOVE = 12 };

static const double SHORTEST_S = 0.12, FEWEST_PERIODS = 6.0;
static const double LEAST_EXPLAINED = 0.25, MOST_FOREIGN = 0.3, LITTLE_FOREIGN = 0.05;
/* What the products of clipping can do to a partial that they lie on. */
static const double OVERLOAD_CENTS = 0.4;
/* A glide less than this spoils no partial so far that it must be looked for anew. */
static const double SLIGHT_GLIDE_CENTS = 1.4;
/* Power of the partials between, over that of the others, in a series that is not too low. */
static const double LEAST_ODD_SHARE = 1e-3, LEAST_BETWEEN_SHARE = 0.03,
                    LEAST_HIGH_SHARE = 0.1; /* the 4th or a higher all but alone: not a string */
/* Lines within this of a harmonic of the mains are hum; and another string's are at least so
 * strong. */
static const double HUM_REACH_HZ = 1.5, STRING_SHARE = 0.05;
/* Recorded notes show one partial in fifty pulled by more than 8 cents, one by 17. */
static const double MOST_PULLED_CENTS = 17.0;
/* Of a plain string in the middle of its neck; near enough to find the first three by. */
static const double USUAL_INHARMONICITY = 1.5e-4;
/* The partials of recorded notes scatter by 0.9 cent about their series at most. */
static const double POOR_SCATTER_CENTS = 3.0, MOST_SCATTER_CENTS = 6.0;
static const double WEAK_ENERGY_SNR = 100.0, USEFUL_ENERGY_SNR = 30.0;
static const double MOST_LEFT_OVER = 0.35;
static const double MOST_UNREST_CENTS = 12.0; /* half against half */
static const double MOST_GLIDE_CENTS = 60.0;  /* thrice a hard pluck's: a bend or a misfit */
static const double SERIES_TOP_SHARE = 0.42, SERIES_TOP_HZ = 9500.0;

/* A measured string, as far as its partials go. */
struct heard {
    sb_track tracks[SB_MAX_PARTIALS];
    sb_series_point points[SB_MAX_PARTIALS];
    size_t n_tracks;
    sb_glide glide;
};

struct sb_ear {
    double rate_hz, lowest_hz, highest_hz;
    size_t window_max;
    sb_spectrum *spectrum;
    sb_coarse *coarse;
    sb_hum hum;
    struct heard now, kept;
};

sb_status sb_ear_new(double rate_hz, double lowest_hz, double highest_hz, sb_ear **out) {
    if (lowest_hz <= 0)
        lowest_hz = SB_EAR_LOWEST_HZ;
    if (highest_hz <= 0)
        highest_hz = SB_EAR_HIGHEST_HZ;
    if (!(rate_hz >= 4000.0 && rate_hz <= 400000.0) || !(lowest_hz >= 15.0) ||
        !(highest_hz > lowest_hz) || !(highest_hz <= 5000.0))
        return SB_E_RANGE;
    sb_ear *ear = calloc(1, sizeof *ear);
    if (!ear)
        return SB_E_MEMORY;
    ear->rate_hz = rate_hz;
    ear->lowest_hz = lowest_hz;
    ear->highest_hz = highest_hz;
    ear->window_max = (size_t)(SB_EAR_WINDOW_MAX_S * rate_hz);
    if (sb_spectrum_new(rate_hz, ear->window_max, &ear->spectrum) != SB_OK ||
        sb_coarse_new(rate_hz, lowest_hz, highest_hz, &ear->coarse) != SB_OK) {
        sb_ear_free(ear);
        return SB_E_MEMORY;
    }
    *out = ear;
    return SB_OK;
}

void sb_ear_free(sb_ear *ear) {
    if (!ear)
        return;
    sb_spectrum_free(ear->spectrum);
    sb_coarse_free(ear->coarse);
    free(ear);
}

/* ---- the partials, one by one ---- */

/* By how much hum that is not told apart from a partial may draw it, Hz: their ratio times
 * a part of what the note's length resolves. */
static double hum_pull_hz(const sb_ear *ear, const sb_track *track) {
    double span_s = (double)track->band.n * track->band.step_s;
    int k = sb_hum_at(&ear->hum, track->hz, 1.0 / span_s);
    if (k == 0)
        return 0.0;
    double own = hypot(track->lines[0].re, track->lines[0].im);
    return 0.3 / span_s * ear->hum.amplitude[k - 1] / fmax(own, 1e-12);
}

static void note_point(sb_ear *ear, size_t i) {
    const sb_track *track = &ear->now.tracks[i];
    double std_hz = hypot(track->hz_std, hum_pull_hz(ear, track));
    ear->now.points[i] =
        (sb_series_point){.number = track->number,
                          .hz = track->hz,
                          .std_cents = fmax(SB_CENTS_PER_LN * std_hz / track->hz, 1e-6),
                          .left_out = !(std_hz < 0.03 * track->hz)};
}

/* Follows the series upward, refining it by what has been found so far. */
static void climb(sb_ear *ear, const sb_series_guess *guess, double span_s) {
    double f0 = guess->f0_hz, b = guess->inharmonicity;
    double top_hz = fmin(SERIES_TOP_HZ, SERIES_TOP_SHARE * ear->rate_hz);
    int silent = 0;
    ear->now.n_tracks = 0;
    for (int number = 1; number <= SB_MAX_PARTIALS && silent < GIVE_UP_AFTER; number++) {
        double hz = sb_series_hz(f0, b, number);
        if (hz > top_hz)
            break;
        double share = number <= 3 ? 0.012 : 0.004;
        double reach = fmin(fmax(share * hz, 1.5 / span_s), 0.25 * f0);
        sb_track *track = &ear->now.tracks[ear->now.n_tracks];
        if (!sb_track_start(track, ear->spectrum, &ear->now.glide, number,
                            (sb_track_aim){hz, f0, reach})) {
            silent++;
            continue;
        }
        silent = number > guess->highest ? silent : 0;
        note_point(ear, ear->now.n_tracks++);
        sb_series_fit fit;
        if (ear->now.n_tracks >= 3 && sb_series_solve(ear->now.points, ear->now.n_tracks, &fit) &&
            fit.used >= 3) {
            f0 = fit.f0_hz;
            b = fit.inharmonicity;
        }
        for (size_t i = 0; i < ear->now.n_tracks; i++)
            ear->now.points[i].left_out = false;
    }
}

/* A partial near the noise is where the noise happened to peak: of no use beside strong ones. */
static void renote(sb_ear *ear) {
    size_t strong = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        note_point(ear, i);
        strong += ear->now.tracks[i].energy_snr >= USEFUL_ENERGY_SNR;
    }
    for (size_t i = 0; i < ear->now.n_tracks && strong >= 2; i++)
        ear->now.points[i].left_out |= ear->now.tracks[i].energy_snr < USEFUL_ENERGY_SNR;
}

static void take_glide_out(sb_ear *ear) {
    sb_glide glide = sb_glide_estimate(ear->now.tracks, ear->now.n_tracks, &ear->now.glide);
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        sb_track_turn(&ear->now.tracks[i], &ear->now.glide, &glide);
    ear->now.glide = glide;
    renote(ear);
}

static void explain_leftovers(sb_ear *ear, const sb_series_fit *fit, double span_s) {
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        double hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, ear->now.tracks[i].number);
        sb_track_add_lines(&ear->now.tracks[i], ear->spectrum, hz, fmax(0.004 * hz, 0.8 / span_s));
    }
    renote(ear);
}

static bool measure(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit) {
    ear->now.glide = (sb_glide){0};
    climb(ear, guess, span_s);
    if (ear->now.n_tracks == 0)
        return false;
    take_glide_out(ear);
    if (fabs(SB_CENTS_PER_LN * ear->now.glide.gamma) > SLIGHT_GLIDE_CENTS) {
        if (!sb_series_solve(ear->now.points, ear->now.n_tracks, fit))
            return false;
        sb_series_guess again = *guess;
        again.f0_hz = fit->f0_hz;
        again.inharmonicity = fmax(fit->inharmonicity, 0.0);
        climb(ear, &again, span_s);
        take_glide_out(ear);
    }
    if (!sb_series_solve(ear->now.points, ear->now.n_tracks, fit))
        return false;
    explain_leftovers(ear, fit, span_s);
    take_glide_out(ear);
    if (sb_joint_refine(ear->now.tracks, ear->now.n_tracks, &ear->now.glide))
        renote(ear);
    return sb_series_solve(ear->now.points, ear->now.n_tracks, fit);
}

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

/* Square of the amplitude at the band's first sample. */
static double partial_power(const sb_track *track) {
    return track->lines[0].re * track->lines[0].re + track->lines[0].im * track->lines[0].im;
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
        double power = partial_power(&ear->now.tracks[i]);
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
        double power = partial_power(&ear->now.tracks[i]);
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
        bool poor = fit->scatter_cents > POOR_SCATTER_CENTS;
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
    if (measure(ear, other, span_s, &found) && found.used >= 2 &&
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
static double foreign_share(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
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
    if (!measure(ear, guess, span_s, fit))
        return false;
    if (step_up(ear, guess, span_s, fit))
        (void)step_up(ear, guess, span_s, fit); /* of a third string's, once more */
    else
        (void)step_down(ear, guess, span_s, fit);
    return true;
}

/* Share of the partials' power that the series does not hold. */
static double stray_share(const struct heard *heard) {
    double stray = 0, all = 1e-30;
    for (size_t i = 0; i < heard->n_tracks; i++) {
        double power = partial_power(&heard->tracks[i]);
        all += power;
        stray += heard->points[i].left_out ? power : 0.0;
    }
    return stray / all;
}

/* By the first guess, unless much lies beside it and another accounts for nearly all. */
static bool recognise_and_measure(sb_ear *ear, const float samples[], size_t n, double span_s,
                                  sb_series_fit *fit) {
    sb_series_guess guesses[GUESSES];
    size_t found = sb_coarse_find(ear->coarse, samples, n, &ear->hum, guesses, GUESSES);
    if (found == 0)
        return false;
    for (size_t i = 0; i < found && i < GUESSES_TRIED; i++) {
        if (!measure_guess(ear, &guesses[i], span_s, fit))
            continue;
        double beside = foreign_share(ear, fit, span_s);
        if (i > 0)
            beside += stray_share(&ear->now);
        if (fit->scatter_cents < POOR_SCATTER_CENTS && beside < (i ? LITTLE_FOREIGN : MOST_FOREIGN))
            return true;
    }
    return measure_guess(ear, &guesses[0], span_s, fit);
}

static bool in_tune_with_mains(double hz) {
    return fmin(fabs(hz / 50.0 - 1.0), fabs(hz / 60.0 - 1.0)) < 0.004;
}

/* Hum that the room before the note did not betray: in tune with the mains, without
 * stiffness, without decay. No string is all three. Noise alone makes decays of the size of
 * its errors of frequency in radians a second (both have the same Cramer-Rao bound where
 * decay is slow); hum near the noise, heard briefly, shows no more. */
static bool is_hum(const sb_ear *ear, const sb_series_fit *fit) {
    double decay = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        double by_noise = 3.0 * SB_TWO_PI * track->hz_std;
        double beyond = fmax(0.0, fabs(track->lines[0].decay_per_s) - by_noise);
        decay = fmax(decay, ear->now.points[i].weight * beyond);
    }
    return (in_tune_with_mains(fit->sounding_hz) || in_tune_with_mains(0.5 * fit->sounding_hz)) &&
           fabs(fit->inharmonicity) < 5e-6 && decay < 0.1;
}

static void learn_hum(sb_ear *ear, const sb_series_fit *fit) {
    int multiple = fit->sounding_hz > 75.0 ? 2 : 1;
    ear->hum = (sb_hum){.mains_hz = fit->sounding_hz / multiple};
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        int k = ear->now.tracks[i].number * multiple;
        const sb_line *line = &ear->now.tracks[i].lines[0];
        if (k <= SB_HUM_HARMONICS)
            ear->hum.amplitude[k - 1] = hypot(line->re, line->im);
    }
}

/* ---- the report ---- */

static double to_db(double power) {
    return 10.0 * log10(fmax(power, 1e-12));
}

/* Another line in a partial's band: its other polarisation when it lies within a few cents,
 * else another string's, but for hum and for what is too faint to matter. */
static unsigned company_of(const sb_ear *ear, const sb_track *track) {
    unsigned flags = 0;
    const sb_line *own = &track->lines[0];
    for (size_t j = 1; j < track->n_lines; j++) {
        const sb_line *line = &track->lines[j];
        double hz = track->band.centre_hz + line->hz;
        if (sb_hum_at(&ear->hum, hz, HUM_REACH_HZ))
            continue;
        if (sb_track_other_plane(track, j))
            flags |= SB_PARTIAL_BEATING;
        else if (hypot(line->re, line->im) > STRING_SHARE * hypot(own->re, own->im))
            flags |= SB_PARTIAL_OTHER_STRING;
    }
    return flags;
}

static unsigned flags_of(const sb_ear *ear, const sb_track *track, const sb_series_point *point) {
    unsigned flags = company_of(ear, track);
    if (point->left_out && track->energy_snr >= WEAK_ENERGY_SNR)
        flags |= SB_PARTIAL_PULLED;
    if (sb_hum_at(&ear->hum, track->hz, HUM_REACH_HZ))
        flags |= SB_PARTIAL_HUM;
    if (track->energy_snr < WEAK_ENERGY_SNR)
        flags |= SB_PARTIAL_WEAK;
    return flags;
}

static void report_partials(const sb_ear *ear, sb_reading *out) {
    out->n_partials = ear->now.n_tracks;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        const sb_line *line = &track->lines[0];
        out->partials[i] = (sb_partial){.number = track->number,
                                        .hz = track->hz,
                                        .std_error_cents = ear->now.points[i].std_cents,
                                        .level_dbfs = to_db(0.5 * partial_power(track)),
                                        .decay_per_s = line->decay_per_s,
                                        .departure_cents = ear->now.points[i].departure_cents,
                                        .weight = ear->now.points[i].weight,
                                        .flags = flags_of(ear, track, &ear->now.points[i])};
    }
}

/* How far a partial's other plane lies off, times its part of the amplitude. */
static double beating_of(const sb_ear *ear, const sb_track *track) {
    const sb_line *own = &track->lines[0];
    double most = 0;
    for (size_t j = 1; j < track->n_lines; j++) {
        const sb_line *line = &track->lines[j];
        double hz = track->band.centre_hz + line->hz;
        if (!sb_track_other_plane(track, j) || sb_hum_at(&ear->hum, hz, HUM_REACH_HZ))
            continue;
        double ratio = fmin(hypot(line->re, line->im) / hypot(own->re, own->im), 1.0);
        most = fmax(most, ratio * SB_CENTS_PER_LN * fabs(line->hz - own->hz) / track->hz);
    }
    return most;
}

static double mean_beating(const sb_ear *ear) {
    double sum = 0;
    for (size_t i = 0; i < ear->now.n_tracks; i++)
        sum += ear->now.points[i].weight * beating_of(ear, &ear->now.tracks[i]);
    return sum;
}

static void report(const sb_ear *ear, const sb_series_fit *fit, sb_reading *out) {
    double common_cents = SB_CENTS_PER_LN * ear->now.glide.common_std;
    out->hz = fit->sounding_hz;
    out->inharmonicity = fmax(fit->inharmonicity, 0.0);
    out->inharmonicity_std_error = fit->inharmonicity_std;
    out->octave_partial_hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, 2);
    out->std_error_cents = hypot(fit->sounding_std_cents, common_cents);
    out->common_std_error_cents = common_cents;
    out->scatter_cents = fit->scatter_cents;
    out->beating_cents = mean_beating(ear);
    out->glide_cents = SB_CENTS_PER_LN * log1p(ear->now.glide.gamma);
    report_partials(ear, out);
}

/* Of a track's lines together, over the whole note: its band leaves out the ends, and lines
 * that lie close add up or cancel by turns. */
static double mean_power(const sb_track *track, double span_s) {
    enum { MOMENTS = 64 };
    double sum = 0;
    for (size_t k = 0; k < MOMENTS; k++) {
        double t = ((double)k + 0.5) / MOMENTS * span_s - track->band.t0_s, re = 0, im = 0;
        for (size_t j = 0; j < track->n_lines; j++) {
            const sb_line *line = &track->lines[j];
            double size = exp(fmin(-line->decay_per_s * t, 20.0));
            double angle = SB_TWO_PI * line->hz * t, c = cos(angle), s = sin(angle);
            re += size * (line->re * c - line->im * s);
            im += size * (line->re * s + line->im * c);
        }
        sum += re * re + im * im;
    }
    return 0.5 * sum / MOMENTS;
}

struct shares { /* of the sound over the span of the partials found */
    double explained, noise;
};

/* What the series holds of the sound's power, and what the noise between the partials does: a
 * real sound of variance s^2 gives a band 4 s^2 / rate of noise a hertz. */
static struct shares share_out(const sb_ear *ear, const sb_series_fit *fit, double span_s) {
    double held = 0, quietest = (double)INFINITY;
    for (size_t i = 0; i < ear->now.n_tracks; i++) {
        const sb_track *track = &ear->now.tracks[i];
        held += mean_power(track, span_s);
        quietest = fmin(quietest, track->noise * track->band.step_s);
    }
    double top_hz = ear->now.tracks[ear->now.n_tracks - 1].hz + 0.5 * fit->f0_hz;
    double power = sb_spectrum_power(ear->spectrum, 0.5 * fit->f0_hz, top_hz);
    if (!(power > 0))
        return (struct shares){0, 0};
    return (struct shares){fmin(held / power, 1.0), fmin(0.5 * quietest * top_hz / power, 1.0)};
}

/* Noise alone also has its chance lines, but they hold little of it. Much left over that the
 * noise does not account for: steady for a part of the time only, a bend or a note begun. */
static sb_pluck_fault judge(const sb_ear *ear, const sb_series_fit *fit, struct shares share,
                            double span_s) {
    double rest = 1.0 - share.explained;
    if (share.explained < LEAST_EXPLAINED)
        return SB_PLUCK_NO_PITCH;
    if (foreign_share(ear, fit, span_s) > MOST_FOREIGN || fit->scatter_cents > MOST_SCATTER_CENTS)
        return SB_PLUCK_MANY_STRINGS;
    if ((rest > MOST_LEFT_OVER && share.noise < 0.3 * rest) ||
        sb_glide_unrest_cents(ear->now.tracks, ear->now.n_tracks) > MOST_UNREST_CENTS ||
        fabs(SB_CENTS_PER_LN * ear->now.glide.gamma) > MOST_GLIDE_CENTS)
        return SB_PLUCK_UNSTEADY;
    return SB_PLUCK_GOOD;
}

void sb_ear_read(sb_ear *ear, const float samples[], size_t n, const sb_ear_scene *scene,
                 sb_reading *out) {
    memset(out, 0, sizeof *out);
    out->fault = SB_PLUCK_NO_PITCH;
    if (n > ear->window_max)
        n = ear->window_max;
    size_t skip = sb_clip_end(samples, n);
    bool overloaded = 2 * skip > n; /* too much to skip: read through it, and say less */
    if (overloaded)
        skip = 0;
    samples += skip;
    n -= skip;
    double power = 0;
    for (size_t i = 0; i < n; i++)
        power += (double)samples[i] * (double)samples[i];
    out->level_dbfs = to_db(power / (double)(n ? n : 1));
    double span_s = (double)n / ear->rate_hz;
    out->length_s = span_s;
    if (span_s < SHORTEST_S) {
        out->fault = SB_PLUCK_TOO_SHORT;
        return;
    }
    ear->hum = (sb_hum){0};
    if (scene && scene->n_room > 0)
        ear->hum = sb_coarse_hum(ear->coarse, scene->room, scene->n_room);
    sb_series_fit fit;
    sb_spectrum_load(ear->spectrum, samples, n);
    bool measured = recognise_and_measure(ear, samples, n, span_s, &fit);
    if (measured && is_hum(ear, &fit)) {
        learn_hum(ear, &fit);
        measured = recognise_and_measure(ear, samples, n, span_s, &fit);
        measured = measured && !is_hum(ear, &fit);
    }
    out->mains_hz = ear->hum.mains_hz > 0 ? (ear->hum.mains_hz < 55.0 ? 50.0 : 60.0) : 0.0;
    if (!measured)
        return;
    if (fit.sounding_hz * span_s < FEWEST_PERIODS) {
        out->fault = SB_PLUCK_TOO_SHORT;
        return;
    }
    struct shares share = share_out(ear, &fit, span_s);
    out->snr_db = to_db(share.explained / fmax(share.noise, 1e-9));
    out->fault = judge(ear, &fit, share, span_s);
    if (out->fault != SB_PLUCK_NO_PITCH)
        report(ear, &fit, out);
    if (overloaded) {
        out->std_error_cents = hypot(out->std_error_cents, OVERLOAD_CENTS);
        out->common_std_error_cents = hypot(out->common_std_error_cents, OVERLOAD_CENTS);
    }
}
