#include "tests/support/prng.h"

#include <math.h>

static uint64_t splitmix64(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static uint64_t rotate_left(uint64_t x, int k) {
    return (x << k) | (x >> (64 - k));
}

prng prng_seeded(uint64_t seed) {
    prng rng = {.has_spare = false};
    for (int i = 0; i < 4; i++)
        rng.s[i] = splitmix64(&seed);
    return rng;
}

uint64_t prng_next(prng *rng) {
    uint64_t *s = rng->s;
    const uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    const uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate_left(s[3], 45);
    return result;
}

double prng_uniform(prng *rng, double low, double high) {
    const double unit = (double)(prng_next(rng) >> 11) * 0x1p-53;
    return low + (high - low) * unit;
}

double prng_normal(prng *rng) {
    if (rng->has_spare) {
        rng->has_spare = false;
        return rng->spare;
    }
    const double u = 1.0 - prng_uniform(rng, 0.0, 1.0); /* (0, 1]: the logarithm is finite */
    const double angle = prng_uniform(rng, 0.0, 6.283185307179586);
    const double radius = sqrt(-2.0 * log(u));
    rng->spare = radius * sin(angle);
    rng->has_spare = true;
    return radius * cos(angle);
}
