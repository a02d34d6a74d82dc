#include <math.h>
#include <string.h>

#include "audio/track.h"

#define TWO_PI 6.283185307179586

enum { SHAPES = 15, TRACKS_USED = 10 };

static const double FIRST_TAU_S = 0.03, TAU_GROWTH = 1.35;
/* What the prior allows a glide to be: hard plucks reach 20 cents (Legge & Fletcher 1984,
 * with the stretch of a 4 mm pluck); a relative shift. */
static const double PRIOR_GAMMA = 0.006;
static const double SAMPLE_SNR = 8.0; /* below it a phase may slip a turn */

/* Weighted sums of one track against 1, t, the shape S and the time shift u. */
struct sums {
    double w, t, tt, s, st, ss, u, ut, us, uu;
};

static void add(struct sums *sum, double w, double t, double s, double u) {
    sum->w += w, sum->t += w * t, sum->tt += w * t * t;
    sum->s += w * s, sum->st += w * s * t, sum->ss += w * s * s;
    sum->u += w * u, sum->ut += w * u * t, sum->us += w * u * s, sum->uu += w * u * u;
}

/* What remains of S and u when a constant and a slope in t are fitted out of both. */
struct projected {
    double ss, us, uu, slope_of_s; /* slope_of_s: how S leans on t */
};

static struct projected project(const struct sums *m) {
    double det = m->w * m->tt - m->t * m->t;
    double s_slope = (m->w * m->st - m->t * m->s) / det;
    double s_level = (m->s - s_slope * m->t) / m->w;
    double u_slope = (m->w * m->ut - m->t * m->u) / det;
    double u_level = (m->u - u_slope * m->t) / m->w;
    return (struct projected){m->ss - s_level * m->s - s_slope * m->st,
                              m->us - s_level * m->u - s_slope * m->ut,
                              m->uu - u_level * m->u - u_slope * m->ut, s_slope};
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

struct pooled {
    double ss, us, uu, lean; /* lean: pooled slope of S on t */
    double count;
};

static void pool_track(const sb_track *track, const sb_glide *present, struct pooled pooled[]) {
    double u[SB_BAND_MAX], w[SB_BAND_MAX];
    size_t held = time_shift(track, present, u, w);
    if (held < 24)
        return;
    for (size_t i = 0; i < SHAPES; i++) {
        struct sums sums = {0};
        double tau = shape_tau(i), step = track->band.step_s;
        double fall = exp(-track->band.t0_s / tau), factor = exp(-step / tau);
        for (size_t k = 0; k < held; k++, fall *= factor)
            add(&sums, w[k], (double)k * step, tau * (1.0 - fall), u[k]);
        struct projected p = project(&sums);
        pooled[i].ss += p.ss, pooled[i].us += p.us, pooled[i].uu += p.uu;
        pooled[i].lean += p.slope_of_s * p.ss;
        pooled[i].count += (double)held;
    }
}

/* Evidence-weighted average over the shapes and the null model. */
static sb_glide average(const struct pooled pooled[], double span_s) {
    double weights[SHAPES], shifts[SHAPES], total = 1.0, mean = 0, square = 0;
    size_t best = SHAPES;
    double scale = INFINITY, best_gain = 0;
    for (size_t i = 0; i < SHAPES; i++) {
        if (!(pooled[i].ss > 0))
            continue;
        double left = (pooled[i].uu - pooled[i].us * pooled[i].us / pooled[i].ss) / pooled[i].count;
        scale = fmin(scale, left);
    }
    scale = fmax(scale, 1.0);
    for (size_t i = 0; i < SHAPES; i++) {
        weights[i] = shifts[i] = 0;
        if (!(pooled[i].ss > 0) || shape_tau(i) > 0.7 * span_s)
            continue;
        double gamma = pooled[i].us / pooled[i].ss, sd = sqrt(scale / pooled[i].ss);
        double gain = 0.5 * pooled[i].us * gamma / scale;
        weights[i] = exp(fmin(gain, 500.0)) * fmin(sd / PRIOR_GAMMA, 1.0) / SHAPES;
        double lean = pooled[i].lean / pooled[i].ss;
        shifts[i] = gamma * lean;
        total += weights[i];
        mean += weights[i] * shifts[i];
        square += weights[i] * (shifts[i] * shifts[i] + sd * sd * lean * lean);
        if (best == SHAPES || weights[i] > best_gain)
            best = i, best_gain = weights[i];
    }
    mean /= total, square /= total;
    sb_glide glide = {0, 1.0, 0};
    double applied = 0;
    if (best < SHAPES && total > 2.0) { /* the null model holds less than half */
        glide.gamma = pooled[best].us / pooled[best].ss;
        glide.tau_s = shape_tau(best);
        applied = shifts[best];
    }
    glide.common_std = sqrt(fmax(square - 2.0 * mean * applied + applied * applied, 0.0));
    return glide;
}

sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present,
                           double span_s) {
    struct pooled pooled[SHAPES] = {{0}};
    size_t chosen[TRACKS_USED + 1], kept = choose_tracks(tracks, n, chosen);
    for (size_t i = 0; i < kept; i++)
        pool_track(&tracks[chosen[i]], present, pooled);
    return average(pooled, span_s);
}
