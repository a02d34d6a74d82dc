#include <math.h>
#include <string.h>

#include "audio/track.h"

#define TWO_PI 6.283185307179586

enum { SHAPES = 15, TRACKS_USED = 10 };

static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.35;
/* What the prior allows a glide to be: hard plucks reach 20 cents (Legge & Fletcher 1984,
 * with the stretch of a 4 mm pluck); a relative shift. */
static const double PRIOR_GAMMA = 0.006, PRIOR_LN_TAU = 1.5;
static const double SAMPLE_SNR = 8.0; /* below it a phase may slip a turn */

/* Columns of the regression: the shape S(t) = tau (1 - exp(-t/tau)) that a glide of unit
 * gamma adds to the time, its derivative D = dS/d(ln tau), and the observed shift u. */
enum { S, D, U, COLUMNS };

/* Weighted sums of one track's columns with 1, t and each other. */
struct sums {
    double w, t, tt, one[COLUMNS], slope[COLUMNS], cross[COLUMNS][COLUMNS];
};

static void add(struct sums *sum, double w, double t, const double c[COLUMNS]) {
    sum->w += w, sum->t += w * t, sum->tt += w * t * t;
    for (int i = 0; i < COLUMNS; i++) {
        double wc = w * c[i];
        sum->one[i] += wc, sum->slope[i] += wc * t;
        for (int j = i; j < COLUMNS; j++)
            sum->cross[i][j] += wc * c[j];
    }
}

/* What the tracks together say once each has a constant and a slope in t of its own:
 * cross products of what remains of the columns, and how S and D lean on t. */
struct pooled {
    double cross[COLUMNS][COLUMNS], lean[2], count;
};

static void pool(struct pooled *pooled, const struct sums *m, double count) {
    double det = m->w * m->tt - m->t * m->t, slope[COLUMNS], level[COLUMNS];
    for (int i = 0; i < COLUMNS; i++) {
        slope[i] = (m->w * m->slope[i] - m->t * m->one[i]) / det;
        level[i] = (m->one[i] - slope[i] * m->t) / m->w;
    }
    for (int i = 0; i < COLUMNS; i++)
        for (int j = i; j < COLUMNS; j++)
            pooled->cross[i][j] += m->cross[i][j] - level[i] * m->one[j] - slope[i] * m->slope[j];
    double share = m->cross[S][S] - level[S] * m->one[S] - slope[S] * m->slope[S];
    pooled->lean[S] += slope[S] * share;
    pooled->lean[D] += slope[D] * share;
    pooled->count += count;
}

static double shape_tau(size_t index) {
    return FIRST_TAU_S * pow(TAU_GROWTH, (double)index);
}

/* The partial alone: the band less the other lines. */
static void isolate(const sb_track *track, double re[], double im[]) {
    const sb_band *band = &track->band;
    memcpy(re, band->re, band->n * sizeof re[0]);
    memcpy(im, band->im, band->n * sizeof im[0]);
    for (size_t j = 1; j < track->n_lines; j++) {
        const sb_line *line = &track->lines[j];
        double decay = exp(-line->decay_per_s * band->step_s), a = TWO_PI * line->hz * band->step_s;
        double fr = decay * cos(a), fi = decay * sin(a), vr = line->re, vi = line->im;
        for (size_t k = 0; k < band->n; k++) {
            re[k] -= vr, im[k] -= vi;
            double next = vr * fr - vi * fi;
            vi = vr * fi + vi * fr;
            vr = next;
        }
    }
}

/* Unwrapped phase of the partial as a time shift u(t), weights |z|^2 hz^2/noise, up to
 * where it sinks toward the noise. Returns how many samples hold. */
static size_t time_shift(const sb_track *track, const sb_glide *present, double u[], double w[]) {
    double re[SB_BAND_MAX], im[SB_BAND_MAX], previous = 0, phase = 0;
    const sb_band *band = &track->band;
    isolate(track, re, im);
    double rotate = TWO_PI * track->lines[0].hz * band->step_s;
    for (size_t k = 0; k < band->n; k++) {
        double size2 = re[k] * re[k] + im[k] * im[k];
        if (size2 < SAMPLE_SNR * track->noise)
            return k;
        double angle = atan2(im[k], re[k]);
        double turn = k ? angle - previous - rotate : angle;
        phase += turn - TWO_PI * floor(turn / TWO_PI + 0.5);
        previous = angle;
        double t = band->t0_s + (double)k * band->step_s;
        u[k] = phase / (TWO_PI * track->hz);
        if (present->gamma != 0)
            u[k] += present->gamma * present->tau_s * (1.0 - exp(-t / present->tau_s));
        w[k] = size2 * pow(TWO_PI * track->hz, 2) / (0.5 * track->noise);
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
        size_t held;
        double t0_s, step_s, u[SB_BAND_MAX], w[SB_BAND_MAX];
    } track[TRACKS_USED];
};

static struct pooled pool_all(const struct evidence *seen, double tau) {
    struct pooled pooled = {{{0}}, {0}, 0};
    for (size_t i = 0; i < seen->n; i++) {
        struct sums sums = {0};
        double step = seen->track[i].step_s, t0 = seen->track[i].t0_s;
        double fall = exp(-t0 / tau), factor = exp(-step / tau);
        for (size_t k = 0; k < seen->track[i].held; k++, fall *= factor) {
            double since = (double)k * step;
            double c[COLUMNS] = {tau * (1.0 - fall), 0, seen->track[i].u[k]};
            c[D] = c[S] - (since + t0) * fall;
            add(&sums, seen->track[i].w[k], since, c);
        }
        pool(&pooled, &sums, (double)seen->track[i].held);
    }
    if (pooled.cross[S][S] > 0) {
        pooled.lean[S] /= pooled.cross[S][S];
        pooled.lean[D] /= pooled.cross[S][S];
    }
    return pooled;
}

static double gain_of(const struct pooled *p) {
    return p->cross[S][S] > 0 ? p->cross[S][U] * p->cross[S][U] / p->cross[S][S] : 0.0;
}

/* Gauss-Newton in (gamma, ln tau) from the best shape of the grid; keeps a step only while
 * it explains more. */
static double refine_tau(const struct evidence *seen, double tau, double longest) {
    double gain = gain_of(&(struct pooled){{{0}}, {0}, 0});
    for (int round = 0; round < 12; round++) {
        struct pooled p = pool_all(seen, tau);
        double gamma = p.cross[S][U] / p.cross[S][S];
        double det = p.cross[S][S] * p.cross[D][D] - p.cross[S][D] * p.cross[S][D];
        double ru = p.cross[D][U] - gamma * p.cross[S][D]; /* residual against D */
        if (!(det > 0) || gamma == 0 || gain_of(&p) < gain)
            break;
        gain = gain_of(&p);
        double step = ru * p.cross[S][S] / (det * gamma);
        tau *= exp(fmin(fmax(step, -0.3), 0.3));
        tau = fmin(fmax(tau, 0.5 * FIRST_TAU_S), longest);
        if (fabs(step) < 1e-6)
            break;
    }
    return tau;
}

/* Odds of a glide against none (Laplace's approximation), and the average of both. */
static sb_glide weigh(const struct evidence *seen, double tau) {
    struct pooled p = pool_all(seen, tau);
    sb_glide glide = {0, 1.0, 0};
    double det = p.cross[S][S] * p.cross[D][D] - p.cross[S][D] * p.cross[S][D];
    if (!(p.cross[S][S] > 0) || !(det > 0))
        return glide;
    double gamma = p.cross[S][U] / p.cross[S][S];
    double scale = fmax((p.cross[U][U] - gain_of(&p)) / p.count, 1.0);
    double sd = sqrt(scale / p.cross[S][S]);
    double sd_tau = sqrt(scale * p.cross[S][S] / det) / fabs(gamma); /* of ln tau */
    double odds = 0.5 * gain_of(&p) / scale + log(fmin(sd / PRIOR_GAMMA, 1.0)) +
                  log(fmin(sd_tau / PRIOR_LN_TAU, 1.0));
    /* Variance of the shift gamma lean(tau), from the joint covariance. */
    double gs = p.lean[S], gd = gamma * p.lean[D];
    double c_ss = scale * p.cross[D][D] / det, c_sd = -scale * p.cross[S][D] / (det * gamma),
           c_dd = fmin(sd_tau * sd_tau, PRIOR_LN_TAU * PRIOR_LN_TAU);
    double within = fmax(gs * gs * c_ss + 2.0 * gs * gd * c_sd + gd * gd * c_dd, 0.0);
    double share = 1.0 / (1.0 + exp(-odds)), shift = gamma * gs;
    if (share > 0.5) {
        glide.gamma = gamma;
        glide.tau_s = tau;
        glide.common_std = sqrt(share * within + (1.0 - share) * shift * shift);
    } else {
        glide.common_std = sqrt(share * (within + shift * shift));
    }
    return glide;
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present,
                           double span_s) {
    struct evidence seen = {0};
    size_t chosen[TRACKS_USED + 1], kept = choose_tracks(tracks, n, chosen);
    for (size_t i = 0; i < kept; i++) {
        const sb_track *track = &tracks[chosen[i]];
        seen.track[seen.n].held =
            time_shift(track, present, seen.track[seen.n].u, seen.track[seen.n].w);
        seen.track[seen.n].t0_s = track->band.t0_s;
        seen.track[seen.n].step_s = track->band.step_s;
        seen.n += seen.track[seen.n].held >= 24;
    }
    double best_tau = 0, best_gain = 0, longest = 0.7 * span_s;
    for (size_t i = 0; i < SHAPES && shape_tau(i) < longest; i++) {
        struct pooled p = pool_all(&seen, shape_tau(i));
        if (gain_of(&p) > best_gain)
            best_gain = gain_of(&p), best_tau = shape_tau(i);
    }
    if (best_gain == 0)
        return (sb_glide){0, 1.0, 0};
    return weigh(&seen, refine_tau(&seen, best_tau, longest));
}
