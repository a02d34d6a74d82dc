/* mkstring FILE OPEN_HZ B ERROR_CENTS DRIFT_CENTS_PER_MIN LUMP NOTES [APART_S]: writes a recording
 * of one string of an invented instrument, plucked open (o) and at fret 12 (f) as NOTES says,
 * APART_S (default 2.3) from pluck to pluck. A false string carries a lump of LUMP of its mass:
 * tests/support/lump.h. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/lump.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/wav.h"

enum { RATE_HZ = 24000 };

#define LEAD_IN_S 0.6
#define PALM_S    2.2
#define LUMP_AT   0.21

typedef struct {
    double open_hz, b, error_cents, drift_cents_per_min, lump, apart_s;
    const char *notes;
} recipe;

/* Half the string: four times the stiffness (B falls as the length squared, by Fletcher). */
static void add_note(const recipe *r, bool fretted, double at_s, prng *rng, double x[], size_t n) {
    const double cents = (fretted ? 1200.0 + r->error_cents : 0.0) +
                         r->drift_cents_per_min * (at_s - LEAD_IN_S) / 60.0;
    const double b = fretted ? 4.0 * r->b : r->b;
    synth_note note =
        synth_plain(synth_f0_for(r->open_hz * exp2(cents / 1200.0), b), b, prng_next(rng));
    note.rms = 0.1 * prng_uniform(rng, 0.7, 1.3);
    note.pluck = prng_uniform(rng, 0.12, 0.2) * (fretted ? 2.0 : 1.0);
    note.pick_db = -6.0;
    note.glide_cents = prng_uniform(rng, 0.5, 3.0);
    note.eta_a = fretted ? 2.0 : 1.4;
    for (int k = 1; k <= SYNTH_SHAPED_PARTIALS; k++)
        note.pull_cents[k - 1] = lump_cents(r->lump, LUMP_AT, fretted, k);
    note.at_s = at_s;
    note.damp_at_s = PALM_S;
    note.damp_s = 0.015;
    (void)synth_add(&note, RATE_HZ, x, n);
}

static bool render(const char *path, const recipe *r) {
    const size_t plucks = strlen(r->notes);
    const size_t n = (size_t)(RATE_HZ * (LEAD_IN_S + r->apart_s * (double)plucks + 0.4));
    double *x = calloc(n, sizeof *x);
    prng rng = prng_seeded((uint64_t)lround(100.0 * r->open_hz));
    for (size_t i = 0; x && i < plucks; i++)
        add_note(r, r->notes[i] == 'f', LEAD_IN_S + r->apart_s * (double)i, &rng, x, n);
    if (x) {
        synth_room room = room_silent(0.1, prng_next(&rng));
        room.noise_db = -60.0;
        room_add(&room, RATE_HZ, x, n);
    }
    const bool written = x && wav_write(path, RATE_HZ, 16, x, n);
    free(x);
    return written;
}

int main(int argc, char *argv[]) {
    if (argc < 8) {
        fputs("usage: mkstring FILE OPEN_HZ B ERROR_CENTS DRIFT_CENTS_PER_MIN LUMP NOTES "
              "[APART_S]\n",
              stderr);
        return 64;
    }
    const recipe r = {.open_hz = strtod(argv[2], NULL),
                      .b = strtod(argv[3], NULL),
                      .error_cents = strtod(argv[4], NULL),
                      .drift_cents_per_min = strtod(argv[5], NULL),
                      .lump = strtod(argv[6], NULL),
                      .notes = argv[7],
                      .apart_s = argc > 8 ? strtod(argv[8], NULL) : 2.3};
    return render(argv[1], &r) ? 0 : 74;
}
