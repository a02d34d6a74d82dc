/* mkneck FILE OPEN_HZ SADDLE_MM NUT_MM SLOT_MM BAD_FRET BAD_CENTS [FRET...]: writes a recording
 * of one string of an invented neck with these faults, open, at each fret (default the usual
 * nine) in shuffled order, and open again: tests/support/necks.h in sound. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/necks.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/wav.h"

enum { RATE_HZ = 44100, NOTES_MAX = 40 };

#define LEAD_IN_S 0.5
#define APART_S   1.7
#define PALM_S    1.6

typedef struct {
    int fret[NOTES_MAX];
    size_t n;
} notes;

static notes notes_of(int argc, char *argv[]) {
    notes all = {.fret = {0}, .n = 1};
    const int given = argc - 8;
    for (int i = 0; i < (given > 0 ? given : NECKS_DEFAULT_FRETS) && all.n < NOTES_MAX - 1; i++)
        all.fret[all.n++] = given > 0 ? (int)strtol(argv[8 + i], NULL, 10) : necks_default_frets[i];
    prng rng = prng_seeded(5);
    for (size_t i = all.n - 1; i > 1; i--) { /* all but the first */
        const size_t j = 1 + (size_t)(prng_next(&rng) % i);
        const int fret = all.fret[i];
        all.fret[i] = all.fret[j];
        all.fret[j] = fret;
    }
    all.n++; /* the open string again: fret 0 */
    return all;
}

/* A plain steel string: B rises as the length falls (Fletcher). */
static void add_note(double hz, int fret, double at_s, prng *rng, double x[], size_t n) {
    const double b = 4e-5 * exp2(fret / 6.0);
    synth_note note = synth_plain(synth_f0_for(hz, b), b, prng_next(rng));
    note.rms = 0.1;
    note.pluck = 0.13 * exp2(fret / 12.0);
    note.glide_cents = 1.0;
    note.at_s = at_s;
    note.damp_at_s = PALM_S;
    note.damp_s = 0.015;
    (void)synth_add(&note, RATE_HZ, x, n);
}

int main(int argc, char *argv[]) {
    if (argc < 8) {
        fputs("usage: mkneck FILE OPEN_HZ SADDLE_MM NUT_MM SLOT_MM BAD_FRET BAD_CENTS [FRET...]\n",
              stderr);
        return 64;
    }
    neck_string string = {.scale_mm = 647.7,
                          .kappa = 250.0,
                          .stiffness = 2e-3,
                          .slot_mm = 0.25,
                          .saddle_height_mm = 3.35};
    const neck_fault fault = {.saddle_mm = strtod(argv[3], NULL),
                              .nut_mm = strtod(argv[4], NULL),
                              .slot_mm = strtod(argv[5], NULL),
                              .bad_fret = (int)strtol(argv[6], NULL, 10),
                              .bad_cents = strtod(argv[7], NULL)};
    necks_settle(&string);
    const notes all = notes_of(argc, argv);
    const size_t n = (size_t)(RATE_HZ * (LEAD_IN_S + APART_S * (double)all.n + 0.4));
    double *x = calloc(n, sizeof *x);
    prng rng = prng_seeded(77);
    for (size_t i = 0; x && i < all.n; i++) {
        const int fret = all.fret[i];
        const double cents = fret ? 100.0 * fret + necks_error_cents(&string, &fault, fret) : 0.0;
        add_note(strtod(argv[2], NULL) * exp2(cents / 1200.0), fret,
                 LEAD_IN_S + APART_S * (double)i, &rng, x, n);
    }
    if (x) {
        synth_room room = room_silent(0.1, 9);
        room.noise_db = -55.0;
        room_add(&room, RATE_HZ, x, n);
    }
    const bool written = x && wav_write(argv[1], RATE_HZ, 16, x, n);
    free(x);
    return written ? 0 : 74;
}
