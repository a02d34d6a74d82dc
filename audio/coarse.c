#include "audio/coarse.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/decimate.h"
#include "audio/fourier.h"
#include "audio/lanes.h"
#include "core/order.h"
#include "core/pitch.h"

enum {
    FLOOR_BLOCK = 64,
    PARTIALS_SOUGHT = 40,
    CANDIDATES_MAX = 512,
    LONGEST_GAP = 8,
    PIECES = 128
};

static const double WINDOW_S = 1.0, ROOM_S = 0.6;
static const double PADDING = 4.0 / 3.0;
static const double PEAK_CLEAR_DB = 13.0; /* chance of one noise bin: 1e-6 (exponential law) */
static const double PEAK_RANGE_DB = 65.0; /* below the strongest: window side lobes, cross-talk */
/* Peaks weigh by the square root of their amplitude: a string that rings along at -20 dB has
 * as many as the one that was plucked, and may not outvote it. */
static const double LEVEL_POWER = 0.5;
static const double HIGHEST_PEAK_HZ = 9000.0;
static const double SHORTEST_ROOM_S = 0.1;
/* Hum has its harmonics below 2.5 kHz, which a decimator to so many samples a second lets pass. */
static const double LOWEST_HUM_RATE_HZ = 6100.0;

/* A windowed transform. */
struct lens {
    size_t longest, size; /* samples at most, and with zeros after them */
    sb_fourier plan;
    char *memory; /* of the plan */
    float *window;
    size_t window_n; /* length that window[] holds */
};

struct sb_coarse {
    double rate_hz, lowest_hz, highest_hz;
    struct lens note, room;
    size_t room_factor; /* by which the room's rate is lower */
    sb_decimator *decimator;
    size_t size; /* of the last transform */
    float *windowed;
    kiss_fft_cpx *rows, *spare;
    double *power, *floor; /* squared amplitude of a sine in each bin; noise of each block */
    double resolution_hz;  /* of the last window: one bin of an unpadded transform */
    sb_peak peaks[SB_PEAKS_MAX];
    double weights[SB_PEAKS_MAX];
    size_t n_peaks;
};

static bool make_lens(struct lens *lens, size_t longest) {
    lens->longest = longest;
    lens->size =
        PIECES * (size_t)kiss_fft_next_fast_size((int)(PADDING * (double)longest / PIECES));
    lens->memory = malloc(sb_fourier_bytes(lens->size, PIECES));
    lens->window = malloc(longest * sizeof(float));
    if (!lens->memory || !lens->window)
        return false;
    sb_fourier_make(&lens->plan, lens->size, PIECES, lens->memory);
    return true;
}

static void free_lens(struct lens *lens) {
    free(lens->memory);
    free(lens->window);
}

sb_status sb_coarse_new(double rate_hz, double lowest_hz, double highest_hz, sb_coarse **out) {
    sb_coarse *coarse = calloc(1, sizeof *coarse);
    if (!coarse)
        return SB_E_MEMORY;
    coarse->rate_hz = rate_hz;
    coarse->lowest_hz = lowest_hz;
    coarse->highest_hz = highest_hz;
    coarse->room_factor = (size_t)fmin(fmax(1.0, rate_hz / LOWEST_HUM_RATE_HZ), 64.0);
    bool made = make_lens(&coarse->note, (size_t)(WINDOW_S * rate_hz)) &&
                make_lens(&coarse->room, (size_t)(ROOM_S * rate_hz) / coarse->room_factor) &&
                sb_decimator_new(coarse->room_factor, &coarse->decimator) == SB_OK;
    size_t half = coarse->note.size / 2 + 1;
    coarse->windowed = malloc(coarse->note.size * sizeof(float));
    size_t rows = sb_fourier_rows(coarse->note.size, PIECES);
    coarse->rows = malloc(rows * sizeof(kiss_fft_cpx));
    coarse->spare = malloc(rows * sizeof(kiss_fft_cpx));
    coarse->power = malloc(half * sizeof(double));
    coarse->floor = malloc((half / FLOOR_BLOCK + 1) * sizeof(double));
    if (!made || !coarse->windowed || !coarse->rows || !coarse->spare || !coarse->power ||
        !coarse->floor) {
        sb_coarse_free(coarse);
        return SB_E_MEMORY;
    }
    *out = coarse;
    return SB_OK;
}

void sb_coarse_free(sb_coarse *coarse) {
    if (!coarse)
        return;
    free_lens(&coarse->note);
    free_lens(&coarse->room);
    sb_decimator_free(coarse->decimator);
    free(coarse->windowed);
    free(coarse->rows);
    free(coarse->spare);
    free(coarse->power);
    free(coarse->floor);
    free(coarse);
}

/* Hann's window of n samples; as a rule the same as last time. Of the cosines one turns into the
 * next by a rotation: after 1e5 of them it is still true to 1e-11. */
static const float *window_of(struct lens *lens, size_t n) {
    if (lens->window_n == n)
        return lens->window;
    double step = SB_TWO_PI / (double)n;
    sb_cpx now = {cos(0.5 * step), sin(0.5 * step)}, turn = {cos(step), sin(step)};
    for (size_t i = 0; i < n; i++, now = sb_cpx_times(now, turn))
        lens->window[i] = (float)(0.5 - 0.5 * now.re);
    lens->window_n = n;
    return lens->window;
}

static void transform(sb_coarse *coarse, struct lens *lens, const float samples[], size_t n) {
    const float *window = window_of(lens, n);
    coarse->size = lens->size;
    sb_lanes_centre(samples, n, coarse->windowed);
    for (size_t i = 0; i < n; i++)
        coarse->windowed[i] *= window[i];
    memset(coarse->windowed + n, 0, (coarse->size - n) * sizeof(float));
    sb_fourier_run(&lens->plan, coarse->windowed, coarse->spare, coarse->rows);
    /* A sine's two sides and the window's mean of a half make 4/n. */
    double scale = 16.0 / ((double)n * (double)n);
    for (size_t j = 0; j <= coarse->size / 2; j++) {
        kiss_fft_cpx bin = sb_fourier_bin(&lens->plan, coarse->rows, j);
        double r = (double)bin.r, i = (double)bin.i;
        coarse->power[j] = scale * (r * r + i * i) + 1e-30;
    }
}

static double bin_hz(const sb_coarse *coarse) {
    return coarse->rate_hz / (double)coarse->size;
}

sb_hum sb_coarse_hum(sb_coarse *coarse, const float samples[], size_t n) {
    size_t factor = coarse->room_factor, longest = coarse->room.longest;
    if (n > longest * factor)
        n = longest * factor;
    if ((double)n < SHORTEST_ROOM_S * coarse->rate_hz)
        return (sb_hum){0};
    sb_decimator_reset(coarse->decimator);
    n = sb_decimator_run(coarse->decimator, samples, n, coarse->windowed);
    transform(coarse, &coarse->room, coarse->windowed, n < longest ? n : longest);
    return sb_hum_find(coarse->power, coarse->size / 2 + 1, bin_hz(coarse) / (double)factor);
}

/* Median of each block of bins: partials are narrow, so most bins hold noise. */
static void measure_floor(sb_coarse *coarse, size_t last_bin) {
    for (size_t block = 0; block * FLOOR_BLOCK <= last_bin; block++) {
        double sorted[FLOOR_BLOCK];
        size_t n = 0;
        for (size_t j = block * FLOOR_BLOCK; n < FLOOR_BLOCK && j <= coarse->size / 2; j++)
            sorted[n++] = coarse->power[j];
        coarse->floor[block] = sb_kth_smallest(sorted, n, n / 2);
    }
}

static int by_level_down(const void *a, const void *b) {
    double x = ((const sb_peak *)a)->db, y = ((const sb_peak *)b)->db;
    return (x < y) - (x > y);
}

static int by_hz_up(const void *a, const void *b) {
    double x = ((const sb_peak *)a)->hz, y = ((const sb_peak *)b)->hz;
    return (x > y) - (x < y);
}

/* A bin that is the highest within the window's main lobe either side. */
static bool is_summit(const double power[], size_t j, size_t reach, size_t last) {
    size_t from = j > reach ? j - reach : 0, to = j + reach < last ? j + reach : last;
    for (size_t k = from; k <= to; k++)
        if (power[k] > power[j] || (power[k] >= power[j] && k < j))
            return false;
    return true;
}

static double to_db(double power) {
    return 10.0 * log10(power);
}

static sb_peak interpolate(const sb_coarse *coarse, size_t j) {
    double left = to_db(coarse->power[j - 1]), top = to_db(coarse->power[j]),
           right = to_db(coarse->power[j + 1]);
    double curve = left - 2.0 * top + right;
    double shift = curve < -1e-12 ? 0.5 * (left - right) / curve : 0.0;
    return (sb_peak){((double)j + shift) * bin_hz(coarse), top - 0.25 * (left - right) * shift,
                     top - to_db(coarse->floor[j / FLOOR_BLOCK])};
}

/* A peak no stronger than the hum known to be there. */
static bool is_mere_hum(const sb_coarse *coarse, const sb_peak *peak, const sb_hum *hum) {
    int k = sb_hum_at(hum, peak->hz, 2.0 * coarse->resolution_hz);
    if (k == 0)
        return false;
    return pow(10.0, peak->db / 20.0) < 2.0 * hum->amplitude[k - 1];
}

static void find_peaks(sb_coarse *coarse, const sb_hum *hum, double lowest_hz) {
    enum { FOUND_MAX = 1024 };
    sb_peak found[FOUND_MAX];
    size_t n = 0;
    size_t reach = (size_t)ceil(1.6 * coarse->resolution_hz / bin_hz(coarse));
    size_t first = (size_t)(0.8 * lowest_hz / bin_hz(coarse)) + 1;
    size_t last = (size_t)(fmin(HIGHEST_PEAK_HZ, 0.45 * coarse->rate_hz) / bin_hz(coarse));
    double clear = pow(10.0, PEAK_CLEAR_DB / 10.0);
    measure_floor(coarse, last);
    for (size_t j = first; j < last && n < FOUND_MAX; j++)
        if (coarse->power[j] > clear * coarse->floor[j / FLOOR_BLOCK] &&
            is_summit(coarse->power, j, reach, last)) {
            found[n] = interpolate(coarse, j);
            n += !is_mere_hum(coarse, &found[n], hum);
        }
    qsort(found, n, sizeof found[0], by_level_down);
    coarse->n_peaks = 0;
    while (coarse->n_peaks < n && coarse->n_peaks < SB_PEAKS_MAX &&
           found[coarse->n_peaks].db > found[0].db - PEAK_RANGE_DB) {
        coarse->peaks[coarse->n_peaks] = found[coarse->n_peaks];
        coarse->n_peaks++;
    }
    qsort(coarse->peaks, coarse->n_peaks, sizeof coarse->peaks[0], by_hz_up);
    for (size_t i = 0; i < coarse->n_peaks; i++)
        coarse->weights[i] = pow(10.0, LEVEL_POWER * (coarse->peaks[i].db - found[0].db) / 20.0) *
                             fmin(1.0, coarse->peaks[i].above_floor_db / 25.0);
}

/* Running fit of (f_n/n)^2 = f0^2 + f0^2 B n^2, with a weak pull of B toward small values
 * so that two partials do not decide it. */
struct follower {
    double w, wx, wy, wxx, wxy; /* x = n^2, y = (f_n/n)^2 / f_start^2 */
    double start_hz;
    double f0_hz, inharmonicity;
};

static void follow(struct follower *fit, int n, double hz, double resolution_hz) {
    double x = (double)n * n, y = pow(hz / n / fit->start_hz, 2);
    double sigma = 2.0 * (0.15 * resolution_hz + 0.0008 * hz) / (n * fit->start_hz);
    double w = 1.0 / (sigma * sigma);
    fit->w += w, fit->wx += w * x, fit->wy += w * y;
    fit->wxx += w * x * x, fit->wxy += w * x * y;
    double prior = 1.0 / (6e-4 * 6e-4); /* B is seldom above 6e-4; basses reach 1.2e-3 */
    double det = fit->w * (fit->wxx + prior) - fit->wx * fit->wx;
    double level = (fit->wy * (fit->wxx + prior) - fit->wxy * fit->wx) / det;
    double slope = (fit->w * fit->wxy - fit->wx * fit->wy) / det;
    if (!(level > 0.5))
        return;
    fit->f0_hz = fit->start_hz * sqrt(level);
    fit->inharmonicity = fmin(fmax(slope / level, 0.0), 4e-3);
}

static double predicted(const struct follower *fit, int n) {
    return n * fit->f0_hz * sqrt(1.0 + fit->inharmonicity * n * n);
}

/* The strongest peak within `reach_hz`, discounted by its distance; -1 for none. */
static long nearest_peak(const sb_coarse *coarse, double hz, double reach_hz) {
    size_t low = 0, high = coarse->n_peaks;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (coarse->peaks[middle].hz < hz - reach_hz)
            low = middle + 1;
        else
            high = middle;
    }
    long best = -1;
    double best_worth = 0;
    for (size_t i = low; i < coarse->n_peaks && coarse->peaks[i].hz <= hz + reach_hz; i++) {
        double off = (coarse->peaks[i].hz - hz) / reach_hz;
        double worth = coarse->weights[i] * (1.0 - 0.7 * off * off);
        if (worth > best_worth)
            best_worth = worth, best = (long)i;
    }
    return best;
}

static double top_hz(const sb_coarse *coarse) {
    return coarse->n_peaks ? coarse->peaks[coarse->n_peaks - 1].hz : 0.0;
}

/* Follows a series upward from a start value; marks what it explains in used[]. */
static sb_series_guess explain(const sb_coarse *coarse, double start_hz, double total) {
    struct follower fit = {.start_hz = start_hz, .f0_hz = start_hz};
    sb_series_guess guess = {0};
    bool used[SB_PEAKS_MAX] = {false};
    double gained = 0, missing = 0, pending = 0, envelope = 0;
    for (int n = 1; n <= PARTIALS_SOUGHT; n++) {
        double hz = predicted(&fit, n);
        if (hz > top_hz(coarse) * 1.02)
            break;
        /* A start is true to a per cent or so; what lies further off is another's peak. */
        double share = guess.matched < 4 ? fmin(0.01 + 0.015 * n, 0.07) : 0.035;
        double reach = share * fit.f0_hz;
        reach = fmin(fmax(reach, 1.2 * coarse->resolution_hz), 0.3 * fit.f0_hz);
        long i = nearest_peak(coarse, hz, reach);
        if (i < 0 || used[i]) {
            if (++pending > LONGEST_GAP && guess.matched > 0)
                break; /* what fits beyond fits by chance */
            continue;
        }
        used[i] = true;
        gained += coarse->weights[i];
        envelope = guess.matched ? 0.5 * (envelope + coarse->weights[i]) : coarse->weights[i];
        missing += envelope * pending; /* gaps below a partial that is there cost as it gains */
        pending = 0;
        guess.matched++;
        guess.highest = n;
        follow(&fit, n, coarse->peaks[i].hz, coarse->resolution_hz);
    }
    guess.f0_hz = fit.f0_hz;
    guess.inharmonicity = fit.inharmonicity;
    guess.score = gained - 0.35 * (total - gained) - missing;
    return guess;
}

static size_t collect_candidates(const sb_coarse *coarse, double lowest_hz, double highest_hz,
                                 double candidates[]) {
    sb_peak strongest[SB_PEAKS_MAX];
    size_t n = 0, tops = coarse->n_peaks < 14 ? coarse->n_peaks : 14;
    memcpy(strongest, coarse->peaks, coarse->n_peaks * sizeof strongest[0]);
    qsort(strongest, coarse->n_peaks, sizeof strongest[0], by_level_down);
    for (size_t i = 0; i < tops; i++) {
        for (int k = 1; k <= 10; k++)
            candidates[n++] = strongest[i].hz / k;
        for (size_t j = 0; j < i && j < 6; j++)
            candidates[n++] = fabs(strongest[i].hz - strongest[j].hz);
    }
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        bool wanted = candidates[i] >= lowest_hz * 0.97 && candidates[i] <= highest_hz * 1.03;
        for (size_t j = 0; wanted && j < kept; j++)
            wanted = fabs(candidates[j] / candidates[i] - 1.0) > 0.004;
        if (wanted)
            candidates[kept++] = candidates[i];
    }
    return kept;
}

static void insert_guess(sb_series_guess guesses[], size_t *n, size_t max, sb_series_guess guess) {
    for (size_t i = 0; i < *n; i++) {
        if (fabs(guesses[i].f0_hz / guess.f0_hz - 1.0) >= 0.03)
            continue;
        if (guesses[i].score >= guess.score)
            return;
        memmove(&guesses[i], &guesses[i + 1], (*n - i - 1) * sizeof guess);
        (*n)--;
        break;
    }
    size_t at = *n;
    while (at > 0 && guesses[at - 1].score < guess.score)
        at--;
    if (at >= max)
        return;
    if (*n == max)
        (*n)--;
    memmove(&guesses[at + 1], &guesses[at], (*n - at) * sizeof guess);
    guesses[at] = guess;
    (*n)++;
}

size_t sb_coarse_find(sb_coarse *coarse, const float samples[], size_t n, const sb_hum *hum,
                      sb_series_guess guesses[], size_t max) {
    if (n > coarse->note.longest)
        n = coarse->note.longest;
    coarse->n_peaks = 0;
    if (n < 64)
        return 0;
    coarse->resolution_hz = coarse->rate_hz / (double)n;
    transform(coarse, &coarse->note, samples, n);
    find_peaks(coarse, hum, coarse->lowest_hz);
    double candidates[CANDIDATES_MAX], total = 0;
    for (size_t i = 0; i < coarse->n_peaks; i++)
        total += coarse->weights[i];
    size_t n_candidates =
        collect_candidates(coarse, coarse->lowest_hz, coarse->highest_hz, candidates);
    size_t found = 0;
    for (size_t i = 0; i < n_candidates; i++) {
        sb_series_guess guess = explain(coarse, candidates[i], total);
        if (guess.matched && guess.f0_hz >= coarse->lowest_hz * 0.97 &&
            guess.f0_hz <= coarse->highest_hz * 1.03)
            insert_guess(guesses, &found, max, guess);
    }
    return found;
}

const sb_peak *sb_coarse_peaks(const sb_coarse *coarse, size_t *n) {
    *n = coarse->n_peaks;
    return coarse->peaks;
}
