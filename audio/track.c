#include "audio/track.h"

#include <math.h>
#include <string.h>

#include "audio/summits.h"
#include "core/pitch.h"

/* Energy over noise variance below which a lone line may be noise: the largest of some
 * hundred exponential variates passes 16 once in 1e4. */
static const double LEAST_ENERGY_SNR = 18.0;
/* A further line must stand this far above the noise; chance 1e-2, less off the middle. */
static const double LEFTOVER_SNR = 8.5;
static const double PLANES_CENTS = 5.0;
/* And leave so much less than there was, or it mends what is no sum of lines. */
static const double LEAST_WORTH = 4.0;
static const double FASTEST_PER_S = 50.0; /* decay of a string's partial */
static const double PASSED_SHARE = 0.75;  /* of white noise, by a band's filter, where it is flat */

/* ---- fitting one band ---- */

static double start_decay(const sb_band *band) {
    double early = 1e-30, late = 1e-30;
    for (size_t k = 0; k < band->n; k++) {
        double e = band->re[k] * band->re[k] + band->im[k] * band->im[k];
        *(k < band->n / 2 ? &early : &late) += e;
    }
    double span_s = (double)band->n * band->step_s;
    return fmin(fmax(log(early / late) / span_s, 0.0), 30.0);
}

static double line_energy(const sb_band *band, const sb_line *line) {
    double ratio = exp(-2.0 * line->decay_per_s * band->step_s), sum;
    sum = fabs(1.0 - ratio) < 1e-12 ? (double)band->n
                                    : (1.0 - pow(ratio, (double)band->n)) / (1.0 - ratio);
    return (line->re * line->re + line->im * line->im) * sum;
}

double sb_track_sample_noise(const sb_track *track) {
    return PASSED_SHARE * track->noise;
}

static void summarise(sb_track *track, double noise) {
    track->noise = fmax(noise, 1e-20);
    track->hz = track->band.centre_hz + track->lines[0].hz;
    track->hz_std = track->lines[0].hz_std_unit * sqrt(track->noise);
    track->energy_snr = line_energy(&track->band, &track->lines[0]) / track->noise;
}

/* Takes the noise round the lines, and returns where another line stands out of it most: then
 * track->complete is false. */
static double hear(sb_track *track, struct sb_summits *view) {
    double top, hz;
    sb_summits_look(view, &track->band, track->lines, track->n_lines);
    summarise(track, sb_summits_noise(view));
    hz = sb_summits_strongest(view, 0, view->searched_hz, &top);
    track->complete = !(top > LEFTOVER_SNR * track->noise);
    return hz;
}

bool sb_track_start(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide, int number,
                    sb_track_aim aim) {
    struct sb_summits view;
    double top;
    sb_band *band = &track->band;
    track->number = number;
    track->n_lines = 0;
    track->told_apart = track->astray = false;
    track->n_apart = 0;
    sb_spectrum_band(spectrum, aim.hz, aim.spacing_hz, band);
    if (band->n < 12)
        return false;
    sb_glide_turn(band, number, aim.hz, &(sb_glide){0}, glide);
    double from_centre = aim.hz - band->centre_hz;
    sb_summits_open(&view, spectrum, band, fabs(from_centre) + aim.reach_hz);
    sb_summits_look(&view, band, track->lines, track->n_lines);
    double hz = sb_summits_strongest(&view, from_centre, aim.reach_hz, &top);
    sb_line line = {.hz = hz, .decay_per_s = start_decay(band)};
    if (!sb_lines_fit(band, &line, 1)) {
        line = (sb_line){.hz = hz, .decay_per_s = 0};
        if (!sb_lines_fit(band, &line, 1))
            return false;
    }
    track->lines[0] = line;
    track->n_lines = 1;
    (void)hear(track, &view);
    bool stands_out =
        track->energy_snr > LEAST_ENERGY_SNR &&
        fabs(track->hz - aim.hz) < aim.reach_hz + 1.0 / (band->step_s * (double)band->n);
    if (!stands_out)
        track->n_lines = 0;
    return stands_out;
}

void sb_track_hear_noise(sb_track *track, sb_spectrum *spectrum) {
    struct sb_summits view;
    if (track->n_lines == 0)
        return;
    sb_summits_open(&view, spectrum, &track->band, 0);
    (void)hear(track, &view);
}

static void put_first(sb_track *track, size_t line) {
    sb_line partial = track->lines[line];
    track->lines[line] = track->lines[0];
    track->lines[0] = partial;
}

/* The partial is the strongest line near where the series wants it. */
static void put_partial_first(sb_track *track, double predicted_hz, double reach_hz) {
    size_t best = 0;
    double best_energy = 0;
    for (size_t j = 0; j < track->n_lines; j++) {
        double off = fabs(track->band.centre_hz + track->lines[j].hz - predicted_hz);
        double energy = line_energy(&track->band, &track->lines[j]);
        if (off <= reach_hz && energy > best_energy)
            best_energy = energy, best = j;
    }
    put_first(track, best);
}

static bool same_place(const sb_track *track, const sb_line *line) {
    double off = line->hz - track->lines[0].hz;
    return fabs(SB_CENTS_PER_LN * off / track->hz) < PLANES_CENTS;
}

bool sb_track_other_plane(const sb_track *track, size_t line) {
    return same_place(track, &track->lines[line]);
}

bool sb_track_add_lines(sb_track *track, sb_spectrum *spectrum, double predicted_hz,
                        double reach_hz, bool both_planes) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    struct sb_summits view;
    sb_band *band = &track->band;
    if (track->n_lines == 0 || track->complete)
        return false;
    size_t had = track->n_lines;
    sb_summits_open(&view, spectrum, band, 0);
    for (;;) {
        size_t n = track->n_lines;
        double hz = hear(track, &view);
        if (track->complete || n == SB_LINES_MAX || !sb_lines_have_room(band, n + 1))
            break;
        sb_line lines[SB_LINES_MAX];
        memcpy(lines, track->lines, sizeof lines);
        lines[n] = (sb_line){.hz = hz, .decay_per_s = 0.5};
        if (!sb_lines_fit(band, lines, n + 1) || !sb_lines_apart(band, lines, n + 1))
            break;
        sb_lines_subtract(band, track->lines, n, re, im);
        double before = sb_band_energy(re, im, band->n);
        sb_lines_subtract(band, lines, n + 1, re, im);
        if (before < LEAST_WORTH * sb_band_energy(re, im, band->n) ||
            (!both_planes && same_place(track, &lines[n])))
            break;
        memcpy(track->lines, lines, sizeof lines);
        track->n_lines = n + 1;
        put_partial_first(track, predicted_hz, reach_hz);
    }
    return track->n_lines > had;
}

static void copy_band(const sb_band *from, sb_band *to) {
    memcpy(to, from, offsetof(sb_band, re));
    memcpy(to->re, from->re, from->n * sizeof from->re[0]);
    memcpy(to->im, from->im, from->n * sizeof from->im[0]);
}

void sb_track_take(sb_track *track, sb_spectrum *spectrum, const sb_band *band,
                   const sb_line lines[]) {
    copy_band(band, &track->band);
    memcpy(track->lines, lines, track->n_lines * sizeof lines[0]);
    sb_track_hear_noise(track, spectrum);
}

/* As far as it is a string's. */
static double decay_of(const sb_track *track) {
    return fmin(fmax(track->lines[0].decay_per_s, 0.0), FASTEST_PER_S);
}

void sb_track_cut_again(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide,
                        double spacing_hz) {
    sb_band band;
    sb_line lines[SB_LINES_MAX];
    track->complete = false;
    sb_spectrum_band(spectrum, track->hz, spacing_hz, &band);
    sb_track_keep_apart(track, &band);
    band.decay_per_s = decay_of(track);
    sb_glide_turn(&band, track->number, track->hz, &(sb_glide){0}, glide);
    memcpy(lines, track->lines, sizeof lines);
    for (size_t j = 0; j < track->n_lines; j++)
        lines[j].hz += track->band.centre_hz - band.centre_hz;
    if (!sb_lines_fit(&band, lines, track->n_lines))
        return;
    sb_track_take(track, spectrum, &band, lines);
}

static double early_energy(const sb_line *line) {
    return sb_line_early_energy(line->re, line->im, line->decay_per_s);
}

void sb_track_put_plucked_first(sb_track *track) {
    size_t best = 0;
    for (size_t j = 1; j < track->n_lines; j++)
        if (sb_track_other_plane(track, j) &&
            early_energy(&track->lines[j]) > early_energy(&track->lines[best]))
            best = j;
    if (best == 0)
        return;
    put_first(track, best);
    summarise(track, track->noise);
}

void sb_track_turn(sb_track *track, const sb_glide *from, const sb_glide *to) {
    if (track->n_lines == 0 || (from->gamma == 0 && to->gamma == 0))
        return;
    track->complete = false;
    if (from->gamma == 0)
        track->band.decay_per_s = decay_of(track);
    sb_glide_turn(&track->band, track->number, track->hz, from, to);
    sb_line lines[SB_LINES_MAX];
    memcpy(lines, track->lines, sizeof lines);
    if (!sb_lines_fit(&track->band, lines, track->n_lines))
        return;
    memcpy(track->lines, lines, sizeof lines);
    summarise(track, track->noise);
}
