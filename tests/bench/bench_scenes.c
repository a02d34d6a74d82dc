/* bench_scenes: notes that go wrong, through the whole listener: is any answer wrong and sure?
 *
 *   bench_scenes [scenes=40] [seed=1] [verbose=1]
 *
 * Each scene is some seconds of 48 kHz sound with the pitches that truly sound in it. A good
 * reading is compared with the nearest of them: gross is beyond 20 cents, sure and wrong is
 * beyond both 1 cent and 5 of its standard errors. Refusing is never wrong here, except of
 * the plain notes. Fails nothing.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audio/listener.h"
#include "tests/support/prng.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"

#define RATE_HZ 48000.0

enum { SAMPLES = 264000, BLOCK = 4800, MOST_PITCHES = 8 };

typedef struct {
    prng rng;
    double *samples;
    double truth_hz[MOST_PITCHES];
    size_t n_truth;
    double noise_db;
} scene;

static double between(scene *s, double low, double high) {
    return prng_uniform(&s->rng, low, high);
}

static double any_pitch(scene *s) {
    return 31.0 * pow(2.0, between(s, 0.0, 5.4)); /* 31 to 1309 Hz */
}

static synth_note any_note(scene *s, double hz, double at_s) {
    const double b = exp(between(s, log(2e-5), log(4e-4)));
    synth_note note = synth_plain(synth_f0_for(hz, b), b, prng_next(&s->rng));
    note.at_s = at_s;
    note.pluck = between(s, 0.08, 0.3);
    note.eta_a = between(s, 0.8, 4.0);
    note.pick_db = between(s, -15.0, 0.0);
    note.glide_cents = between(s, 0.0, 5.0);
    return note;
}

static void sounds(scene *s, double hz) {
    if (s->n_truth < MOST_PITCHES)
        s->truth_hz[s->n_truth++] = hz;
}

static void add(scene *s, const synth_note *note) {
    (void)synth_add(note, RATE_HZ, s->samples, SAMPLES);
    sounds(s, synth_truth_hz(note));
}

static void plain(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    add(s, &note);
}

static void damped_early(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    note.damp_at_s = between(s, 0.1, 0.8);
    note.damp_s = between(s, 0.005, 0.05);
    add(s, &note);
}

/* The same string again before it has died: the finger stops it first. */
static void plucked_again(scene *s) {
    const double hz = any_pitch(s), after_s = between(s, 0.25, 1.5);
    synth_note note = any_note(s, hz, 0.8);
    note.damp_at_s = after_s - 0.02;
    note.damp_s = 0.005;
    add(s, &note);
    note.damp_at_s = 0.0;
    note.at_s += after_s;
    note.seed++;
    add(s, &note);
}

/* Another string comes in while the first rings on. */
static void overlapping(scene *s) {
    const double after_s = between(s, 0.2, 2.0);
    synth_note note = any_note(s, any_pitch(s), 0.8);
    add(s, &note);
    note = any_note(s, any_pitch(s), 0.8 + after_s);
    note.rms *= pow(10.0, between(s, -12.0, 6.0) / 20.0);
    add(s, &note);
}

static void two_at_once(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    add(s, &note);
    note = any_note(s, any_pitch(s), 0.8 + between(s, 0.0, 0.05));
    note.rms *= pow(10.0, between(s, -10.0, 0.0) / 20.0);
    add(s, &note);
}

static void buzzing(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    note.buzz_db = between(s, -10.0, 3.0);
    note.buzz_s = between(s, 0.05, 0.3);
    add(s, &note);
}

static void sliding(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    note.bend_cents = between(s, 30.0, 300.0) * (between(s, 0.0, 1.0) < 0.5 ? -1.0 : 1.0);
    note.bend_from_s = between(s, 0.1, 1.5);
    note.bend_to_s = note.bend_from_s + between(s, 0.05, 1.0);
    add(s, &note);
    sounds(s, synth_truth_hz(&note) * pow(2.0, note.bend_cents / 1200.0));
}

static void buried(scene *s) {
    synth_note note = any_note(s, any_pitch(s), 0.8);
    s->noise_db = between(s, -12.0, 6.0);
    add(s, &note);
}

/* No string at all: taps and a switch's click. */
static void knocks(scene *s) {
    double at_s = 0.6;
    while (at_s < 5.0) {
        const double decay_s = exp(between(s, log(0.001), log(0.05)));
        const double level = between(s, 0.05, 0.5);
        const size_t first = (size_t)(at_s * RATE_HZ), n = (size_t)(10.0 * decay_s * RATE_HZ);
        for (size_t k = 0; k < n && first + k < SAMPLES; k++)
            s->samples[first + k] +=
                level * exp(-(double)k / (decay_s * RATE_HZ)) * prng_normal(&s->rng);
        at_s += between(s, 0.3, 1.2);
    }
}

typedef struct {
    const char *name;
    void (*make)(scene *s);
} kind;

static const kind kinds[] = {
    {"plain", plain},
    {"damped early", damped_early},
    {"plucked again", plucked_again},
    {"overlapping", overlapping},
    {"two at once", two_at_once},
    {"buzzing", buzzing},
    {"sliding", sliding},
    {"buried in noise", buried},
    {"knocks only", knocks},
};

enum { KINDS = sizeof kinds / sizeof *kinds };

typedef struct {
    size_t good, refused, gross, sure_and_wrong;
    double squares;
} counts;

static double nearest_error(const scene *s, double hz) {
    double least = HUGE_VAL;
    for (size_t i = 0; i < s->n_truth; i++) {
        const double off = 1200.0 * log2(hz / s->truth_hz[i]);
        if (fabs(off) < fabs(least))
            least = off;
    }
    return least;
}

static void judge(const scene *s, const sb_reading *r, const char *what, bool verbose, counts *c) {
    if (r->fault != SB_PLUCK_GOOD) {
        c->refused++;
        return;
    }
    const double off = nearest_error(s, r->hz);
    const bool gross = !(fabs(off) <= 20.0);
    const bool wrong = fabs(off) > 1.0 && fabs(off) > 5.0 * r->std_error_cents;
    c->good++;
    c->gross += gross;
    c->sure_and_wrong += wrong;
    c->squares += gross ? 0.0 : off * off;
    if (verbose && (gross || wrong)) {
        printf("  %-16s at %.2f s read %.3f Hz +- %.3f, off by %.2f cents; sounding", what,
               r->start_s, r->hz, r->std_error_cents, off);
        for (size_t i = 0; i < s->n_truth; i++)
            printf(" %.3f", s->truth_hz[i]);
        puts("");
    }
}

static void listen_to(const scene *s, const float sound[], const char *what, bool verbose,
                      counts *c) {
    const sb_listener_options options = {.rate_hz = RATE_HZ};
    sb_listener *listener;
    sb_reading reading;
    if (sb_listener_new(&options, &listener) != SB_OK)
        exit(1);
    for (size_t at = 0; at < SAMPLES; at += BLOCK)
        if (sb_listener_push(listener, sound + at, BLOCK) != SB_OK)
            exit(1);
    if (sb_listener_finish(listener) != SB_OK)
        exit(1);
    while (sb_listener_next(listener, &reading))
        judge(s, &reading, what, verbose, c);
    sb_listener_free(listener);
}

static void run_scene(const kind *k, unsigned long seed, bool verbose, counts *c) {
    scene s = {.rng = prng_seeded(seed), .noise_db = -50.0};
    float *sound = malloc(SAMPLES * sizeof *sound);
    s.samples = calloc(SAMPLES, sizeof *s.samples);
    if (s.samples == NULL || sound == NULL)
        exit(1);
    k->make(&s);
    synth_room room = room_silent(0.05, seed);
    room.noise_db = s.noise_db;
    room_add(&room, RATE_HZ, s.samples, SAMPLES);
    synth_to_float(s.samples, SAMPLES, sound);
    listen_to(&s, sound, k->name, verbose, c);
    free(s.samples);
    free(sound);
}

static unsigned long argument(int argc, char *argv[], const char *name, unsigned long otherwise) {
    const size_t length = strlen(name);
    for (int i = 1; i < argc; i++)
        if (strncmp(argv[i], name, length) == 0 && argv[i][length] == '=')
            return strtoul(argv[i] + length + 1, NULL, 10);
    return otherwise;
}

int main(int argc, char *argv[]) {
    const unsigned long scenes = argument(argc, argv, "scenes", 40);
    const unsigned long seed = argument(argc, argv, "seed", 1);
    const bool verbose = argument(argc, argv, "verbose", 0) != 0;
    printf("%lu scenes of each kind, seed %lu\n%-16s %6s %8s %6s %14s %10s\n", scenes, seed,
           "scene", "good", "refused", "gross", "sure and wrong", "RMS cents");
    for (size_t k = 0; k < KINDS; k++) {
        counts c = {0};
        for (unsigned long i = 0; i < scenes; i++)
            run_scene(&kinds[k], seed * 100000 + 1000 * k + i, verbose, &c);
        printf("%-16s %6zu %8zu %6zu %14zu ", kinds[k].name, c.good, c.refused, c.gross,
               c.sure_and_wrong);
        if (c.good > c.gross)
            printf("%10.4f\n", sqrt(c.squares / (double)(c.good - c.gross)));
        else
            printf("%10s\n", "-");
    }
    return 0;
}
