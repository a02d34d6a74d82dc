#include "tests/support/fixtures.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"

#define LEAD_IN_S 0.6 /* of room before the first pluck */
#define APART_S   2.3 /* between a take's plucks */
#define PALM_S    2.2 /* a take's note is stopped so long after its attack */
#define PAIR_S    3.4 /* length of a single note's file */

/* One take of six: two plucks open, three at fret 12, one open again. Strings are those of
 * an invented electric guitar of 25.5 in; B from wire data (music wire, 203 GPa). */
typedef struct {
    const char *file;
    double open_hz, b, error_cents, drift_cents_per_min;
} take;

static const take takes[] = {
    {"demo-1-E4.flac", 329.90, 1.35e-5, 2.1, 0.0},  {"demo-2-B3.flac", 246.40, 4.07e-5, -1.4, 0.0},
    {"demo-3-G3.flac", 196.30, 1.11e-4, 6.8, -6.0}, {"demo-4-D3.flac", 146.25, 4.58e-5, 0.4, 0.0},
    {"demo-5-A2.flac", 110.00, 4.31e-5, 3.2, 0.0},  {"demo-6-E2.flac", 82.70, 8.22e-5, 8.9, 0.0},
};

static const bool take_fretted[] = {false, false, true, true, true, false};

/* A note alone, open and at fret 12, with one thing that is hard about it. */
typedef struct {
    const char *name;
    double open_hz, b, error_cents, tolerance_cents;
    double noise_db, hum_db, hum_hz, clip, dc, glide_cents;
    bool weak_fundamental, other_strings;
} pair;

static const pair pairs[] = {
    {.name = "clean", .open_hz = 82.5, .b = 8.2e-5, .error_cents = 4.6, .tolerance_cents = 0.01},
    {.name = "weak",
     .open_hz = 110.3,
     .b = 4.3e-5,
     .error_cents = -2.0,
     .tolerance_cents = 0.03,
     .weak_fundamental = true},
    {.name = "hum",
     .open_hz = 195.4,
     .b = 1.1e-4,
     .error_cents = 6.0,
     .tolerance_cents = 0.03,
     .hum_db = -20.0,
     .hum_hz = 50.0},
    {.name = "noise",
     .open_hz = 247.2,
     .b = 4.1e-5,
     .error_cents = 1.0,
     .tolerance_cents = 0.05,
     .noise_db = -20.0},
    {.name = "clipped",
     .open_hz = 328.9,
     .b = 1.4e-5,
     .error_cents = 3.3,
     .tolerance_cents = 0.05,
     .clip = 0.4,
     .dc = 0.05},
    {.name = "glide",
     .open_hz = 146.9,
     .b = 4.6e-5,
     .error_cents = 2.5,
     .tolerance_cents = 0.05,
     .glide_cents = 12.0},
    {.name = "strings",
     .open_hz = 109.8,
     .b = 4.3e-5,
     .error_cents = -3.5,
     .tolerance_cents = 0.1,
     .other_strings = true},
    {.name = "bass", .open_hz = 30.9, .b = 3.0e-4, .error_cents = 7.5, .tolerance_cents = 0.05},
};

enum { TAKES = sizeof takes / sizeof *takes, PAIRS = sizeof pairs / sizeof *pairs };

size_t fixtures_count(void) {
    return TAKES + 2 * PAIRS;
}

static uint64_t seed_of(size_t i) {
    return 20240 + 101 * (uint64_t)i;
}

static double fretted_hz(double open_hz, double error_cents) {
    return 2.0 * open_hz * pow(2.0, error_cents / 1200.0);
}

fixture fixtures_get(size_t i) {
    fixture f = {.seed = seed_of(i)};
    if (i < TAKES) {
        (void)snprintf(f.file, sizeof f.file, "%s", takes[i].file);
        f.what = "take";
        f.hz = takes[i].open_hz;
        f.octave_error_cents = takes[i].error_cents;
        /* within a note a steady drift looks like a glide: a part of its 0.2 cents is lost */
        f.tolerance_cents = takes[i].drift_cents_per_min != 0.0 ? 0.1 : 0.03;
        return f;
    }
    const pair *p = &pairs[(i - TAKES) / 2];
    const bool fretted = (i - TAKES) % 2 == 1;
    (void)snprintf(f.file, sizeof f.file, "%s-%s.flac", p->name, fretted ? "fret12" : "open");
    f.what = fretted ? "fret 12" : "open";
    f.hz = fretted ? fretted_hz(p->open_hz, p->error_cents) : p->open_hz;
    f.octave_error_cents = p->error_cents;
    f.tolerance_cents = p->tolerance_cents;
    return f;
}

static double *silence(double seconds, size_t *n) {
    *n = (size_t)lround(seconds * FIXTURE_RATE_HZ);
    double *x = calloc(*n, sizeof *x);
    if (x == NULL) {
        fputs("fixtures: out of memory\n", stderr);
        exit(1);
    }
    return x;
}

/* Half the string: four times the stiffness (B falls as the length squared, by Fletcher). */
static synth_note string_note(double hz, double b, bool fretted, prng *rng) {
    const double stiffness = fretted ? 4.0 * b : b;
    synth_note note = synth_plain(synth_f0_for(hz, stiffness), stiffness, prng_next(rng));
    note.rms = 0.1 * prng_uniform(rng, 0.7, 1.3);
    note.pluck = prng_uniform(rng, 0.12, 0.2) * (fretted ? 2.0 : 1.0);
    note.pick_db = -6.0;
    note.glide_cents = prng_uniform(rng, 0.5, 3.0);
    note.eta_a = fretted ? 2.0 : 1.4;
    return note;
}

static short *to_shorts(double x[], size_t n) {
    short *out = calloc(n, sizeof *out);
    for (size_t k = 0; out != NULL && k < n; k++)
        out[k] = (short)lround(32767.0 * fmax(-1.0, fmin(1.0, x[k])));
    free(x);
    return out;
}

static short *render_take(size_t i, size_t *n) {
    const take *t = &takes[i];
    const size_t plucks = sizeof take_fretted / sizeof *take_fretted;
    double *x = silence(LEAD_IN_S + APART_S * (double)plucks + 0.4, n);
    prng rng = prng_seeded(seed_of(i));
    for (size_t k = 0; k < plucks; k++) {
        const double after_s = APART_S * (double)k;
        const double drift = pow(2.0, t->drift_cents_per_min * after_s / 60.0 / 1200.0);
        const double hz = take_fretted[k] ? fretted_hz(t->open_hz, t->error_cents) : t->open_hz;
        synth_note note = string_note(hz * drift, t->b, take_fretted[k], &rng);
        note.at_s = LEAD_IN_S + after_s;
        note.damp_at_s = PALM_S;
        note.damp_s = 0.015;
        note.bend_cents = t->drift_cents_per_min * APART_S / 60.0;
        note.bend_to_s = APART_S;
        (void)synth_add(&note, FIXTURE_RATE_HZ, x, *n);
    }
    synth_room room = room_silent(0.1, prng_next(&rng));
    room.noise_db = -60.0;
    room.hum_db = -55.0;
    room.hum_hz = 60.0;
    room_add(&room, FIXTURE_RATE_HZ, x, *n);
    return to_shorts(x, *n);
}

/* What overloads a converter stands at its full scale. */
static void to_full_scale(double x[], size_t n) {
    double most = 0.0;
    for (size_t k = 0; k < n; k++)
        most = fmax(most, fabs(x[k]));
    for (size_t k = 0; k < n; k++)
        x[k] /= most;
}

static void set_off_strings(synth_note *note) {
    const double others[] = {82.6, 146.6, 196.2, 246.5, 330.0};
    for (size_t k = 0; k < sizeof others / sizeof *others; k++)
        note->sympathetic[k] =
            (synth_sympathetic){.f0_hz = others[k], .inharmonicity = 5e-5, .level_db = -26.0};
    note->n_sympathetic = sizeof others / sizeof *others;
}

static short *render_pair(size_t i, size_t *n) {
    const pair *p = &pairs[(i - TAKES) / 2];
    const fixture f = fixtures_get(i);
    double *x = silence(PAIR_S, n);
    prng rng = prng_seeded(f.seed);
    synth_note note = string_note(f.hz, p->b, (i - TAKES) % 2 == 1, &rng);
    note.at_s = LEAD_IN_S;
    if (p->glide_cents > 0.0)
        note.glide_cents = p->glide_cents;
    if (p->weak_fundamental) {
        note.highpass_hz = 600.0;
        note.gain_db[0] = -40.0;
    }
    if (p->other_strings)
        set_off_strings(&note);
    (void)synth_add(&note, FIXTURE_RATE_HZ, x, *n);
    synth_room room = room_silent(note.rms, prng_next(&rng));
    room.noise_db = p->noise_db < 0.0 ? p->noise_db : -60.0;
    if (p->hum_db < 0.0) {
        room.hum_db = p->hum_db;
        room.hum_hz = p->hum_hz;
    }
    room.clip = p->clip;
    room.dc = p->dc;
    room_add(&room, FIXTURE_RATE_HZ, x, *n);
    if (p->clip > 0.0)
        to_full_scale(x, *n);
    return to_shorts(x, *n);
}

short *fixtures_render(size_t i, size_t *n) {
    return i < TAKES ? render_take(i, n) : render_pair(i, n);
}

const char *fixtures_heading(void) {
    return "# Invented sound, made by tests/mkfixtures: no instrument was recorded.\n"
           "# hz: settled sounding fundamental f0 sqrt(1 + B); of a take the open string's at its\n"
           "# first pluck. Error: fretted over twice open, sharp positive, of the take or pair.\n"
           "file\twhat\thz\toctave_error_cents\ttolerance_cents\tseed\n";
}

void fixtures_line(const fixture *f, char *text, size_t size) {
    (void)snprintf(text, size, "%s\t%s\t%.6f\t%+.2f\t%.2f\t%llu", f->file, f->what, f->hz,
                   f->octave_error_cents, f->tolerance_cents, (unsigned long long)f->seed);
}
