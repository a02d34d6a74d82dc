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

enum { GUESSES = 6, GIVE_UP_AFTER = 6, HIGHEST_ABOVE = 6 };

static const double SHORTEST_S = 0.12, FEWEST_PERIODS = 6.0;
static const double LEAST_EXPLAINED = 0.25, MOST_FOREIGN = 0.3;
/* What the products of clipping can do to a partial that they lie on. */
static const double OVERLOAD_CENTS = 0.4;
/* A glide less than this spoils no partial so far that it must be looked for anew. */
static const double SLIGHT_GLIDE_CENTS = 1.4;
/* Power of the partials between, over that of the others, in a series that is not too low. */
static const double LEAST_ODD_SHARE = 1e-3, LEAST_BETWEEN_SHARE = 0.03;
/* Lines within this of a harmonic of the mains are hum; and another string's are at least so
 * strong. */
static const double HUM_REACH_HZ = 1.5, STRING_SHARE = 0.05;
static const double WEAK_ENERGY_SNR = 100.0, USEFUL_ENERGY_SNR = 30.0;
static const double MOST_LEFT_OVER = 0.35;
static const double MOST_UNREST_CENTS = 12.0; /* half against half */
static const double MOST_GLIDE_CENTS = 60.0;  /* thrice a hard pluck's: a bend or a misfit */
static const double SERIES_TOP_SHARE = 0.42, SERIES_TOP_HZ = 9500.0;

struct sb_ear {
    double rate_hz, lowest_hz, highest_hz;
    size_t window_max;
    sb_spectrum *spectrum;
    sb_coarse *coarse;
    sb_track tracks[SB_MAX_PARTIALS];
    sb_series_point points[SB_MAX_PARTIALS];
    size_t n_tracks;
    sb_glide glide;
    sb_hum hum;
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
    const sb_track *track = &ear->tracks[i];
    double std_hz = hypot(track->hz_std, hum_pull_hz(ear, track));
    ear->points[i] =
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
    ear->n_tracks = 0;
    for (int number = 1; number <= SB_MAX_PARTIALS && silent < GIVE_UP_AFTER; number++) {
        double hz = sb_series_hz(f0, b, number);
        if (hz > top_hz)
            break;
        double share = number <= 3 ? 0.012 : 0.004;
        double reach = fmin(fmax(share * hz, 1.5 / span_s), 0.25 * f0);
        sb_track *track = &ear->tracks[ear->n_tracks];
        if (!sb_track_start(track, ear->spectrum, &ear->glide, number,
                            (sb_track_aim){hz, f0, reach})) {
            silent++;
            continue;
        }
        silent = number > guess->highest ? silent : 0;
        note_point(ear, ear->n_tracks++);
        sb_series_fit fit;
        if (ear->n_tracks >= 3 && sb_series_solve(ear->points, ear->n_tracks, &fit) &&
            fit.used >= 3) {
            f0 = fit.f0_hz;
            b = fit.inharmonicity;
        }
        for (size_t i = 0; i < ear->n_tracks; i++)
            ear->points[i].left_out = false;
    }
}

/* A partial near the noise is where the noise happened to peak: of no use beside strong ones. */
static void renote(sb_ear *ear) {
    size_t strong = 0;
    for (size_t i = 0; i < ear->n_tracks; i++) {
        note_point(ear, i);
        strong += ear->tracks[i].energy_snr >= USEFUL_ENERGY_SNR;
    }
    for (size_t i = 0; i < ear->n_tracks && strong >= 2; i++)
        ear->points[i].left_out |= ear->tracks[i].energy_snr < USEFUL_ENERGY_SNR;
}

static void take_glide_out(sb_ear *ear) {
    sb_glide glide = sb_glide_estimate(ear->tracks, ear->n_tracks, &ear->glide);
    for (size_t i = 0; i < ear->n_tracks; i++)
        sb_track_turn(&ear->tracks[i], &ear->glide, &glide);
    ear->glide = glide;
    renote(ear);
}

static void explain_leftovers(sb_ear *ear, const sb_series_fit *fit, double span_s) {
    for (size_t i = 0; i < ear->n_tracks; i++) {
        double hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, ear->tracks[i].number);
        sb_track_add_lines(&ear->tracks[i], ear->spectrum, hz, fmax(0.004 * hz, 0.8 / span_s));
    }
    renote(ear);
}

static bool measure(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit) {
    ear->glide = (sb_glide){0};
    climb(ear, guess, span_s);
    if (ear->n_tracks == 0)
        return false;
    take_glide_out(ear);
    if (fabs(SB_CENTS_PER_LN * ear->glide.gamma) > SLIGHT_GLIDE_CENTS) {
        if (!sb_series_solve(ear->points, ear->n_tracks, fit))
            return false;
        sb_series_guess again = *guess;
        again.f0_hz = fit->f0_hz;
        again.inharmonicity = fmax(fit->inharmonicity, 0.0);
        climb(ear, &again, span_s);
        take_glide_out(ear);
    }
    if (!sb_series_solve(ear->points, ear->n_tracks, fit))
        return false;
    explain_leftovers(ear, fit, span_s);
    take_glide_out(ear);
    if (sb_joint_refine(ear->tracks, ear->n_tracks, &ear->glide))
        renote(ear);
    return sb_series_solve(ear->points, ear->n_tracks, fit);
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
    for (size_t i = 0; i < ear->n_tracks; i++) {
        const sb_series_point *point = &ear->points[i];
        double power = partial_power(&ear->tracks[i]);
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

/* The k of which nearly all power lies on every k-th partial, 1 for none: then a string that
 * merely rings along lent its series to the one that was plucked. The highest first. */
static int sounds_above(const sb_ear *ear) {
    for (int k = HIGHEST_ABOVE; k >= 2; k--) {
        double between = 0, members = 0;
        int n = 0;
        for (size_t i = 0; i < ear->n_tracks; i++) {
            double power = partial_power(&ear->tracks[i]);
            bool member = ear->tracks[i].number % k == 0;
            *(member ? &members : &between) += power;
            n += member;
        }
        double least = k == 2 ? LEAST_ODD_SHARE : LEAST_BETWEEN_SHARE;
        if (n >= 2 && between < least * members)
            return k;
    }
    return 1;
}

/* Measures the string k times as high instead, where it has the more to show. */
static bool measure_above(sb_ear *ear, const sb_series_guess *guess, int k, double span_s,
                          sb_series_fit *fit) {
    sb_series_guess above = *guess;
    sb_series_fit higher;
    above.f0_hz = k * fit->f0_hz;
    above.inharmonicity = fmax(fit->inharmonicity, 0.0) * (k * k);
    above.highest = guess->highest / k;
    if (above.f0_hz > ear->highest_hz || !measure(ear, &above, span_s, &higher) || higher.used < 2)
        return measure(ear, guess, span_s, fit);
    *fit = higher;
    return true;
}

static bool recognise_and_measure(sb_ear *ear, const float samples[], size_t n, double span_s,
                                  sb_series_fit *fit) {
    sb_series_guess guesses[GUESSES];
    size_t found = sb_coarse_find(ear->coarse, samples, n, &ear->hum, guesses, GUESSES);
    if (found == 0 || !measure(ear, &guesses[0], span_s, fit))
        return false;
    int above = sounds_above(ear);
    if (above > 1)
        return measure_above(ear, &guesses[0], above, span_s, fit);
    for (int k = 2; k <= 3; k++) {
        if (!sounds_below(ear, fit, k, span_s))
            continue;
        sb_series_guess below = guesses[0];
        below.f0_hz = fit->f0_hz / k;
        below.inharmonicity = fmax(fit->inharmonicity, 0.0) / (k * k);
        below.highest *= k;
        sb_series_fit deeper;
        if (measure(ear, &below, span_s, &deeper) && members_agree(ear, &deeper, k)) {
            *fit = deeper;
            return true;
        }
        return measure(ear, &guesses[0], span_s, fit);
    }
    return true;
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

static bool in_tune_with_mains(double hz) {
    return fmin(fabs(hz / 50.0 - 1.0), fabs(hz / 60.0 - 1.0)) < 0.004;
}

/* Hum that the room before the note did not betray: in tune with the mains, without
 * stiffness, without decay. No string is all three. */
static bool is_hum(const sb_ear *ear, const sb_series_fit *fit) {
    double decay = 0;
    for (size_t i = 0; i < ear->n_tracks; i++)
        decay = fmax(decay, fabs(ear->points[i].weight * ear->tracks[i].lines[0].decay_per_s));
    return (in_tune_with_mains(fit->sounding_hz) || in_tune_with_mains(0.5 * fit->sounding_hz)) &&
           fabs(fit->inharmonicity) < 5e-6 && decay < 0.1;
}

static void learn_hum(sb_ear *ear, const sb_series_fit *fit) {
    int multiple = fit->sounding_hz > 75.0 ? 2 : 1;
    ear->hum = (sb_hum){.mains_hz = fit->sounding_hz / multiple};
    for (size_t i = 0; i < ear->n_tracks; i++) {
        int k = ear->tracks[i].number * multiple;
        const sb_line *line = &ear->tracks[i].lines[0];
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
    out->n_partials = ear->n_tracks;
    for (size_t i = 0; i < ear->n_tracks; i++) {
        const sb_track *track = &ear->tracks[i];
        const sb_line *line = &track->lines[0];
        out->partials[i] = (sb_partial){.number = track->number,
                                        .hz = track->hz,
                                        .std_error_cents = ear->points[i].std_cents,
                                        .level_dbfs = to_db(0.5 * partial_power(track)),
                                        .decay_per_s = line->decay_per_s,
                                        .departure_cents = ear->points[i].departure_cents,
                                        .weight = ear->points[i].weight,
                                        .flags = flags_of(ear, track, &ear->points[i])};
    }
}

static void report(const sb_ear *ear, const sb_series_fit *fit, sb_reading *out) {
    double common_cents = SB_CENTS_PER_LN * ear->glide.common_std;
    out->hz = fit->sounding_hz;
    out->inharmonicity = fmax(fit->inharmonicity, 0.0);
    out->inharmonicity_std_error = fit->inharmonicity_std;
    out->octave_partial_hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, 2);
    out->std_error_cents = hypot(fit->sounding_std_cents, common_cents);
    out->common_std_error_cents = common_cents;
    out->scatter_cents = fit->scatter_cents;
    out->glide_cents = SB_CENTS_PER_LN * log1p(ear->glide.gamma);
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
    for (size_t i = 0; i < ear->n_tracks; i++) {
        const sb_track *track = &ear->tracks[i];
        held += mean_power(track, span_s);
        quietest = fmin(quietest, track->noise * track->band.step_s);
    }
    double top_hz = ear->tracks[ear->n_tracks - 1].hz + 0.5 * fit->f0_hz;
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
    if (foreign_share(ear, fit, span_s) > MOST_FOREIGN)
        return SB_PLUCK_MANY_STRINGS;
    if ((rest > MOST_LEFT_OVER && share.noise < 0.3 * rest) ||
        sb_glide_unrest_cents(ear->tracks, ear->n_tracks) > MOST_UNREST_CENTS ||
        fabs(SB_CENTS_PER_LN * ear->glide.gamma) > MOST_GLIDE_CENTS)
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
