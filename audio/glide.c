#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audio/track.h"
#include "core/pitch.h"

enum { FEWEST_BLOCKS = 3, TRACKS_USED = 10, RATES = SB_GLIDE_TERMS - 1, LONE = 5, ZOOMS = 9, ACCOUNTS = 2 };

/* Samples of a band that are taken together: a glide changes little in 20 ms. */
enum { BLOCK = 4, BLOCKS_MAX = SB_BAND_MAX / BLOCK };

/* What glides are like before this one is heard: a relative shift at the first measured
 * sample of some 3 cents, up to 20 for hard plucks (the stretch of a 4 mm pluck). It follows
 * the energy, so its rates lie between twice the slowest and somewhat more than twice the
 * fastest decay of the partials; a lone rate is most often about 3 a second. Stretch raises a
 * pitch; next to nothing lowers it. */
static const double PRIOR_GAMMA = 0.004, PRIOR_FALL = 0.0004, LEAST_AMOUNT = 0.0003;
static const double TEMPER = 3.0, LEAST_WEIGHT = 1e-3;
static const double SHARE_SPREAD = 0.5, LEAST_SHARE = 0.01;
static const double PRIOR_RATE_PER_S = 3.0, PRIOR_LN_RATE = 0.9;
static const double SLOWEST_PER_S = 0.4, RATE_GROWTH = 1.5;
static const double SAMPLE_SNR = 8.0; /* below it a phase may slip a turn */
static const double LOUD_SHARE = 0.05;

void sb_glide_ahead(const sb_glide *glide, double t0_s, double step_s, size_t n, double out[]) {
    memset(out, 0, n * sizeof out[0]);
    for (size_t m = 0; glide->gamma != 0 && m < glide->terms; m++) {
        double left = exp(-glide->rate_per_s[m] * t0_s),
               factor = exp(-glide->rate_per_s[m] * step_s);
        double size = glide->gamma * glide->weight[m] / glide->rate_per_s[m];
        for (size_t k = 0; k < n; k++) {
            out[k] += size * (1.0 - left);
            left *= factor;
        }
    }
}

/* Unwrapped phase of the partial as a time shift u(t), weights |z|^2 hz^2/noise, up to
 * where it sinks toward the noise. Returns how many samples hold. */
static size_t time_shift(const sb_track *track, const sb_glide *present, double u[], double w[]) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX], previous = 0, phase = 0;
    double ahead_s[SB_BAND_MAX];
    const sb_band *band = &track->band;
    sb_lines_subtract(band, track->lines + 1, track->n_lines - 1, re, im);
    sb_glide_ahead(present, band->t0_s, band->step_s, band->n, ahead_s);
    double rotate = SB_TWO_PI * track->lines[0].hz * band->step_s, peak2 = 0;
    for (size_t k = 0; k < band->n; k++)
        peak2 = fmax(peak2, re[k] * re[k] + im[k] * im[k]);
    /* A glide not yet taken out leaves so much over that it passes for noise. */
    double least2 = fmin(SAMPLE_SNR * track->noise, LOUD_SHARE * peak2);
    for (size_t k = 0; k < band->n; k++) {
        double size2 = re[k] * re[k] + im[k] * im[k];
        if (size2 < least2)
            return k;
        double angle = atan2(im[k], re[k]);
        double turn = k ? angle - previous - rotate : angle;
        phase += turn - SB_TWO_PI * floor(turn / SB_TWO_PI + 0.5);
        previous = angle;
        u[k] = phase / (SB_TWO_PI * track->hz) + ahead_s[k];
        w[k] = size2 * pow(SB_TWO_PI * track->hz, 2) / (0.5 * track->noise);
    }
    return band->n;
}

/* Indices of the tracks that carry most phase information. */
static size_t choose_tracks(const sb_track tracks[], size_t n, size_t chosen[]) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (tracks[i].n_lines == 0 || !(tracks[i].energy_snr > 200.0))
            continue;
        double worth = tracks[i].energy_snr * tracks[i].hz * tracks[i].hz;
        size_t at = kept;
        while (at > 0) {
            const sb_track *other = &tracks[chosen[at - 1]];
            if (other->energy_snr * other->hz * other->hz >= worth)
                break;
            if (at < TRACKS_USED)
                chosen[at] = chosen[at - 1];
            at--;
        }
        if (at < TRACKS_USED)
            chosen[at] = i;
        if (kept < TRACKS_USED)
            kept++;
    }
    return kept;
}

/* The usable tracks' time shifts, worked out once and then held against many shapes. */
struct evidence {
    size_t n;
    struct {
        size_t held; /* blocks */
        double t0_s, step_s, u[BLOCKS_MAX], w[BLOCKS_MAX];
    } track[TRACKS_USED];
};

static void gather(const sb_track tracks[], size_t n, const sb_glide *present,
                   struct evidence *seen) {
    double u[SB_BAND_MAX], w[SB_BAND_MAX];
    size_t chosen[TRACKS_USED + 1], kept = choose_tracks(tracks, n, chosen);
    seen->n = 0;
    for (size_t i = 0; i < kept; i++) {
        const sb_track *track = &tracks[chosen[i]];
        size_t blocks = time_shift(track, present, u, w) / BLOCK;
        seen->track[seen->n].held = blocks;
        seen->track[seen->n].step_s = BLOCK * track->band.step_s;
        seen->track[seen->n].t0_s = track->band.t0_s + 0.5 * (BLOCK - 1) * track->band.step_s;
        for (size_t k = 0; k < blocks; k++) {
            double sum = 0, weight = 0;
            for (size_t j = k * BLOCK; j < (k + 1) * BLOCK; j++)
                weight += w[j], sum += w[j] * u[j];
            seen->track[seen->n].u[k] = sum / weight;
            seen->track[seen->n].w[k] = weight;
        }
        seen->n += blocks >= FEWEST_BLOCKS;
    }
}

/* ---- what the tracks say of glides at each of the rates ---- */

/* Columns of the regression: by how much a glide of unit gamma has the string ahead, one a
 * rate, and the observed shift. */
enum { U = 0, FIRST, COLUMNS = FIRST + RATES };

/* Weighted cross products of what remains of the columns once each track has a constant and a
 * slope in t of its own, and how those slopes lean on the columns. */
struct products {
    double cross[COLUMNS][COLUMNS], lean[COLUMNS];
    double trend; /* weight of a track's slope */
};

struct raw {
    double w, t, tt, one[COLUMNS], slope[COLUMNS];
};

static void reduce(struct products *p, const struct raw *raw, size_t columns) {
    double det = raw->w * raw->tt - raw->t * raw->t;
    for (size_t i = 0; i < columns; i++) {
        double rise = (raw->w * raw->slope[i] - raw->t * raw->one[i]) / det,
               level = (raw->one[i] - rise * raw->t) / raw->w;
        p->lean[i] = rise;
        for (size_t j = i; j < columns; j++)
            p->cross[i][j] -= level * raw->one[j] + rise * raw->slope[j];
    }
    for (size_t i = 0; i < columns; i++)
        for (size_t j = 0; j < i; j++)
            p->cross[i][j] = p->cross[j][i];
    p->trend = det / raw->w;
}

/* The rates that a set of columns stands for. */
struct grid {
    size_t n;
    double rate_per_s[RATES];
};

static void project(const struct evidence *seen, size_t track, const struct grid *grid,
                    struct products *p) {
    struct raw raw = {0};
    size_t columns = FIRST + grid->n;
    double left[RATES], factor[RATES], c[COLUMNS], step = seen->track[track].step_s;
    memset(p, 0, sizeof *p);
    for (size_t m = 0; m < grid->n; m++) {
        left[m] = exp(-grid->rate_per_s[m] * seen->track[track].t0_s);
        factor[m] = exp(-grid->rate_per_s[m] * step);
    }
    for (size_t k = 0; k < seen->track[track].held; k++) {
        double weight = seen->track[track].w[k], since = (double)k * step;
        for (size_t m = 0; m < grid->n; m++) {
            c[FIRST + m] = (1.0 - left[m]) / grid->rate_per_s[m];
            left[m] *= factor[m];
        }
        c[U] = seen->track[track].u[k];
        raw.w += weight, raw.t += weight * since, raw.tt += weight * since * since;
        for (size_t i = 0; i < columns; i++) {
            double wc = weight * c[i];
            raw.one[i] += wc, raw.slope[i] += wc * since;
            for (size_t j = i; j < columns; j++)
                p->cross[i][j] += wc * c[j];
        }
    }
    reduce(p, &raw, columns);
}

struct pooled {
    struct grid grid;
    struct products of[TRACKS_USED], all;
    size_t n;
    double count; /* blocks */
};

/* The tracks together; they count for the lean by what they say of the pitch. */
static void pool(const struct evidence *seen, struct pooled *pooled) {
    memset(&pooled->all, 0, sizeof pooled->all);
    pooled->n = seen->n;
    pooled->count = 0;
    for (size_t i = 0; i < seen->n; i++) {
        struct products *one = &pooled->of[i];
        project(seen, i, &pooled->grid, one);
        for (size_t a = 0; a < COLUMNS; a++) {
            pooled->all.lean[a] += one->trend * one->lean[a];
            for (size_t b = 0; b < COLUMNS; b++)
                pooled->all.cross[a][b] += one->cross[a][b];
        }
        pooled->all.trend += one->trend;
        pooled->count += (double)seen->track[i].held;
    }
    for (size_t a = 0; a < COLUMNS; a++)
        pooled->all.lean[a] /= pooled->all.trend;
}

/* ---- accounts of the glide, weighed against each other ---- */

/* One account: its amounts at its rates, its log odds against no glide, by how much it moves
 * the settled pitch and what it leaves open of that, relative. */
struct account {
    struct grid grid;
    double gamma[RATES], odds, shift, shift_var;
};

/* Cholesky's factor of a symmetric matrix, in place; returns half the logarithm of its
 * determinant. */
static double factor_in_place(double a[RATES][RATES], size_t n) {
    double half_ln_det = 0;
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q <= p; q++) {
            double sum = a[p][q];
            for (size_t r = 0; r < q; r++)
                sum -= a[p][r] * a[q][r];
            a[p][q] = p == q ? sqrt(fmax(sum, 1e-300)) : sum / a[q][q];
            half_ln_det += p == q ? log(a[p][p]) : 0.0;
        }
    return half_ln_det;
}

static void solve(double a[RATES][RATES], size_t n, double x[RATES]) {
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q < p; q++)
            x[p] -= a[p][q] * x[q];
        x[p] /= a[p][p];
    }
    for (size_t p = n; p-- > 0;) {
        for (size_t q = p + 1; q < n; q++)
            x[p] -= a[q][p] * x[q];
        x[p] /= a[p][p];
    }
}

/* The account under a Gaussian prior whose covariance is root rootᵀ, so all is exact: in the
 * prior's own coordinates the matrix is a unit matrix and something that is not negative. */
static struct account weigh(const struct pooled *pooled, double root[RATES][RATES],
                            double noise) {
    size_t n = pooled->grid.n;
    double a[RATES][RATES], half[RATES][RATES], x[RATES] = {0}, lean[RATES] = {0}, spread[RATES];
    struct account account = {.grid = pooled->grid};
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q < n; q++) {
            half[p][q] = 0;
            for (size_t r = 0; r < n; r++)
                half[p][q] += pooled->all.cross[FIRST + p][FIRST + r] * root[r][q] / noise;
        }
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q < n; q++) {
            a[p][q] = p == q ? 1.0 : 0.0;
            for (size_t r = 0; r < n; r++)
                a[p][q] += root[r][p] * half[r][q];
        }
    for (size_t p = 0; p < n; p++)
        for (size_t r = 0; r < n; r++) {
            x[p] += root[r][p] * pooled->all.cross[FIRST + r][U] / noise;
            lean[p] += root[r][p] * pooled->all.lean[FIRST + r];
        }
    account.odds = -factor_in_place(a, n);
    memcpy(spread, lean, sizeof spread);
    double before[RATES];
    memcpy(before, x, sizeof before);
    solve(a, n, x);
    solve(a, n, spread);
    for (size_t p = 0; p < n; p++) {
        account.odds += 0.5 * x[p] * before[p];
        account.shift += lean[p] * x[p];
        account.shift_var += lean[p] * spread[p];
        for (size_t r = 0; r < n; r++)
            account.gamma[r] += root[r][p] * x[p];
    }
    return account;
}

static double start_of(const struct account *account) {
    double sum = 0;
    for (size_t m = 0; m < account->grid.n; m++)
        sum += account->gamma[m];
    return sum;
}

/* Chi-square a block, and how far the tracks differ about the amount of the same shape, in
 * units of their noise: beating bends phases as a glide does, but not all alike (a Birge
 * ratio: Phys. Rev. 40, 207, 1932). */
static double loudness(const struct pooled *pooled, const struct account *account) {
    double left = pooled->all.cross[U][U], own = 0, us = 0, ss = 0, free = pooled->count;
    size_t n = pooled->grid.n;
    for (size_t i = 0; i < pooled->n; i++) {
        double u = 0, s = 0;
        for (size_t p = 0; p < n; p++) {
            u += account->gamma[p] * pooled->of[i].cross[FIRST + p][U];
            for (size_t q = 0; q < n; q++)
                s += account->gamma[p] * account->gamma[q] *
                     pooled->of[i].cross[FIRST + p][FIRST + q];
        }
        own += s > 0 ? u * u / s : 0.0;
        us += u, ss += s, free -= 2.0;
    }
    left += ss - 2.0 * us;
    double differ = pooled->n > 1 && ss > 0 ? (own - us * us / ss) / (double)(pooled->n - 1) : 0.0;
    return fmax(fmax(left / fmax(free, 1.0), differ), 1.0);
}

/* How the partials' energies that stretch the string lie over the grid's rates, twice their
 * decays; sums to 1. */
static bool energy_shares(const sb_track tracks[], size_t n, const struct grid *grid,
                          double share[RATES]) {
    double total = 0;
    memset(share, 0, RATES * sizeof share[0]);
    for (size_t i = 0; i < n; i++) {
        const sb_line *line = &tracks[i].lines[0];
        if (tracks[i].n_lines == 0 || line->decay_per_s < 0.05)
            continue;
        double energy = pow(tracks[i].number, 2) * (line->re * line->re + line->im * line->im) *
                        exp(2.0 * line->decay_per_s * tracks[i].band.t0_s);
        double at = log(2.0 * line->decay_per_s / SLOWEST_PER_S) / log(RATE_GROWTH);
        at = fmin(fmax(at, 0.0), (double)grid->n - 1.001);
        size_t below = (size_t)at;
        share[below] += energy * (1.0 - (at - (double)below));
        share[below + 1] += energy * (at - (double)below);
        total += energy;
    }
    for (size_t m = 0; m < grid->n && total > 0; m++)
        share[m] /= total;
    return total > 0;
}

/* Prior of a glide that follows the energy: one amount for all shares, each share off by a part
 * of itself, since a microphone or pickup weighs the partials in its own way. */
static void energy_root(const double share[RATES], size_t n, double amount,
                        double root[RATES][RATES]) {
    double c[RATES][RATES];
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q < n; q++) {
            double own = SHARE_SPREAD * amount * (share[p] + LEAST_SHARE);
            c[p][q] = PRIOR_GAMMA * share[p] * PRIOR_GAMMA * share[q] + (p == q ? own * own : 0.0);
        }
    (void)factor_in_place(c, n);
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q < n; q++)
            root[p][q] = q <= p ? c[p][q] : 0.0;
}

static struct account energy_account(const struct evidence *seen, const sb_track tracks[],
                                     size_t n, double *noise) {
    struct pooled pooled = {.grid = {.n = RATES}};
    double share[RATES], root[RATES][RATES];
    for (size_t m = 0; m < RATES; m++)
        pooled.grid.rate_per_s[m] = SLOWEST_PER_S * pow(RATE_GROWTH, (double)m);
    pool(seen, &pooled);
    if (!energy_shares(tracks, n, &pooled.grid, share))
        return (struct account){.odds = -(double)INFINITY};
    energy_root(share, RATES, PRIOR_GAMMA, root);
    struct account account = weigh(&pooled, root, 1.0);
    *noise = loudness(&pooled, &account);
    energy_root(share, RATES, fmax(fabs(start_of(&account)), LEAST_AMOUNT), root);
    account = weigh(&pooled, root, *noise);
    if (start_of(&account) < -PRIOR_FALL)
        account.odds = -(double)INFINITY;
    return account;
}

/* One rate alone, its sign decided by the sound. */
static struct account weigh_one(const struct pooled *pooled, size_t rate, double noise) {
    size_t at = FIRST + rate;
    double ss = pooled->all.cross[at][at] / noise, su = pooled->all.cross[at][U] / noise;
    double width = su < 0 ? PRIOR_FALL : PRIOR_GAMMA, curve = ss + 1.0 / (width * width);
    double off = log(pooled->grid.rate_per_s[rate] / PRIOR_RATE_PER_S) / PRIOR_LN_RATE;
    struct account account = {.grid = {1, {pooled->grid.rate_per_s[rate]}}};
    account.gamma[0] = su / curve;
    account.odds = 0.5 * su * su / curve - 0.5 * log(curve * width * width) - 0.5 * off * off;
    account.shift = pooled->all.lean[at] * account.gamma[0];
    account.shift_var = pow(pooled->all.lean[at], 2) / curve;
    return account;
}

/* The best lone rate, the grid drawn together about it until its neighbours are about as
 * likely; they then tell how sure the rate is. */
static struct account lone_account(const struct evidence *seen, double noise) {
    struct pooled pooled = {.grid = {.n = RATES}};
    struct account accounts[RATES];
    double centre = SLOWEST_PER_S * pow(RATE_GROWTH, (RATES - 1) / 2), gap = log(RATE_GROWTH);
    for (int zoom = 0;; zoom++) {
        size_t best = 0;
        for (size_t m = 0; m < pooled.grid.n; m++)
            pooled.grid.rate_per_s[m] =
                centre * exp(gap * ((double)m - 0.5 * (double)(pooled.grid.n - 1)));
        pool(seen, &pooled);
        for (size_t m = 0; m < pooled.grid.n; m++) {
            accounts[m] = weigh_one(&pooled, m, noise);
            if (accounts[m].odds > accounts[best].odds)
                best = m;
        }
        double left = best > 0 ? accounts[best].odds - accounts[best - 1].odds : 0,
               right = best + 1 < pooled.grid.n ? accounts[best].odds - accounts[best + 1].odds : 0;
        if (zoom == ZOOMS || fmax(left, right) < 1.0) {
            struct account *chosen = &accounts[best];
            double total = 0, square = 0;
            for (size_t m = 0; m < pooled.grid.n; m++) {
                double weight = exp(accounts[m].odds - chosen->odds);
                total += weight, square += weight * pow(accounts[m].shift - chosen->shift, 2);
            }
            chosen->shift_var += square / total;
            chosen->odds += log(total * gap / (PRIOR_LN_RATE * sqrt(SB_TWO_PI)));
            return *chosen;
        }
        centre = pooled.grid.rate_per_s[best];
        pooled.grid.n = LONE;
        gap *= zoom == 0 ? 0.5 : 0.4;
    }
}

/* The mean over the accounts and no glide, weighed by their odds, and what their difference
 * leaves open. Neither account is the whole truth, so their odds against each other count for
 * less than they would. */
static sb_glide average(const struct account accounts[], size_t n) {
    double top = -(double)INFINITY, sum = 0, shift = 0, square = 0, weights[ACCOUNTS];
    sb_glide glide = {0};
    for (size_t i = 0; i < n; i++)
        top = fmax(top, accounts[i].odds);
    for (size_t i = 0; i < n; i++)
        sum += weights[i] = exp((accounts[i].odds - top) / TEMPER);
    double any = 1.0 / (1.0 + exp(-top)); /* against none */
    for (size_t i = 0; i < n; i++) {
        const struct account *account = &accounts[i];
        double weight = any * weights[i] / sum;
        if (!(weight > LEAST_WEIGHT))
            continue;
        shift += weight * account->shift;
        square += weight * (account->shift_var + account->shift * account->shift);
        for (size_t m = 0; m < account->grid.n; m++) {
            glide.weight[glide.terms] = weight * account->gamma[m];
            glide.rate_per_s[glide.terms] = account->grid.rate_per_s[m];
            glide.gamma += glide.weight[glide.terms++];
        }
    }
    for (size_t m = 0; m < glide.terms && glide.gamma != 0; m++)
        glide.weight[m] /= glide.gamma;
    glide.common_std = sqrt(fmax(square - shift * shift, 0.0));
    return glide;
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present) {
    struct evidence seen;
    gather(tracks, n, present, &seen);
    if (seen.n == 0)
        return (sb_glide){.common_std = PRIOR_GAMMA};
    double noise = 1.0;
    struct account accounts[ACCOUNTS];
    accounts[0] = energy_account(&seen, tracks, n, &noise);
    accounts[1] = lone_account(&seen, noise);
    if (getenv("GDBG")) fprintf(stderr, "energy odds %.1f shift %.4f std %.4f g %.3f; lone odds %.1f shift %.4f std %.4f rate %.3f g %.3f; noise %.2f\n", accounts[0].odds, 1731*accounts[0].shift, 1731*sqrt(accounts[0].shift_var), 1731*start_of(&accounts[0]), accounts[1].odds, 1731*accounts[1].shift, 1731*sqrt(accounts[1].shift_var), accounts[1].grid.rate_per_s[0], 1731*accounts[1].gamma[0], noise);
    return average(accounts, ACCOUNTS);
}

/* Slope of u on t over samples from..to-1 of a track, weighted. */
static double slope_of(const struct evidence *seen, size_t i, size_t from, size_t to) {
    double w = 0, t = 0, tt = 0, u = 0, ut = 0;
    for (size_t k = from; k < to; k++) {
        double x = (double)k * seen->track[i].step_s, weight = seen->track[i].w[k];
        w += weight, t += weight * x, tt += weight * x * x;
        u += weight * seen->track[i].u[k], ut += weight * seen->track[i].u[k] * x;
    }
    return (w * ut - t * u) / (w * tt - t * t);
}

double sb_glide_unrest_cents(const sb_track tracks[], size_t n) {
    struct evidence seen;
    const sb_glide none = {0};
    double moved[TRACKS_USED] = {0};
    size_t kept = 0;
    gather(tracks, n, &none, &seen);
    for (size_t i = 0; i < seen.n; i++) {
        size_t held = seen.track[i].held, at = kept++;
        double size = fabs(slope_of(&seen, i, held / 2, held) - slope_of(&seen, i, 0, held / 2));
        for (; at > 0 && moved[at - 1] > size; at--)
            moved[at] = moved[at - 1];
        moved[at] = size;
    }
    return kept ? SB_CENTS_PER_LN * moved[kept / 2] : 0.0;
}
