#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/hum.h"
#include "audio/lanes.h"
#include "core/order.h"
#include "core/pitch.h"

/* A block holds whole periods, so that one harmonic is not heard in another's sums. */
enum { PERIODS = 2, FEWEST_BLOCKS = 6, MOST_BLOCKS = 64, NARROWINGS = 24, BLOCK = 64 };

/* The mains may be so far from what the room's spectrum made of them, a part of it. */
static const double SEARCHED = 6e-4;
/* Of a harmonic's amplitude: what is known no better is left in. */
static const double MOST_ERROR = 0.5;
/* So many of the harmonics at least must go on through the note as they were: the others may lie
 * under its partials. */
static const double LEAST_GOING_ON = 0.35;

/* Sums of a harmonic over each block of the room, and how many blocks there are. */
struct harmonic {
    int k;
    sb_cpx block[MOST_BLOCKS];
};

struct heard {
    size_t n, blocks;
    double step_s, middle_s; /* of the blocks, from the first one's start */
    struct harmonic of[SB_HUM_HARMONICS];
};

static sb_cpx turned_by(double turns) {
    return (sb_cpx){cos(SB_TWO_PI * turns), sin(SB_TWO_PI * turns)};
}

/* A line's phases, SB_LANES samples at once; a block of samples begins in double precision. */
struct wheel {
    sb_cpx at, unit[SB_LANES], block; /* at: the block's first sample */
    sb_lanes by_re, by_im;
};

static struct wheel begin_wheel(sb_cpx at, double turns) {
    struct wheel wheel = {.at = at, .unit = {{1.0, 0}}};
    sb_cpx step = turned_by(turns), by = turned_by(SB_LANES * turns);
    for (size_t l = 1; l < SB_LANES; l++)
        wheel.unit[l] = sb_cpx_times(wheel.unit[l - 1], step);
    wheel.block = turned_by(BLOCK * turns);
    wheel.by_re = sb_lanes_all((float)by.re), wheel.by_im = sb_lanes_all((float)by.im);
    return wheel;
}

static void next_block(struct wheel *wheel, sb_lanes *re, sb_lanes *im) {
    for (size_t l = 0; l < SB_LANES; l++) {
        sb_cpx value = sb_cpx_times(wheel->at, wheel->unit[l]);
        (*re)[l] = (float)value.re, (*im)[l] = (float)value.im;
    }
    wheel->at = sb_cpx_times(wheel->at, wheel->block);
}

static void turn(const struct wheel *wheel, sb_lanes *re, sb_lanes *im) {
    sb_lanes next = *re * wheel->by_re - *im * wheel->by_im;
    *im = *re * wheel->by_im + *im * wheel->by_re;
    *re = next;
}

/* Mean of x[0..n-1] times exp(-i 2 pi hz t). */
static sb_cpx mean_of(const float x[], size_t n, double hz, double rate_hz) {
    struct wheel wheel = begin_wheel((sb_cpx){1.0, 0}, -hz / rate_hz);
    sb_cpx sum = {0, 0};
    for (size_t k = 0; k < n; k += BLOCK) {
        sb_lanes re, im, sum_re = {0}, sum_im = {0};
        float last[BLOCK] = {0};
        const float *block = x + k;
        if (n - k < BLOCK)
            block = memcpy(last, x + k, (n - k) * sizeof last[0]);
        next_block(&wheel, &re, &im);
        for (size_t j = 0; j < BLOCK; j += SB_LANES, turn(&wheel, &re, &im)) {
            sb_lanes now = sb_lanes_load(block + j);
            sum_re += now * re, sum_im += now * im;
        }
        sum.re += (double)sb_lanes_sum(sum_re), sum.im += (double)sb_lanes_sum(sum_im);
    }
    return (sb_cpx){sum.re / (double)n, sum.im / (double)n};
}

/* Takes the real part of a line from samples[0..n-1]. */
static void subtract(sb_cpx at, double turns, float samples[], size_t n) {
    struct wheel wheel = begin_wheel(at, turns);
    for (size_t k = 0; k < n; k += BLOCK) {
        sb_lanes re, im;
        next_block(&wheel, &re, &im);
        for (size_t j = k; j < k + BLOCK && j < n; j += SB_LANES, turn(&wheel, &re, &im)) {
            size_t left = n - j < SB_LANES ? n - j : SB_LANES;
            for (size_t l = 0; l < left; l++)
                samples[j + l] -= re[l];
        }
    }
}

static void hear(const sb_hum *hum, const float room[], size_t n, double rate_hz,
                 struct heard *out) {
    size_t size = (size_t)lround(PERIODS * rate_hz / hum->mains_hz);
    out->blocks = n / size < MOST_BLOCKS ? n / size : MOST_BLOCKS;
    out->step_s = (double)size / rate_hz;
    out->middle_s = 0.5 * (double)out->blocks * out->step_s;
    out->n = 0;
    const float *first = room + (n - out->blocks * size);
    for (int k = 1; k <= SB_HUM_HARMONICS && out->blocks >= FEWEST_BLOCKS; k++) {
        if (!(hum->amplitude[k - 1] > 0))
            continue;
        struct harmonic *of = &out->of[out->n++];
        double hz = k * hum->mains_hz;
        of->k = k;
        for (size_t b = 0; b < out->blocks; b++)
            of->block[b] = sb_cpx_times(mean_of(first + b * size, size, hz, rate_hz),
                                        turned_by(-hz * (double)b * out->step_s));
    }
}

/* Mean over the blocks, were the mains higher by off_hz; the phase is that in their middle. */
static sb_cpx mean_at(const struct heard *heard, const struct harmonic *of, double off_hz) {
    double first_s = 0.5 * heard->step_s - heard->middle_s;
    sb_cpx sum = {0, 0}, turn = turned_by(-of->k * off_hz * first_s),
           step = turned_by(-of->k * off_hz * heard->step_s);
    for (size_t b = 0; b < heard->blocks; b++) {
        sb_cpx part = sb_cpx_times(of->block[b], turn);
        sum.re += part.re, sum.im += part.im;
        turn = sb_cpx_times(turn, step);
    }
    double n = (double)heard->blocks;
    return (sb_cpx){sum.re / n, sum.im / n};
}

static double power_at(const struct heard *heard, double off_hz) {
    double power = 0;
    for (size_t i = 0; i < heard->n; i++)
        power += sb_cpx_power(mean_at(heard, &heard->of[i], off_hz));
    return power;
}

/* How far the mains are off: where the harmonics' means are greatest, the likeliest place in white
 * noise. On a grid finer than the highest one's peak, then narrowed down. */
static double search(const struct heard *heard, double mains_hz) {
    double most = SEARCHED * mains_hz, span_s = (double)heard->blocks * heard->step_s;
    double step = 0.2 / (span_s * heard->of[heard->n - 1].k), best = 0, top = 0;
    size_t steps = (size_t)(2.0 * most / step) + 1;
    for (size_t i = 0; i <= steps; i++) {
        double at = (double)i * step - most, power = power_at(heard, at);
        if (power > top)
            top = power, best = at;
    }
    for (int i = 0; i < NARROWINGS; i++, step *= 0.6) {
        double low = power_at(heard, best - 0.5 * step), high = power_at(heard, best + 0.5 * step);
        if (fmax(low, high) > top)
            top = fmax(low, high), best += high > low ? 0.5 * step : -0.5 * step;
    }
    return best;
}

/* Variance of a block's mean about the line. */
static double noise_of(const struct heard *heard, const struct harmonic *of, double power) {
    double sum = 0;
    for (size_t b = 0; b < heard->blocks; b++)
        sum += sb_cpx_power(of->block[b]);
    double n = (double)heard->blocks;
    return fmax(sum - n * power, 1e-6 * sum) / (n - 1.0);
}

bool sb_hum_follow(const sb_hum *hum, const float room[], size_t n, double rate_hz,
                   sb_hum_lines *out) {
    struct heard heard;
    *out = (sb_hum_lines){0};
    if (!(hum->mains_hz > 0))
        return false;
    hear(hum, room, n, rate_hz, &heard);
    if (heard.n == 0)
        return false;
    double off_hz = search(&heard, hum->mains_hz), steps = (double)heard.blocks;
    double spread = heard.step_s * heard.step_s * steps * (steps * steps - 1.0) / 12.0;
    double known = 0;
    out->mains_hz = hum->mains_hz + off_hz;
    out->middle_s = heard.middle_s;
    for (size_t i = 0; i < heard.n; i++) {
        const struct harmonic *of = &heard.of[i];
        sb_cpx mean = mean_at(&heard, of, off_hz);
        double power = sb_cpx_power(mean), noise = noise_of(&heard, of, power);
        double turns = 2.0 * hum->mains_hz + off_hz; /* from the blocks' middle to the room's end */
        sb_cpx end = sb_cpx_times(mean, turned_by(of->k * turns * heard.middle_s));
        out->line[out->n++] =
            (struct sb_hum_line){of->k, 2.0 * end.re, 2.0 * end.im, noise / (steps * power)};
        known += pow(SB_TWO_PI * of->k, 2) * 2.0 * power / noise * spread;
    }
    out->mains_variance = 1.0 / known;
    return true;
}

double sb_hum_error(const sb_hum_lines *lines, size_t i, double after_s) {
    const struct sb_hum_line *line = &lines->line[i];
    double since_s = lines->middle_s + after_s;
    return sqrt(line->variance + pow(SB_TWO_PI * line->k * since_s, 2) * lines->mains_variance);
}

/* As mean_of, under a Hann window, through which partials of the note are not heard from afar. */
static sb_cpx windowed_mean(const float x[], size_t n, double hz, double rate_hz) {
    double bin_hz = rate_hz / (double)n;
    sb_cpx own = mean_of(x, n, hz, rate_hz), below = mean_of(x, n, hz - bin_hz, rate_hz),
           above = mean_of(x, n, hz + bin_hz, rate_hz);
    return (sb_cpx){own.re - 0.5 * (below.re + above.re), own.im - 0.5 * (below.im + above.im)};
}

bool sb_hum_goes_on(sb_hum_lines *lines, const float samples[], size_t n, double after_s,
                    double rate_hz) {
    double since_s = lines->middle_s + after_s + 0.5 * (double)n / rate_hz;
    double off_hz[SB_HUM_HARMONICS];
    size_t going_on = 0, known = 0;
    for (size_t i = 0; i < lines->n; i++) {
        const struct sb_hum_line *line = &lines->line[i];
        double hz = line->k * lines->mains_hz;
        if (sb_hum_error(lines, i, after_s + 0.5 * (double)n / rate_hz) > MOST_ERROR)
            continue;
        sb_cpx there = windowed_mean(samples, n, hz, rate_hz);
        sb_cpx was =
            sb_cpx_times((sb_cpx){0.5 * line->re, 0.5 * line->im}, turned_by(hz * after_s));
        double off = hypot(there.re - was.re, there.im - was.im) / hypot(was.re, was.im);
        known++;
        if (off < MOST_ERROR)
            off_hz[going_on++] = off / (SB_TWO_PI * line->k * since_s);
    }
    if (going_on == 0 || (double)going_on < LEAST_GOING_ON * (double)known)
        return false;
    lines->mains_variance = fmax(lines->mains_variance, pow(sb_median(off_hz, going_on), 2));
    return true;
}

void sb_hum_take_out(const sb_hum_lines *lines, double after_s, double rate_hz, float samples[],
                     size_t n) {
    for (size_t i = 0; i < lines->n; i++) {
        const struct sb_hum_line *line = &lines->line[i];
        if (sb_hum_error(lines, i, after_s + 0.5 * (double)n / rate_hz) > MOST_ERROR)
            continue;
        double hz = line->k * lines->mains_hz;
        sb_cpx at = sb_cpx_times((sb_cpx){line->re, line->im}, turned_by(hz * after_s));
        subtract(at, hz / rate_hz, samples, n);
    }
}
