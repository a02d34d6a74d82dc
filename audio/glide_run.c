/* The course of a glide that is known, and taking it out of a band. */
#include <math.h>
#include <string.h>

#include "audio/track.h"
#include "core/pitch.h"

enum { DROOP_STEPS = 24 };

/* Of a band: a glide that runs so little off its middle is let through whole. And what is let
 * through is made good as far as that, or the noise would be made loud. */
static const double SLIGHT_SHARE = 0.03, LEAST_GAIN = 0.3;

sb_glide sb_glide_exponential(double gamma, double tau_s) {
    return (sb_glide){.gamma = gamma,
                      .shape = {.terms = 1, .weight = {1.0}, .rate_per_s = {1.0 / tau_s}}};
}

double sb_glide_times(const sb_glide_shape *shape, size_t term, int number) {
    bool is_own = number > 0 && shape->number[term] == number;
    return is_own ? 1.0 + shape->own : 1.0;
}

double sb_glide_weight(const sb_glide_shape *shape, size_t term, int number) {
    return sb_glide_times(shape, term, number) * shape->weight[term];
}

void sb_glide_ahead(const sb_glide *glide, int number, double t0_s, double step_s, size_t n,
                    double out[]) {
    const sb_glide_shape *shape = &glide->shape;
    memset(out, 0, n * sizeof out[0]);
    for (size_t m = 0; glide->gamma != 0 && m < shape->terms; m++) {
        double rate = shape->rate_per_s[m];
        double left = exp(-rate * t0_s), factor = exp(-rate * step_s);
        double size = glide->gamma * sb_glide_weight(shape, m, number) / rate;
        for (size_t k = 0; k < n; k++) {
            out[k] += size * (1.0 - left);
            left *= factor;
        }
    }
}

double sb_glide_shift(const sb_glide *glide, int number, double t_s) {
    const sb_glide_shape *shape = &glide->shape;
    double left = 0;
    for (size_t m = 0; m < shape->terms; m++)
        left += sb_glide_weight(shape, m, number) * exp(-shape->rate_per_s[m] * t_s);
    return glide->gamma * left;
}

/* What a band's filter does to a partial that has run so far off, at equal steps: what it lets
 * through over what it lets through where the glide comes to rest; and by what it turns that, for
 * each 1/s of the partial's decay and for each rad/s^2 by which it falls. A slowly changing wave
 * x(t) of frequency w, falling at a and dying at d, comes out as x (H + i d H' + i a H''/2),
 * H(w) being the filter's: its series about w, from which the wave strays little within the
 * filter's reach. */
struct droop {
    double steps_per_hz;
    struct {
        double gain, by_decay, by_fall;
    } at[DROOP_STEPS + 2];
};

static void see_droop(const sb_band *band, double rest_hz, double most_hz, struct droop *droop) {
    double step_hz = most_hz / DROOP_STEPS, rest_offset_hz = rest_hz - band->centre_hz;
    double rest = fmax(sb_band_respond(band, rest_offset_hz).gain, LEAST_GAIN);
    droop->steps_per_hz = 1.0 / step_hz;
    for (size_t j = 0; j < DROOP_STEPS + 2; j++) {
        sb_band_response at = sb_band_respond(band, rest_offset_hz + (double)j * step_hz);
        double whole = fmax(at.gain, LEAST_GAIN);
        droop->at[j].gain = fmax(at.gain / rest, LEAST_GAIN);
        droop->at[j].by_decay = at.slope_s / whole;
        droop->at[j].by_fall = 0.5 * at.bend_s2 / whole;
    }
}

/* A glide's way through a band. */
struct way {
    bool drooping;
    double hz, ahead_s[SB_BAND_MAX];
    struct droop droop;
};

static void go(const sb_band *band, int number, double hz, const sb_glide *glide, struct way *way) {
    double most_hz = hz * sb_glide_shift(glide, number, band->t0_s);
    sb_glide_ahead(glide, number, band->t0_s, band->step_s, band->n, way->ahead_s);
    way->hz = hz;
    way->drooping = band->n > 2 && most_hz > SLIGHT_SHARE * band->pass_hz;
    if (way->drooping)
        see_droop(band, hz, most_hz, &way->droop);
}

/* What becomes of a partial on its way: how much of it is let through, and what its phase is. */
struct passed {
    double gain, angle;
};

static struct passed pass(const struct way *way, const sb_band *band, size_t k) {
    const double *ahead_s = way->ahead_s, step_s = band->step_s;
    struct passed passed = {1.0, SB_TWO_PI * way->hz * ahead_s[k]};
    if (!way->drooping)
        return passed;
    size_t middle = k == 0 ? 1 : k + 1 < band->n ? k : k - 1;
    double before = ahead_s[middle - 1], after = ahead_s[middle + 1];
    double falls = SB_TWO_PI * way->hz * (2.0 * ahead_s[middle] - before - after);
    double off_hz = way->hz * (after - before) / (2.0 * step_s);
    double at = fmin(fmax(off_hz * way->droop.steps_per_hz, 0.0), DROOP_STEPS);
    size_t j = (size_t)at;
    double part = at - (double)j, less = 1.0 - part;
    const struct droop *droop = &way->droop;
    passed.gain = less * droop->at[j].gain + part * droop->at[j + 1].gain;
    passed.angle +=
        band->decay_per_s * (less * droop->at[j].by_decay + part * droop->at[j + 1].by_decay) +
        falls / (step_s * step_s) * (less * droop->at[j].by_fall + part * droop->at[j + 1].by_fall);
    return passed;
}

void sb_glide_turn(sb_band *band, int number, double hz, const sb_glide *from, const sb_glide *to) {
    if (from->gamma == 0 && to->gamma == 0)
        return;
    struct way before, after;
    go(band, number, hz, from, &before);
    go(band, number, hz, to, &after);
    for (size_t k = 0; k < band->n; k++) {
        struct passed was = pass(&before, band, k), is = pass(&after, band, k);
        double gain = was.gain / is.gain, angle = was.angle - is.angle;
        double c = gain * cos(angle), s = gain * sin(angle), re = band->re[k], im = band->im[k];
        band->re[k] = re * c - im * s;
        band->im[k] = re * s + im * c;
    }
}
