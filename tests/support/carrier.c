#include "tests/support/carrier.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/cents.h"
#include "tests/support/prng.h"

#define PI 3.14159265358979323846

enum { MODES = 48, PLANES = 2 };

static const double TOP = 0.42;      /* of the rate: no mode above it */
static const double PLECTRUM = 4e-4; /* rounds the corner: exp(-k^2 times it) */

/* Displacement q and velocity over the mode's rad/s v; a step turns them by c and s and shrinks
 * them by shrink. */
struct mode {
    double q, v, c, s, shrink, rad_per_s, number, heard;
};

struct motion {
    size_t n; /* modes a plane */
    struct mode modes[PLANES][MODES];
    bool mean_tension;
    double kick; /* on v times a mode's rad/s, for q times k^2 and S */
};

static double mode_hz(const carrier_string *string, double k) {
    const double b = string->inharmonicity;
    return string->hz * k * sqrt((1.0 + b * k * k) / (1.0 + b));
}

static struct mode mode_of(const carrier_string *string, size_t plane, double k, double rate_hz,
                           prng *rng) {
    const double detune = plane ? exp(string->second_cents / CENTS_PER_LN) : 1.0;
    const double rad_per_s = 2.0 * PI * detune * mode_hz(string, k);
    double decay = string->decay_per_s + string->decay_s * rad_per_s * rad_per_s;
    if (plane)
        decay *= prng_uniform(rng, 1.1, 1.9);
    const double share = plane ? string->second_share : 1.0;
    return (struct mode){.q =
                             share * sin(k * PI * string->pluck) / (k * k) * exp(-k * k * PLECTRUM),
                         .c = cos(rad_per_s / rate_hz),
                         .s = sin(rad_per_s / rate_hz),
                         .shrink = exp(-decay / rate_hz),
                         .rad_per_s = rad_per_s,
                         .number = k,
                         .heard = k * (string->pickup > 0 ? sin(k * PI * string->pickup) : 1.0)};
}

static double stretch_of(const struct motion *motion) {
    double sum = 0;
    for (size_t p = 0; p < PLANES; p++)
        for (size_t i = 0; i < motion->n; i++) {
            const struct mode *mode = &motion->modes[p][i];
            const double q2 = mode->q * mode->q, v2 = mode->v * mode->v;
            sum += mode->number * mode->number * (motion->mean_tension ? 0.5 * (q2 + v2) : q2);
        }
    return sum;
}

/* A mode's rad/s rise by half of w_0^2 k^2 c S over them, and S is on average half of what it is at
 * the pluck. */
static void begin(struct motion *motion, const carrier_string *string, double rate_hz) {
    prng rng = prng_seeded(string->seed);
    *motion = (struct motion){.mean_tension = false};
    while (motion->n < MODES && mode_hz(string, (double)motion->n + 1.0) < TOP * rate_hz)
        motion->n++;
    for (size_t p = 0; p < PLANES; p++)
        for (size_t i = 0; i < motion->n; i++)
            motion->modes[p][i] = mode_of(string, p, (double)i + 1.0, rate_hz, &rng);
    const double w0 = 2.0 * PI * string->hz / sqrt(1.0 + string->inharmonicity);
    const double c = 4.0 * string->glide_cents / CENTS_PER_LN / stretch_of(motion);
    motion->kick = c * w0 * w0 / rate_hz;
    motion->mean_tension = string->mean_tension;
}

/* One sample on; returns what is heard. */
static double step(struct motion *motion) {
    const double kick = motion->kick * stretch_of(motion);
    double heard = 0;
    for (size_t p = 0; p < PLANES; p++)
        for (size_t i = 0; i < motion->n; i++) {
            struct mode *mode = &motion->modes[p][i];
            const double k2 = mode->number * mode->number, q = mode->q;
            const double v = mode->v - kick * k2 * q / mode->rad_per_s;
            mode->q = mode->shrink * (q * mode->c + v * mode->s);
            mode->v = mode->shrink * (v * mode->c - q * mode->s);
            heard += mode->heard * mode->v;
        }
    return heard;
}

void carrier_add(const carrier_string *string, double rate_hz, size_t at, double samples[],
                 size_t n) {
    struct motion motion;
    double *heard = malloc(n * sizeof *heard), power = 0;
    if (heard == NULL) {
        fputs("carrier: out of memory\n", stderr);
        exit(1);
    }
    begin(&motion, string, rate_hz);
    const size_t second = (size_t)rate_hz;
    for (size_t i = at; i < n; i++) {
        heard[i] = step(&motion);
        power += i - at < second ? heard[i] * heard[i] : 0.0;
    }
    const size_t counted = n - at < second ? n - at : second;
    const double scale = string->rms / sqrt(power / (double)counted);
    for (size_t i = at; i < n; i++)
        samples[i] += scale * heard[i];
    free(heard);
}
