/* corpus: many synthetic notes under named conditions, for the bench and the accuracy test.
 *
 * Index i runs through 30 pitches (six guitar strings, five bass strings and four mandolin
 * courses, each open and at fret 12) and the rates 44.1, 48 and 96 kHz; the seed draws the
 * rest: tuning, stiffness, losses, pluck, pickup, phases, noise. Truth is the settled sounding
 * fundamental of the main polarisation, which decays slower than the second.
 *
 * Noise is white and its level relative to the note's RMS over its first second (room.h).
 */
#ifndef SB_TESTS_CORPUS_H
#define SB_TESTS_CORPUS_H

#include <stddef.h>
#include <stdint.h>

typedef enum {
    CORPUS_CLEAN, /* noise 60 dB below the note, as in all but the next two */
    CORPUS_NOISE_40,
    CORPUS_NOISE_20,
    CORPUS_HUM,           /* mains hum of 50 or 60 Hz 20 dB below the note */
    CORPUS_STRINGS,       /* the instrument's other open strings, each 20 dB below */
    CORPUS_GLIDE,         /* 5 to 15 cents sharp at the attack */
    CORPUS_POLARISATIONS, /* a second one 1 cent above or below */
    CORPUS_CLIPPED,       /* at 0.3 to 0.6 of its peak, with DC */
    CORPUS_ALL,           /* all of them at once, noise 20 dB */
    CORPUS_GLIDE_HUM,     /* a glide, and mains hum as above */
    CORPUS_GLIDE_STRINGS, /* a glide, and the other strings as above */
    CORPUS_PLANES_NOISE,  /* a second polarisation, noise 20 dB */
    CORPUS_CONDITIONS
} corpus_condition;

#define CORPUS_ROOM_S 0.7  /* of room before the attack */
#define CORPUS_NOTE_S 2.45 /* from the attack on */
#define CORPUS_SKIP_S 0.3  /* from the attack to where the settled window begins */

typedef struct {
    double rate_hz;
    double truth_hz;
    double inharmonicity;
    size_t n_room;         /* samples before the attack */
    size_t n_skip;         /* from the attack to the settled window */
    size_t n;              /* all samples */
    float *samples;        /* owned */
    double bound_cents[2]; /* Cramer-Rao bound of the pitch over 2 s and 0.4 s from there, with
                              f0, B and each partial's amplitude, phase and decay unknown; no
                              bound holds where more than noise disturbs: then 0 */
} corpus_note;

/* A name for a table's row. */
const char *corpus_name(corpus_condition condition);

/* Makes note i. Release with corpus_free. */
corpus_note corpus_make(corpus_condition condition, uint64_t seed, size_t i);

void corpus_free(corpus_note *note);

#endif
