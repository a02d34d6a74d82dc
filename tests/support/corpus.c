#include "tests/support/corpus.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/bound.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"

enum { MOST_STRINGS = 6 };

/* Stiffness of the open strings: guitar from wire data (music wire, 203 GPa, 647.7 mm), bass
 * and mandolin invented in keeping with it; eta_a as a range, 1/s. */
typedef struct {
    size_t n;
    double hz[MOST_STRINGS], b[MOST_STRINGS], eta_low, eta_high;
} instrument;

static const instrument instruments[] = {
    {6,
     {329.628, 246.942, 195.998, 146.832, 110.0, 82.407},
     {1.35e-5, 4.07e-5, 1.11e-4, 4.58e-5, 4.31e-5, 8.22e-5},
     0.8,
     3.0},
    {5, {97.999, 73.416, 55.0, 41.203, 30.868}, {6e-5, 8e-5, 1.1e-4, 1.7e-4, 3.0e-4}, 0.6, 1.8},
    {4, {659.255, 440.0, 293.665, 195.998}, {2.5e-5, 6e-5, 5e-5, 1.2e-4}, 2.0, 5.0},
};

enum { PITCHES = 2 * (6 + 5 + 4), RATES = 3 };

static const char *const names[CORPUS_CONDITIONS] = {
    "clean (60 dB)",  "noise 40 dB",   "noise 20 dB",    "hum -20 dB",
    "strings -20 dB", "glide 5-15",    "polarisations",  "clipped with DC",
    "all at once",    "glide and hum", "glide, strings", "planes, 20 dB"};

const char *corpus_name(corpus_condition condition) {
    return names[condition];
}

static bool has(corpus_condition condition, corpus_condition part) {
    static const corpus_condition two[CORPUS_CONDITIONS][2] = {
        [CORPUS_GLIDE_HUM] = {CORPUS_GLIDE, CORPUS_HUM},
        [CORPUS_GLIDE_STRINGS] = {CORPUS_GLIDE, CORPUS_STRINGS},
        [CORPUS_PLANES_NOISE] = {CORPUS_POLARISATIONS, CORPUS_NOISE_20}};
    return condition == part || (condition == CORPUS_ALL && part < CORPUS_ALL) ||
           two[condition][0] == part || two[condition][1] == part;
}

static double *new_doubles(size_t n) {
    double *x = calloc(n, sizeof *x);
    if (x == NULL) {
        fputs("corpus: out of memory\n", stderr);
        exit(1);
    }
    return x;
}

static void pick_string(size_t i, const instrument **of, size_t *string, bool *fretted) {
    size_t k = i % PITCHES / 2;
    *fretted = i % 2 == 1;
    *of = instruments;
    while (k >= (*of)->n)
        k -= (*of)++->n;
    *string = k;
}

static double detuned(double hz, double most_cents, prng *rng) {
    return hz * pow(2.0, prng_uniform(rng, -most_cents, most_cents) / 1200.0);
}

static synth_note draw_note(const instrument *of, size_t string, bool fretted, prng *rng) {
    const double ratio = fretted ? 2.0 : 1.0; /* fretted: half the length */
    const double b = of->b[string] * ratio * ratio * exp(prng_uniform(rng, -0.35, 0.35));
    const double hz = detuned(of->hz[string] * ratio, 40.0, rng);
    synth_note note = synth_plain(synth_f0_for(hz, b), b, prng_next(rng));
    note.at_s = CORPUS_ROOM_S;
    note.rms = prng_uniform(rng, 0.02, 0.1);
    note.pluck = fmin(0.45, ratio * prng_uniform(rng, 0.07, 0.22));
    note.pluck_width = ratio * prng_uniform(rng, 0.006, 0.02);
    note.pickup = prng_uniform(rng, 0.0, 1.0) < 0.5 ? 0.0 : ratio * prng_uniform(rng, 0.05, 0.2);
    note.eta_a = prng_uniform(rng, of->eta_low, of->eta_high) * sqrt(ratio);
    note.eta_f = prng_uniform(rng, 2e-5, 2.5e-4);
    note.eta_b = prng_uniform(rng, 0.01, 0.03);
    note.pick_db = prng_uniform(rng, -15.0, 0.0);
    note.glide_cents = 0.0;
    return note;
}

static void add_other_strings(synth_note *note, const instrument *of, size_t string, prng *rng) {
    for (size_t k = 0; k < of->n; k++) {
        const double hz = detuned(of->hz[k], 8.0, rng);
        if (k != string)
            note->sympathetic[note->n_sympathetic++] =
                (synth_sympathetic){.f0_hz = hz, .inharmonicity = of->b[k], .level_db = -20.0};
    }
}

static void draw_disturbances(synth_note *note, corpus_condition condition, const instrument *of,
                              size_t string, prng *rng) {
    if (has(condition, CORPUS_STRINGS))
        add_other_strings(note, of, string, rng);
    if (has(condition, CORPUS_GLIDE)) {
        note->glide_cents = prng_uniform(rng, 5.0, 15.0);
        /* Every other one is not the energy's, to see what the ear makes of that. */
        if (condition == CORPUS_GLIDE && prng_uniform(rng, 0.0, 1.0) < 0.5)
            note->glide_rate_per_s = prng_uniform(rng, 1.5, 8.0);
    }
    if (has(condition, CORPUS_POLARISATIONS)) {
        note->second_cents = prng_uniform(rng, 0.0, 1.0) < 0.5 ? 1.0 : -1.0;
        note->second_share = prng_uniform(rng, 0.1, 0.4);
        note->second_decay = prng_uniform(rng, 1.2, 2.0);
    }
}

static synth_room draw_room(const synth_note *note, corpus_condition condition, prng *rng) {
    synth_room room = room_silent(note->rms, prng_next(rng));
    room.noise_db = condition == CORPUS_NOISE_40      ? -40.0
                    : has(condition, CORPUS_NOISE_20) ? -20.0
                                                      : -60.0;
    if (has(condition, CORPUS_HUM)) {
        room.hum_db = -20.0;
        room.hum_hz = prng_uniform(rng, 0.0, 1.0) < 0.5 ? 50.0 : 60.0;
        room.hum_hz += prng_uniform(rng, -0.03, 0.03);
    }
    if (has(condition, CORPUS_CLIPPED)) {
        room.clip = prng_uniform(rng, 0.3, 0.6);
        room.dc = prng_uniform(rng, 0.02, 0.1);
    }
    return room;
}

/* Of a clipped note: half are clipped by the converter, at full scale, and half before it. */
static double gain_to_full_scale(const synth_room *room, const double x[], size_t n, prng *rng) {
    double most = 0.0;
    if (room->clip <= 0.0 || prng_uniform(rng, 0.0, 1.0) < 0.5)
        return 1.0;
    for (size_t k = 0; k < n; k++)
        most = fmax(most, fabs(x[k]));
    return 1.0 / most;
}

static double pitch_bound(const synth_note *note, double scale, double sigma, double rate_hz,
                          double seconds) {
    synth_partial p[SYNTH_MAX_PARTIALS];
    bound_partial q[SYNTH_MAX_PARTIALS];
    bound_stiff bound;
    const size_t count = synth_spectrum(note, rate_hz, p, SYNTH_MAX_PARTIALS);
    for (size_t i = 0; i < count; i++)
        q[i] = (bound_partial){p[i].number,
                               scale * p[i].amplitude * exp(-p[i].decay_per_s * CORPUS_SKIP_S),
                               p[i].decay_per_s};
    const bound_window w = {rate_hz, (size_t)(seconds * rate_hz), sigma};
    return bound_of_stiff(q, count, note->f0_hz, note->inharmonicity, &w, &bound)
               ? bound.sounding_cents
               : 0.0;
}

corpus_note corpus_make(corpus_condition condition, uint64_t seed, size_t i) {
    const double rates[RATES] = {44100.0, 48000.0, 96000.0};
    const instrument *of;
    size_t string;
    bool fretted;
    prng rng = prng_seeded(seed * 1000003 + (uint64_t)condition * 7919 + i);
    pick_string(i, &of, &string, &fretted);
    synth_note note = draw_note(of, string, fretted, &rng);
    draw_disturbances(&note, condition, of, string, &rng);
    const synth_room room = draw_room(&note, condition, &rng);
    corpus_note out = {.rate_hz = rates[i / PITCHES % RATES],
                       .truth_hz = synth_truth_hz(&note),
                       .inharmonicity = note.inharmonicity};
    out.n_room = (size_t)(CORPUS_ROOM_S * out.rate_hz);
    out.n_skip = (size_t)(CORPUS_SKIP_S * out.rate_hz);
    out.n = out.n_room + (size_t)(CORPUS_NOTE_S * out.rate_hz);
    double *x = new_doubles(out.n);
    const double scale = synth_add(&note, out.rate_hz, x, out.n);
    room_add(&room, out.rate_hz, x, out.n);
    const double gain = gain_to_full_scale(&room, x, out.n, &rng);
    for (size_t k = 0; k < out.n; k++)
        x[k] *= gain;
    out.samples = malloc(out.n * sizeof *out.samples);
    if (out.samples == NULL)
        exit(1);
    synth_to_float(x, out.n, out.samples);
    free(x);
    if (condition <= CORPUS_NOISE_20) {
        const double sigma = room_noise_sigma(&room);
        out.bound_cents[0] = pitch_bound(&note, scale, sigma, out.rate_hz, 2.0);
        out.bound_cents[1] = pitch_bound(&note, scale, sigma, out.rate_hz, 0.4);
    }
    return out;
}

void corpus_free(corpus_note *note) {
    free(note->samples);
    note->samples = NULL;
}
