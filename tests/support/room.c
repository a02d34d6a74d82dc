#include "tests/support/room.h"

#include <math.h>

#include "tests/support/prng.h"
#include "tests/support/synth.h"

#define PI 3.14159265358979323846

synth_room room_silent(double reference_rms, uint64_t seed) {
    return (synth_room){.reference_rms = reference_rms,
                        .seed = seed,
                        .noise_db = SYNTH_OFF_DB,
                        .hum_db = SYNTH_OFF_DB,
                        .hum_hz = 50.0};
}

static double level(const synth_room *room, double db) {
    return db > SYNTH_OFF_DB ? room->reference_rms * pow(10.0, db / 20.0) : 0.0;
}

double room_noise_sigma(const synth_room *room) {
    return level(room, room->noise_db);
}

static void add_noise(const synth_room *room, prng *rng, double x[], size_t n) {
    const double sigma = room_noise_sigma(room);
    for (size_t k = 0; k < n && sigma > 0.0; k++)
        x[k] += sigma * prng_normal(rng);
}

static void add_hum(const synth_room *room, double rate_hz, prng *rng, double x[], size_t n) {
    double power = 0.0;
    for (int h = 1; h <= ROOM_HUM_HARMONICS; h++)
        power += 0.5 / (h * h);
    const double first = level(room, room->hum_db) / sqrt(power);
    for (int h = 1; h <= ROOM_HUM_HARMONICS && first > 0.0; h++) {
        const double phase = prng_uniform(rng, 0.0, 2.0 * PI);
        const double step = 2.0 * PI * h * room->hum_hz / rate_hz;
        for (size_t k = 0; k < n; k++)
            x[k] += first / h * cos(step * (double)k + phase);
    }
}

static double highest(const double x[], size_t n) {
    double most = 0.0;
    for (size_t k = 0; k < n; k++)
        most = fmax(most, fabs(x[k]));
    return most;
}

void room_add(const synth_room *room, double rate_hz, double samples[], size_t n) {
    prng rng = prng_seeded(room->seed);
    add_noise(room, &rng, samples, n);
    add_hum(room, rate_hz, &rng, samples, n);
    const double peak = highest(samples, n);
    const double limit = room->clip > 0.0 ? room->clip * peak : HUGE_VAL;
    for (size_t k = 0; k < n; k++)
        samples[k] = fmax(-limit, fmin(limit, samples[k] + room->dc * peak));
}
