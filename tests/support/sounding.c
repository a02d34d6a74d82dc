#include "tests/support/sounding.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/wav.h"

#define RATE_HZ 24000
#define APART_S 2.0 /* from attack to attack */
#define PALM_S  1.9 /* from attack to the hand that stops it */
#define RMS     0.06

static void lengthen(sounding *s, size_t more) {
    double *samples = realloc(s->samples, (s->n + more) * sizeof *samples);
    if (samples == NULL) {
        (void)fputs("sounding: out of memory\n", stderr);
        exit(1);
    }
    memset(samples + s->n, 0, more * sizeof *samples);
    s->samples = samples;
    s->n += more;
}

sounding sounding_begin(uint64_t seed) {
    sounding s = {.rng = prng_seeded(seed)};
    lengthen(&s, RATE_HZ / 2);
    return s;
}

/* The body takes up the same pitch in the same way each time: a pull of its own for each
 * string and side, a normal deviate of 0.4 cents. */
static double body_pull(size_t string, bool fretted_one) {
    prng rng = prng_seeded(17 * string + (fretted_one ? 5 : 0));
    return 0.4 * prng_normal(&rng);
}

void sounding_add(sounding *s, const specimen *f, size_t string, const hands_note *note) {
    const size_t n = (size_t)(APART_S * RATE_HZ), start = s->n;
    const double b = strung_inharmonicity(&f->strings[string], note->fretted ? 12 : 0);
    synth_note sound = synth_plain(synth_f0_for(note->hz, b), b, prng_next(&s->rng));
    sound.rms = RMS * prng_uniform(&s->rng, 0.6, 1.4);
    sound.pluck = prng_uniform(&s->rng, 0.1, 0.2) * (note->fretted ? 2.0 : 1.0);
    sound.pick_db = -8.0;
    sound.glide_cents = prng_uniform(&s->rng, 0.3, 3.0);
    sound.eta_a = note->fretted ? 2.0 : 1.4;
    sound.pull_cents[0] = body_pull(string, note->fretted);
    sound.damp_at_s = PALM_S;
    sound.damp_s = 0.015;
    lengthen(s, n);
    (void)synth_add(&sound, RATE_HZ, s->samples + start, n);
}

bool sounding_write(sounding *s, const char *path) {
    synth_room room = room_silent(RMS, prng_next(&s->rng));
    room.noise_db = -50.0;
    room.hum_db = -50.0;
    room.hum_hz = 50.0;
    lengthen(s, RATE_HZ / 2);
    room_add(&room, RATE_HZ, s->samples, s->n);
    const bool written = wav_write(path, RATE_HZ, 16, s->samples, s->n);
    free(s->samples);
    *s = (sounding){.n = 0};
    return written;
}
