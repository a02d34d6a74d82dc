/* sounding: what a simulated instrument sounds like when it is plucked, as a recording.
 *
 * Notes follow one another, each stopped by the hand before the next; synth.h makes them from
 * the string's own pitch and stiffness, with a glide, a body that pulls the first partial, a
 * pick at a place of its own, room noise and hum.
 */
#ifndef SB_TESTS_SOUNDING_H
#define SB_TESTS_SOUNDING_H

#include <stdbool.h>
#include <stddef.h>

#include "tests/support/hands.h"
#include "tests/support/specimen.h"

/* A recording that grows. */
typedef struct {
    double *samples; /* owned */
    size_t n;
    prng rng;
} sounding;

sounding sounding_begin(uint64_t seed);

/* Adds a note of a string, as it was plucked. */
void sounding_add(sounding *s, const specimen *f, size_t string, const hands_note *note);

/* Adds the room, writes a WAV file of 24 kHz and 16 bit, and frees all. */
bool sounding_write(sounding *s, const char *path);

#endif
