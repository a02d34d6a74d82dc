/* mksignal FILE NOISE_DB HUM_DB HUM_HZ [WHAT...]: writes a recording of an invented instrument's
 * lead: noise and hum (dBFS, RMS of all harmonics) from the beginning, and in it, one after another
 *   silence:S        nothing for S seconds
 *   tap:DB:N         N taps at DB (RMS over 45 ms), half a second apart, and a pause of two
 *   none:N           as long as that, and nothing to hear
 *   pluck:HZ:DB:N    N plucks of a string at DB (RMS of their first second), each with a scatter of
 *                    1 dB, let ring for two seconds and damped */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"
#include "tests/support/wav.h"

enum { RATE_HZ = 44100 };

#define TAP_S   0.5
#define PAUSE_S 2.0
#define PLUCK_S 2.3
#define DIES_S  0.006

typedef struct {
    double *x; /* NULL: only the time is wanted */
    size_t n;
    double at_s;
    prng rng;
} scene;

static double level_of(double db) {
    return pow(10, db / 20);
}

/* Noise that dies away; its RMS over 45 ms follows by integration (see test_taps). */
static void tap(scene *s, double db) {
    double share = DIES_S / 2 * (1 - exp(-0.09 / DIES_S)) / 0.045;
    double level = level_of(db) / sqrt(share);
    size_t from = (size_t)(s->at_s * RATE_HZ);
    for (size_t k = 0; s->x && k < 4000 && from + k < s->n; k++)
        s->x[from + k] += level * exp(-(double)k / RATE_HZ / DIES_S) * prng_normal(&s->rng);
}

static void pluck(scene *s, double hz, double db) {
    synth_note note = synth_plain(hz, 4e-5, prng_next(&s->rng));
    note.rms = level_of(db + prng_normal(&s->rng));
    note.at_s = s->at_s;
    note.damp_at_s = 2.0;
    note.damp_s = 0.015;
    if (s->x)
        (void)synth_add(&note, RATE_HZ, s->x, s->n);
}

static bool add(scene *s, const char *what) {
    double a = 0, b = 0;
    int n = 1;
    if (sscanf(what, "silence:%lf", &a) == 1) {
        s->at_s += a;
    } else if (sscanf(what, "tap:%lf:%d", &a, &n) >= 1) {
        for (int i = 0; i < n; i++, s->at_s += TAP_S)
            tap(s, a);
        s->at_s += PAUSE_S;
    } else if (sscanf(what, "none:%d", &n) == 1) {
        s->at_s += n * TAP_S + PAUSE_S;
    } else if (sscanf(what, "pluck:%lf:%lf:%d", &a, &b, &n) >= 2) {
        for (int i = 0; i < n; i++, s->at_s += PLUCK_S)
            pluck(s, a, b);
    } else {
        return false;
    }
    return true;
}

static bool add_all(scene *s, int argc, char *argv[]) {
    s->at_s = 0;
    s->rng = prng_seeded(21);
    for (int i = 5; i < argc; i++)
        if (!add(s, argv[i]))
            return false;
    return true;
}

int main(int argc, char *argv[]) {
    scene s = {.x = NULL};
    if (argc < 5 || !add_all(&s, argc, argv)) {
        fputs("usage: mksignal FILE NOISE_DB HUM_DB HUM_HZ [silence:S|tap:DB:N|none:N|"
              "pluck:HZ:DB:N...]\n",
              stderr);
        return 64;
    }
    s.n = (size_t)((s.at_s + 0.3) * RATE_HZ);
    s.x = calloc(s.n, sizeof *s.x);
    if (!s.x || !add_all(&s, argc, argv))
        return 74;
    synth_room room = room_silent(1.0, 9);
    room.noise_db = strtod(argv[2], NULL);
    room.hum_db = strtod(argv[3], NULL);
    room.hum_hz = strtod(argv[4], NULL);
    room_add(&room, RATE_HZ, s.x, s.n);
    const bool written = wav_write(argv[1], RATE_HZ, 24, s.x, s.n);
    free(s.x);
    return written ? 0 : 74;
}
