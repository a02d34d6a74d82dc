/* prng: the tests' own random numbers, the same on every machine.
 *
 * xoshiro256** seeded by splitmix64 (Blackman & Vigna, ACM Trans. Math. Softw. 47(4), 36,
 * 2021; Steele, Lea & Flood, OOPSLA 2014). Normal deviates by Box and Muller (Ann. Math.
 * Stat. 29, 610, 1958), so they depend on libm only in the last bit.
 */
#ifndef SB_TESTS_PRNG_H
#define SB_TESTS_PRNG_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    uint64_t s[4];
    bool has_spare; /* the second deviate of a Box-Muller pair waits in `spare` */
    double spare;
} prng;

/* A generator whose whole stream follows from `seed`. */
prng prng_seeded(uint64_t seed);

/* The next 64 bits. */
uint64_t prng_next(prng *rng);

/* Uniform in [low, high). */
double prng_uniform(prng *rng, double low, double high);

/* Normal, mean 0, variance 1. */
double prng_normal(prng *rng);

#endif
