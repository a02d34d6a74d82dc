/* bench_speed: what the listener costs in time and memory.
 *
 *   bench_speed [longest seconds, 1000]     the tables
 *   bench_speed memory FILE [live|none]     one run, its peak memory in kB; used by the first
 *
 * Sound: plucks 2.4 s apart, 48 kHz mono. The file path reads a 24-bit WAV in the folder for
 * temporary files; a general-purpose peer (aubio yinfft, buffer 2048, hop 256) reads the same
 * file. Times are of the processor, one thread. Fails nothing.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include <aubio/aubio.h>

#include "audio/listener.h"
#include "audio/recording.h"
#include "tests/support/room.h"
#include "tests/support/synth.h"

#define RATE_HZ 48000.0

enum { LOOP = 460800, BLOCK = 4096, LIVE_BLOCK = 480, PATH_LENGTH = 512, PEER_HOP = 256 };

static void fail(const char *what) {
    fprintf(stderr, "bench_speed: %s failed\n", what);
    exit(1);
}

/* 9.6 s to be played over and over: E2, E3, E4 and A2, each damped before the next. */
static float *make_loop(void) {
    const double hz[] = {82.407, 165.0, 329.628, 110.0};
    double *x = calloc(LOOP, sizeof *x);
    float *out = malloc(LOOP * sizeof *out);
    if (x == NULL || out == NULL)
        fail("memory");
    for (size_t i = 0; i < 4; i++) {
        synth_note note = synth_plain(hz[i], 6e-5, 40 + i);
        note.at_s = 0.15 + 2.4 * (double)i;
        note.damp_at_s = 2.15;
        note.damp_s = 0.01;
        note.pick_db = -6.0;
        (void)synth_add(&note, RATE_HZ, x, LOOP);
    }
    synth_room room = room_silent(0.05, 4);
    room.noise_db = -60.0;
    room_add(&room, RATE_HZ, x, LOOP);
    synth_to_float(x, LOOP, out);
    free(x);
    return out;
}

/* Copies n samples of the endless loop from position `at`. */
static void play(const float loop[], size_t at, float out[], size_t n) {
    for (size_t k = 0; k < n; k++)
        out[k] = loop[(at + k) % LOOP];
}

static sb_listener *new_listener(bool live) {
    const sb_listener_options options = {.rate_hz = RATE_HZ, .early_readings = live};
    sb_listener *listener;
    if (sb_listener_new(&options, &listener) != SB_OK)
        fail("sb_listener_new");
    return listener;
}

static size_t take_readings(sb_listener *listener) {
    sb_reading reading;
    size_t n = 0;
    while (sb_listener_next(listener, &reading))
        n += reading.fault == SB_PLUCK_GOOD && !reading.still_sounding;
    return n;
}

static double processor_s(void) {
    return (double)clock() / CLOCKS_PER_SEC;
}

static void write_file(const char *path, const float loop[], size_t seconds) {
    sb_recording *file;
    float block[BLOCK];
    const size_t total = seconds * (size_t)RATE_HZ;
    if (sb_recording_create(path, RATE_HZ, true, &file) != SB_OK)
        fail("sb_recording_create");
    for (size_t at = 0; at < total; at += BLOCK) {
        const size_t n = total - at < BLOCK ? total - at : BLOCK;
        play(loop, at, block, n);
        if (sb_recording_write(file, block, n) != SB_OK)
            fail("sb_recording_write");
    }
    if (sb_recording_close(file, NULL) != SB_OK)
        fail("sb_recording_close");
}

/* The whole way of a file through the listener, NULL: through nothing; returns how many
 * notes were read. */
static size_t listen_to_file(const char *path, sb_listener *listener) {
    sb_recording *file;
    float block[BLOCK];
    double rate_hz;
    size_t n, readings = 0;
    if (sb_recording_open(path, -1, &rate_hz, &file) != SB_OK)
        fail("sb_recording_open");
    do {
        if (sb_recording_read(file, block, BLOCK, &n) != SB_OK)
            fail("sb_recording_read");
        if (listener != NULL && sb_listener_push(listener, block, n) != SB_OK)
            fail("sb_listener_push");
        readings += listener != NULL ? take_readings(listener) : 0;
    } while (n == BLOCK);
    if (listener != NULL && sb_listener_finish(listener) != SB_OK)
        fail("sb_listener_finish");
    readings += listener != NULL ? take_readings(listener) : 0;
    sb_recording_discard(file);
    return readings;
}

static double time_listener(const char *path, size_t *readings) {
    const double start = processor_s();
    sb_listener *listener = new_listener(false);
    *readings = listen_to_file(path, listener);
    sb_listener_free(listener);
    return processor_s() - start;
}

static double time_peer(const char *path) {
    const double start = processor_s();
    sb_recording *file = NULL;
    double rate_hz;
    size_t n;
    aubio_pitch_t *pitch = new_aubio_pitch("yinfft", 2048, PEER_HOP, (unsigned)RATE_HZ);
    fvec_t *in = new_fvec(PEER_HOP), *out = new_fvec(1);
    if (pitch == NULL || sb_recording_open(path, 0, &rate_hz, &file) != SB_OK)
        fail("peer");
    while (sb_recording_read(file, in->data, PEER_HOP, &n) == SB_OK && n == PEER_HOP)
        aubio_pitch_do(pitch, in, out);
    sb_recording_discard(file);
    del_fvec(in);
    del_fvec(out);
    del_aubio_pitch(pitch);
    return processor_s() - start;
}

static long peak_kb(void) {
    struct rusage usage;
    if (getrusage(RUSAGE_SELF, &usage) != 0)
        fail("getrusage");
#ifdef __APPLE__
    return usage.ru_maxrss / 1024; /* bytes there */
#else
    return usage.ru_maxrss;
#endif
}

static void run_memory(const char *path, const char *how) {
    sb_listener *listener =
        strcmp(how, "none") != 0 ? new_listener(strcmp(how, "live") == 0) : NULL;
    (void)listen_to_file(path, listener);
    sb_listener_free(listener);
    printf("%ld\n", peak_kb());
}

/* In a process of its own: a peak never sinks again. The shell must fork it ("; true"), or
 * it inherits this one's peak. */
static double memory_of(const char *program, const char *path, const char *how) {
    char command[3 * PATH_LENGTH];
    long kb = 0;
    (void)snprintf(command, sizeof command, "'%s' memory '%s' %s; true", program, path, how);
    (void)fflush(stdout);
    FILE *child = popen(command, "r");
    if (child == NULL || fscanf(child, "%ld", &kb) != 1)
        fail("memory run");
    (void)pclose(child);
    return (double)kb;
}

static void print_speed_heading(void) {
    printf("File path, 48 kHz: seconds of audio a second of one processor; peak memory in MB with\n"
           "test libraries, and what the listener adds\n"
           "%8s %9s %9s %9s %14s %12s %8s %9s %9s\n",
           "audio s", "readings", "cpu s", "listener", "ns / n log2 n", "yinfft 2048", "peak",
           "listener", "live");
}

static void print_speed(const char *program, const char *path, size_t seconds) {
    size_t readings;
    const double cost = time_listener(path, &readings), peer = time_peer(path);
    const double n = (double)seconds * RATE_HZ;
    const double kb = memory_of(program, path, ""), none = memory_of(program, path, "none");
    printf("%8zu %9zu %9.3f %8.0fx %14.3f %11.0fx %8.1f %9.1f %9.1f\n", seconds, readings, cost,
           (double)seconds / cost, 1e9 * cost / (n * log2(n)), (double)seconds / peer, kb / 1024.0,
           (kb - none) / 1024.0, (memory_of(program, path, "live") - none) / 1024.0);
}

static void print_live(const float loop[]) {
    const size_t seconds = 60, total = seconds * (size_t)RATE_HZ;
    sb_listener *listener = new_listener(true);
    float block[LIVE_BLOCK];
    double worst = 0.0, spent = 0.0;
    for (size_t at = 0; at < total; at += LIVE_BLOCK) {
        play(loop, at, block, LIVE_BLOCK);
        const double start = processor_s();
        if (sb_listener_push(listener, block, LIVE_BLOCK) != SB_OK)
            fail("sb_listener_push");
        (void)take_readings(listener);
        const double cost = processor_s() - start;
        spent += cost;
        worst = fmax(worst, cost);
    }
    sb_listener_free(listener);
    printf("\nLive, %zu s in blocks of 10 ms with early readings: %.2f %% of a core, longest "
           "block %.1f ms\n",
           seconds, 100.0 * spent / (double)seconds, 1e3 * worst);
}

static void run_all(const char *program, size_t longest) {
    const size_t seconds[] = {10, 100, 120, longest};
    char folder[PATH_LENGTH], path[PATH_LENGTH + 16];
    const char *temporary = getenv("TMPDIR");
    float *loop = make_loop();
    (void)snprintf(folder, sizeof folder, "%s/bench_speed_XXXXXX",
                   temporary != NULL ? temporary : "/tmp");
    if (mkdtemp(folder) == NULL)
        fail("mkdtemp");
    (void)snprintf(path, sizeof path, "%s/take.wav", folder);
    print_speed_heading();
    for (size_t i = 0; i < sizeof seconds / sizeof *seconds; i++) {
        write_file(path, loop, seconds[i]);
        print_speed(program, path, seconds[i]);
    }
    (void)remove(path);
    (void)rmdir(folder);
    print_live(loop);
    free(loop);
}

int main(int argc, char *argv[]) {
    if (argc > 2 && strcmp(argv[1], "memory") == 0)
        run_memory(argv[2], argc > 3 ? argv[3] : "");
    else
        run_all(argv[0], argc > 1 ? (size_t)strtoul(argv[1], NULL, 10) : 1000);
    return 0;
}
