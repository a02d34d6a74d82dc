#include "tests/support/synth.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/prng.h"
#include "tests/support/synth_wave.h"

#define PI              3.14159265358979323846
#define HIGHEST_OF_RATE 0.46 /* partials above would be an anti-alias filter's business */

static double *new_doubles(size_t n) {
    double *p = calloc(n > 0 ? n : 1, sizeof *p);
    if (p == NULL) {
        fputs("synth: out of memory\n", stderr);
        exit(1);
    }
    return p;
}

synth_note synth_plain(double f0_hz, double inharmonicity, uint64_t seed) {
    return (synth_note){.f0_hz = f0_hz,
                        .inharmonicity = inharmonicity,
                        .rms = 0.05,
                        .seed = seed,
                        .pluck = 0.18,
                        .pluck_width = 0.012,
                        .eta_a = 1.2,
                        .eta_f = 8e-5,
                        .eta_b = 0.02,
                        .damp_s = 0.03,
                        .second_decay = 1.0,
                        .attack_s = 0.002,
                        .pick_db = SYNTH_OFF_DB,
                        .pick_s = 0.006,
                        .buzz_db = SYNTH_OFF_DB,
                        .buzz_s = 0.15};
}

double synth_truth_hz(const synth_note *note) {
    return note->f0_hz * sqrt(1.0 + note->inharmonicity);
}

double synth_f0_for(double sounding_hz, double inharmonicity) {
    return sounding_hz / sqrt(1.0 + inharmonicity);
}

static double string_slope(const synth_note *note, int n) {
    const double width = n * PI * note->pluck_width;
    return fabs(sin(n * PI * note->pluck)) / n * exp(-0.5 * width * width);
}

static double heard_gain(const synth_note *note, int n, double hz) {
    double gain = 1.0;
    if (note->pickup > 0.0)
        gain *= fabs(sin(n * PI * note->pickup));
    if (note->highpass_hz > 0.0)
        gain /= sqrt(1.0 + pow(note->highpass_hz / hz, 4.0));
    if (n <= SYNTH_SHAPED_PARTIALS)
        gain *= pow(10.0, note->gain_db[n - 1] / 20.0);
    return gain;
}

static double decay_rate(const synth_note *note, int n, double hz) {
    const double omega = 2.0 * PI * hz;
    const double stiff = note->inharmonicity * n * n;
    return (note->eta_a + note->eta_f * omega + note->eta_b * omega * stiff) /
           (2.0 * (1.0 + stiff));
}

size_t synth_spectrum(const synth_note *note, double rate_hz, synth_partial out[], size_t max) {
    size_t count = 0;
    for (int n = 1; n <= SYNTH_MAX_PARTIALS && count < max; n++) {
        double hz = n * note->f0_hz * sqrt(1.0 + note->inharmonicity * n * n);
        if (n <= SYNTH_SHAPED_PARTIALS)
            hz *= pow(2.0, note->pull_cents[n - 1] / 1200.0);
        if (hz > HIGHEST_OF_RATE * rate_hz)
            break;
        out[count++] = (synth_partial){.number = n,
                                       .hz = hz,
                                       .amplitude = string_slope(note, n) * heard_gain(note, n, hz),
                                       .decay_per_s = decay_rate(note, n, hz)};
    }
    return count;
}

static double bent_cents(const synth_note *note, double t) {
    if (note->bend_cents == 0.0 || t <= note->bend_from_s)
        return 0.0;
    const double part = t >= note->bend_to_s
                            ? 1.0
                            : (t - note->bend_from_s) / (note->bend_to_s - note->bend_from_s);
    return note->bend_cents * part;
}

static double bend_ratio(const synth_note *note, double t) {
    double cents = bent_cents(note, t);
    if (note->wow_cents != 0.0)
        cents += note->wow_cents * sin(2.0 * PI * (note->wow_hz * t + note->wow_turns));
    return cents == 0.0 ? 1.0 : pow(2.0, cents / 1200.0);
}

/* Slope energy of the string, a sum of exponentials stepped half a sample at a time. */
typedef struct {
    double left[SYNTH_MAX_PARTIALS], step[SYNTH_MAX_PARTIALS];
    size_t n;
} energy;

static energy energy_at_attack(const synth_note *note, double rate_hz) {
    synth_partial p[SYNTH_MAX_PARTIALS];
    energy e = {.n = synth_spectrum(note, rate_hz, p, SYNTH_MAX_PARTIALS)};
    double sum = 0.0;
    if (note->glide_rate_per_s > 0.0) {
        return (energy){
            .left = {1.0}, .step = {exp(-0.5 * note->glide_rate_per_s / rate_hz)}, .n = 1};
    }
    for (size_t i = 0; i < e.n; i++) {
        e.left[i] = pow(string_slope(note, p[i].number), 2.0);
        e.step[i] = exp(-p[i].decay_per_s / rate_hz); /* 2 sigma over half a sample */
        sum += e.left[i];
    }
    for (size_t i = 0; i < e.n; i++)
        e.left[i] /= sum;
    return e;
}

static double energy_sum(const energy *e) {
    double sum = 0.0;
    for (size_t i = 0; i < e->n; i++)
        sum += e->left[i];
    return sum;
}

static void energy_step(energy *e) {
    for (size_t i = 0; i < e->n; i++)
        e->left[i] *= e->step[i];
}

/* Instantaneous frequency over the settled one, at t after the attack. */
static double frequency_ratio(const synth_note *note, const synth_course *c, const energy *e,
                              double t) {
    const double most = pow(2.0, note->glide_cents / 1200.0) - 1.0;
    return (1.0 + most * energy_sum(e) * exp(2.0 * synth_damping_ln(c, t))) * bend_ratio(note, t);
}

static void warp_time(const synth_note *note, synth_course *c) {
    if (note->glide_cents == 0.0 && note->bend_cents == 0.0 && note->wow_cents == 0.0) {
        for (size_t k = 0; k < c->n; k++)
            c->time[k] = (double)k / c->rate_hz;
        return;
    }
    energy e = energy_at_attack(note, c->rate_hz);
    double start = frequency_ratio(note, c, &e, 0.0);
    c->time[0] = 0.0;
    for (size_t k = 1; k < c->n; k++) {
        energy_step(&e);
        const double middle = frequency_ratio(note, c, &e, ((double)k - 0.5) / c->rate_hz);
        energy_step(&e);
        const double end = frequency_ratio(note, c, &e, (double)k / c->rate_hz);
        c->time[k] = c->time[k - 1] + (start + 4.0 * middle + end) / (6.0 * c->rate_hz);
        start = end;
    }
}

static synth_course new_course(const synth_note *note, double rate_hz, size_t n) {
    synth_course c = {.rate_hz = rate_hz, .n = n, .time = new_doubles(n), .damp_from_s = HUGE_VAL};
    if (note->damp_at_s > 0.0) {
        c.damp_from_s = note->damp_at_s;
        c.damp_per_s = 1.0 / note->damp_s;
    }
    if (n > 0)
        warp_time(note, &c);
    return c;
}

/* How a polarisation differs from the formulas of the main one alone. */
typedef struct {
    double share, ratio, decay;
} polarisation;

static void add_polarisation(const synth_note *note, const synth_course *c, polarisation own,
                             prng *rng, double out[]) {
    synth_partial p[SYNTH_MAX_PARTIALS];
    const size_t n = synth_spectrum(note, c->rate_hz, p, SYNTH_MAX_PARTIALS);
    for (size_t i = 0; i < n; i++) {
        const double phase = prng_uniform(rng, 0.0, 2.0 * PI);
        const double amplitude = own.share * p[i].amplitude;
        if (amplitude <= 0.0)
            continue;
        const synth_wave w = {p[i].hz * own.ratio, phase, log(amplitude),
                              own.decay * p[i].decay_per_s};
        synth_add_wave(&w, c, out);
    }
}

static void rise(double attack_s, double rate_hz, double out[], size_t n) {
    for (size_t k = 0; k < n && (double)k < attack_s * rate_hz; k++)
        out[k] *= 0.5 - 0.5 * cos(PI * (double)k / (attack_s * rate_hz));
}

static double rms_first_second(const double x[], size_t n, double rate_hz) {
    const size_t m = (double)n < rate_hz ? n : (size_t)rate_hz;
    double sum = 0.0;
    for (size_t k = 0; k < m; k++)
        sum += x[k] * x[k];
    return m > 0 ? sqrt(sum / (double)m) : 0.0;
}

static void add_pick(const synth_note *note, const synth_course *c, prng *rng, double out[]) {
    const double level = note->rms * pow(10.0, note->pick_db / 20.0);
    for (size_t k = 0; k < c->n && (double)k < 12.0 * note->pick_s * c->rate_hz; k++)
        out[k] += level * exp(-(double)k / (note->pick_s * c->rate_hz)) * prng_normal(rng);
}

/* The string touches the next fret once a period while it swings widest. */
static void add_buzz(const synth_note *note, const synth_course *c, prng *rng, double out[]) {
    const double level = note->rms * pow(10.0, note->buzz_db / 20.0);
    for (size_t k = 0; k < c->n && (double)k < 6.0 * note->buzz_s * c->rate_hz; k++) {
        const double swing = cos(2.0 * PI * note->f0_hz * c->time[k]);
        const double gate = swing > 0.7 ? (swing - 0.7) / 0.3 : 0.0;
        out[k] += level * gate * exp(-(double)k / (note->buzz_s * c->rate_hz)) * prng_normal(rng);
    }
}

static void add_sympathetic(const synth_note *note, size_t i, double rate_hz, double samples[],
                            size_t n) {
    const synth_sympathetic *s = &note->sympathetic[i];
    synth_note other = synth_plain(s->f0_hz, s->inharmonicity, note->seed * 31 + 7 + i);
    other.at_s = note->at_s;
    other.rms = note->rms * pow(10.0, s->level_db / 20.0);
    other.attack_s = 0.03; /* it is driven, not struck */
    other.eta_a = note->eta_a;
    other.eta_f = note->eta_f;
    other.eta_b = note->eta_b;
    other.damp_at_s = note->damp_at_s;
    other.damp_s = note->damp_s;
    (void)synth_add(&other, rate_hz, samples, n);
}

double synth_add(const synth_note *note, double rate_hz, double samples[], size_t n) {
    const size_t first = (size_t)llround(note->at_s * rate_hz);
    if (first >= n)
        return 0.0;
    prng rng = prng_seeded(note->seed);
    synth_course c = new_course(note, rate_hz, n - first);
    double *x = new_doubles(c.n);
    const polarisation main_one = {1.0 - note->second_share, 1.0, 1.0};
    const polarisation second = {note->second_share, pow(2.0, note->second_cents / 1200.0),
                                 note->second_decay};
    add_polarisation(note, &c, main_one, &rng, x);
    if (second.share > 0.0)
        add_polarisation(note, &c, second, &rng, x);
    rise(note->attack_s, rate_hz, x, c.n);
    const double raw = rms_first_second(x, c.n, rate_hz);
    const double scale = raw > 0.0 ? note->rms / raw : 0.0;
    for (size_t k = 0; k < c.n; k++)
        x[k] *= scale;
    if (note->pick_db > SYNTH_OFF_DB)
        add_pick(note, &c, &rng, x);
    if (note->buzz_db > SYNTH_OFF_DB)
        add_buzz(note, &c, &rng, x);
    for (size_t k = 0; k < c.n; k++)
        samples[first + k] += x[k];
    for (size_t i = 0; i < note->n_sympathetic; i++)
        add_sympathetic(note, i, rate_hz, samples, n);
    free(x);
    free(c.time);
    return scale;
}

void synth_to_float(const double samples[], size_t n, float out[]) {
    for (size_t k = 0; k < n; k++)
        out[k] = (float)samples[k];
}
