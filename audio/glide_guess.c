#include <math.h>

#include "audio/glide_parts.h"
#include "core/pitch.h"

enum { TAUS = 4, AMOUNTS = 7, REFININGS = 3 };

static const double TAU_S[TAUS] = {0.08, 0.2, 0.5, 1.25};
static const double AMOUNT_CENTS[AMOUNTS] = {1.5, 3, 6, 9, 12, 15, 19};
static const double FIRST_STEP = 0.3; /* of the logarithms of both, halved every time */

/* Of a band's samples: two so far apart differ most by a glide, and many pairs are left. */
static const size_t LAG_SHARE = 3;
/* What else is in a band may be 20 dB below the partial: no track says more than that allows. */
static const double OTHERS_POWER = 0.01;
/* Log likelihood: one track's change that is none, and what all together have to gain. */
static const double SLIGHT = 5.0, LEAST_GAIN = 20.0;
/* A lesser glide leaves the partials whole enough to be followed. */
static const double LEAST_CENTS = 1.0;
/* Of the tracks: those that may be another string's or hum, steady though the note glides. */
static const double STEADY_SHARE = 0.2;
static const size_t FEWEST_SHARED = 3;

/* Products of the samples that lie `lag` apart: of one line they all have one phase, however the
 * line is tuned, and a glide turns them by what it gains over the lag. */
struct products {
    size_t n;
    double lag_s, t0_s, step_s, turn; /* turn: radians a second of running ahead */
    double re[SB_GLIDE_BLOCKS_MAX], im[SB_GLIDE_BLOCKS_MAX], sizes;
    double count;  /* independent samples of the band */
    double steady; /* its likelihood without a glide */
};

static void add_up(const double x[], size_t n, double out[]) {
    for (size_t k = 0; k < n; k++) {
        out[k] = 0;
        for (size_t j = 0; j < SB_GLIDE_BLOCK; j++)
            out[k] += x[k * SB_GLIDE_BLOCK + j];
    }
}

static void multiply(const sb_track *track, struct products *out) {
    const sb_band *band = &track->band;
    double re[SB_GLIDE_BLOCKS_MAX], im[SB_GLIDE_BLOCKS_MAX];
    size_t blocks = band->n / SB_GLIDE_BLOCK, lag = blocks / LAG_SHARE;
    add_up(band->re, blocks, re);
    add_up(band->im, blocks, im);
    out->n = blocks - lag;
    out->step_s = SB_GLIDE_BLOCK * band->step_s;
    out->lag_s = (double)lag * out->step_s;
    out->t0_s = band->t0_s + 0.5 * (SB_GLIDE_BLOCK - 1) * band->step_s;
    out->turn = SB_TWO_PI * track->hz;
    out->count = sb_band_independent(band);
    out->sizes = 0;
    for (size_t k = 0; k < out->n; k++) {
        out->re[k] = re[k + lag] * re[k] + im[k + lag] * im[k];
        out->im[k] = im[k + lag] * re[k] - re[k + lag] * im[k];
        out->sizes += hypot(out->re[k], out->im[k]);
    }
}

/* Log likelihood of one line and a glide of gamma exp(-t/tau), less a constant: by how much of the
 * products adds up once it is taken out. */
static double likelihood(const struct products *of, double gamma, double tau) {
    double re = 0, im = 0, left = exp(-of->t0_s / tau), factor = exp(-of->step_s / tau);
    double most = of->turn * gamma * tau * (1.0 - exp(-of->lag_s / tau));
    for (size_t k = 0; k < of->n; k++, left *= factor) {
        double c = cos(most * left), s = sin(most * left);
        re += of->re[k] * c + of->im[k] * s;
        im += of->im[k] * c - of->re[k] * s;
    }
    double share = (re * re + im * im) / (of->sizes * of->sizes);
    return -of->count * log(1.0 - fmin(share, 1.0) + OTHERS_POWER);
}

/* A glide, and what all tracks say of it. */
struct guess {
    double gamma, tau_s, merit;
};

static struct guess judge(const struct products of[], size_t n, double gamma, double tau_s) {
    struct guess guess = {gamma, tau_s, 0};
    for (size_t i = 0; i < n; i++) {
        double own = likelihood(&of[i], gamma, tau_s), top = fmax(own, of[i].steady);
        guess.merit += top + log((1.0 - STEADY_SHARE) * exp(own - top) +
                                 STEADY_SHARE * exp(of[i].steady - top));
    }
    return guess;
}

static struct guess better(struct guess a, struct guess b) {
    return b.merit > a.merit ? b : a;
}

/* None, where nothing on the grid is better than that. */
static struct guess search(const struct products of[], size_t n) {
    struct guess best = judge(of, n, 0, 1.0);
    for (size_t i = 0; i < TAUS; i++)
        for (size_t j = 0; j < AMOUNTS; j++)
            best = better(best, judge(of, n, AMOUNT_CENTS[j] / SB_CENTS_PER_LN, TAU_S[i]));
    double step = FIRST_STEP;
    for (int round = 0; best.gamma != 0 && round < REFININGS; round++, step *= 0.5) {
        struct guess at = best;
        for (int i = -1; i <= 1; i++)
            for (int j = -1; j <= 1; j++)
                best =
                    better(best, judge(of, n, at.gamma * exp(step * i), at.tau_s * exp(step * j)));
    }
    return best;
}

/* More tracks are the better for it than the worse: those are another string's, or hum. */
static bool is_shared(const struct products of[], size_t n, const struct guess *glide) {
    size_t up = 0, down = 0;
    for (size_t i = 0; i < n; i++) {
        double change = likelihood(&of[i], glide->gamma, glide->tau_s) - of[i].steady;
        up += change > SLIGHT;
        down += change < -SLIGHT;
    }
    return up >= FEWEST_SHARED && up > down;
}

static double worth_of(const sb_track *track) {
    const sb_band *band = &track->band;
    if (track->n_lines == 0)
        return 0.0;
    return sb_band_energy(band->re, band->im, band->n) * track->hz * track->hz;
}

sb_glide sb_glide_guess(const sb_track tracks[], size_t n) {
    struct products of[SB_GLIDE_TRACKS];
    size_t chosen[SB_GLIDE_TRACKS], smeared = 0;
    size_t kept = sb_glide_choose(tracks, n, worth_of, chosen);
    for (size_t i = 0; i < kept; i++)
        smeared += !tracks[chosen[i]].complete;
    if (2 * smeared <= kept)
        return (sb_glide){0};
    for (size_t i = 0; i < kept; i++) {
        multiply(&tracks[chosen[i]], &of[i]);
        of[i].steady = likelihood(&of[i], 0, 1.0);
    }
    struct guess best = search(of, kept);
    bool found = best.merit > judge(of, kept, 0, 1.0).merit + LEAST_GAIN &&
                 SB_CENTS_PER_LN * best.gamma > LEAST_CENTS && is_shared(of, kept, &best);
    if (!found)
        return (sb_glide){0};
    return sb_glide_exponential(best.gamma, best.tau_s);
}
