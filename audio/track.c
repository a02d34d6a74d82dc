#include "audio/track.h"

#include <math.h>
#include <string.h>

#include "core/order.h"
#include "core/pitch.h"

/* Energy over noise variance below which a lone line may be noise: the largest of some
 * hundred exponential variates passes 16 once in 1e4. */
static const double LEAST_ENERGY_SNR = 18.0;
/* A further line must stand this far above the residual's mean power; chance 1e-3. */
static const double LEFTOVER_SNR = 12.0;
static const double PLANES_CENTS = 5.0;
/* And leave so much less than there was, or it mends what is no sum of lines. */
static const double LEAST_WORTH = 4.0;
static const double LEAST_APART = 0.4; /* cycles over the band */

/* Puts one glide's phase at hz back into a band and takes another's out. */
static void turn_band(sb_band *band, double hz, const sb_glide *from, const sb_glide *to) {
    if (from->gamma == 0 && to->gamma == 0)
        return;
    double before_s[SB_BAND_MAX], after_s[SB_BAND_MAX];
    sb_glide_ahead(from, band->t0_s, band->step_s, band->n, before_s);
    sb_glide_ahead(to, band->t0_s, band->step_s, band->n, after_s);
    for (size_t k = 0; k < band->n; k++) {
        double angle = SB_TWO_PI * hz * (before_s[k] - after_s[k]);
        double c = cos(angle), s = sin(angle), re = band->re[k], im = band->im[k];
        band->re[k] = re * c - im * s;
        band->im[k] = re * s + im * c;
    }
}

/* ---- fitting one band ---- */

static double bin_to_hz(const sb_band *band, size_t j, size_t size) {
    double offset = j < size / 2 ? (double)j : (double)j - (double)size;
    return offset / ((double)size * band->step_s);
}

/* Strongest bin of a periodogram within reach of hz (from the centre); its power in *power. */
static double strongest(const sb_band *band, const double power[], size_t size, double hz,
                        double reach_hz, double *top) {
    double best_hz = hz;
    *top = 0;
    double bin_hz = 1.0 / ((double)size * band->step_s);
    long first = (long)ceil((hz - reach_hz) / bin_hz), last = (long)floor((hz + reach_hz) / bin_hz);
    for (long b = first; b <= last; b++) {
        size_t j = (size_t)((b % (long)size + (long)size) % (long)size);
        if (power[j] > *top)
            *top = power[j], best_hz = (double)b * bin_hz;
    }
    return best_hz;
}

/* Noise variance from the median of the residual's periodogram over the flat part: the
 * median of an exponential variate is ln 2 times its mean, and lines left over hardly
 * move it. */
static double median_noise(const sb_band *band, const double power[], size_t size) {
    double sorted[2 * SB_BAND_MAX];
    size_t above = 0, most = (size < 2 * SB_BAND_MAX ? size : 2 * SB_BAND_MAX) / 2 - 1;
    while (above < most && bin_to_hz(band, above + 1, size) <= band->pass_hz)
        above++;
    size_t n = 2 * above + 1; /* the bins below the centre are the last */
    memcpy(sorted, power, (above + 1) * sizeof power[0]);
    memcpy(sorted + above + 1, power + size - above, above * sizeof power[0]);
    return sb_kth_smallest(sorted, n, n / 2) / 0.6931471805599453;
}

/* Of what track->lines leave of the band. */
static double noise_round(sb_spectrum *spectrum, const sb_track *track) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    size_t size;
    sb_lines_subtract(&track->band, track->lines, track->n_lines, re, im);
    const double *power = sb_spectrum_periodogram(spectrum, re, im, track->band.n, false, &size);
    return median_noise(&track->band, power, size);
}

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

static void summarise(sb_track *track, double noise) {
    track->noise = fmax(noise, 1e-20);
    track->hz = track->band.centre_hz + track->lines[0].hz;
    track->hz_std = track->lines[0].hz_std_unit * sqrt(track->noise);
    track->energy_snr = line_energy(&track->band, &track->lines[0]) / track->noise;
}

bool sb_track_start(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide, int number,
                    sb_track_aim aim) {
    size_t size;
    double top;
    sb_band *band = &track->band;
    track->number = number;
    track->n_lines = 0;
    sb_spectrum_band(spectrum, aim.hz, aim.spacing_hz, band);
    if (band->n < 12)
        return false;
    turn_band(band, aim.hz, &(sb_glide){0}, glide);
    const double *power =
        sb_spectrum_periodogram(spectrum, band->re, band->im, band->n, true, &size);
    double from_centre = aim.hz - band->centre_hz;
    double hz = strongest(band, power, size, from_centre, aim.reach_hz, &top);
    sb_line line = {.hz = hz, .decay_per_s = start_decay(band)};
    if (!sb_lines_fit(band, &line, 1)) {
        line = (sb_line){.hz = hz, .decay_per_s = 0};
        if (!sb_lines_fit(band, &line, 1))
            return false;
    }
    track->lines[0] = line;
    track->n_lines = 1;
    summarise(track, noise_round(spectrum, track));
    bool stands_out =
        track->energy_snr > LEAST_ENERGY_SNR &&
        fabs(track->hz - aim.hz) < aim.reach_hz + 1.0 / (band->step_s * (double)band->n);
    if (!stands_out)
        track->n_lines = 0;
    return stands_out;
}

void sb_track_hear_noise(sb_track *track, sb_spectrum *spectrum) {
    if (track->n_lines > 0)
        summarise(track, noise_round(spectrum, track));
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

/* Lines too near to be told apart over the band cancel each other with absurd sizes. */
static bool lines_apart(const sb_band *band, const sb_line lines[], size_t n) {
    double span_s = (double)band->n * band->step_s, top = 0;
    for (size_t k = 0; k < band->n; k++)
        top = fmax(top, hypot(band->re[k], band->im[k]));
    for (size_t i = 0; i < n; i++) {
        if (hypot(lines[i].re, lines[i].im) > 1.5 * top)
            return false;
        for (size_t j = 0; j < i; j++)
            if (fabs(lines[i].hz - lines[j].hz) < LEAST_APART / span_s)
                return false;
    }
    return true;
}

static bool same_place(const sb_track *track, const sb_line *line) {
    double off = line->hz - track->lines[0].hz;
    return fabs(SB_CENTS_PER_LN * off / track->hz) < PLANES_CENTS;
}

bool sb_track_other_plane(const sb_track *track, size_t line) {
    return same_place(track, &track->lines[line]);
}

static double energy_of(const double re[], const double im[], size_t n) {
    double sum = 0;
    for (size_t k = 0; k < n; k++)
        sum += re[k] * re[k] + im[k] * im[k];
    return sum;
}

void sb_track_add_lines(sb_track *track, sb_spectrum *spectrum, double predicted_hz,
                        double reach_hz, bool both_planes) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX];
    sb_band *band = &track->band;
    while (track->n_lines > 0) {
        size_t n = track->n_lines, size;
        double top;
        sb_lines_subtract(band, track->lines, n, re, im);
        const double *power = sb_spectrum_periodogram(spectrum, re, im, band->n, true, &size);
        double noise = median_noise(band, power, size);
        summarise(track, noise);
        double hz = strongest(band, power, size, 0, band->pass_hz * 1.2, &top);
        if (!(top > LEFTOVER_SNR * fmax(noise, 1e-20)) || n == SB_LINES_MAX ||
            band->n < 8 * (n + 1))
            return;
        sb_line lines[SB_LINES_MAX];
        memcpy(lines, track->lines, sizeof lines);
        lines[n] = (sb_line){.hz = hz, .decay_per_s = 0.5};
        if (!sb_lines_fit(band, lines, n + 1) || !lines_apart(band, lines, n + 1))
            return;
        double before = energy_of(re, im, band->n);
        sb_lines_subtract(band, lines, n + 1, re, im);
        if (before < LEAST_WORTH * energy_of(re, im, band->n) ||
            (!both_planes && same_place(track, &lines[n])))
            return;
        memcpy(track->lines, lines, sizeof lines);
        track->n_lines = n + 1;
        put_partial_first(track, predicted_hz, reach_hz);
    }
}

void sb_track_cut_again(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide,
                        double spacing_hz) {
    sb_band band;
    sb_line lines[SB_LINES_MAX];
    sb_spectrum_band(spectrum, track->hz, spacing_hz, &band);
    turn_band(&band, track->hz, &(sb_glide){0}, glide);
    memcpy(lines, track->lines, sizeof lines);
    for (size_t j = 0; j < track->n_lines; j++)
        lines[j].hz += track->band.centre_hz - band.centre_hz;
    if (!sb_lines_fit(&band, lines, track->n_lines))
        return;
    track->band = band;
    memcpy(track->lines, lines, sizeof lines);
    summarise(track, noise_round(spectrum, track));
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
    turn_band(&track->band, track->hz, from, to);
    sb_line lines[SB_LINES_MAX];
    memcpy(lines, track->lines, sizeof lines);
    if (!sb_lines_fit(&track->band, lines, track->n_lines))
        return;
    memcpy(track->lines, lines, sizeof lines);
    summarise(track, track->noise);
}
