/* A device that plays a long day in minutes, in PortAudio's place: a library to be preloaded into
 * the program itself. The real callback and ring, and all behind them, get the sound as fast as
 * they take it; none is lost, since a block waits until the ring has room.
 *
 *   DAY_SOUND    recordings of one rate, divided by `:`, played over and over one behind another
 *   DAY_SECONDS  of sound; then the program gets what Ctrl-C sends
 *   DAY_REPORT   the file that gets a line a minute of sound, and one with -1 at the program's end:
 *                seconds of sound, peak memory and memory in kB, seconds of processor time less
 *                those spent in here
 *
 * Noise is never twice the same, so that no two plucks are.
 */
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include <portaudio.h>
#include <sndfile.h>

#include "audio/callback.h"

enum { BLOCK = 512, MINUTE_S = 60 };

#define NOISE 3e-4 /* peak, re full scale: 70 dB below */

static struct {
    float *samples;
    size_t n;
    int rate_hz;
    double seconds;
    PaStreamCallback *callback;
    sb_intake *intake;
    pthread_t thread;
    atomic_int stop;
} day;

static PaDeviceInfo device = {.structVersion = 2, .name = "a long day", .maxInputChannels = 1};
static PaStreamInfo stream = {.structVersion = 1};
static const PaHostApiInfo host = {.structVersion = 1, .name = "preloaded", .deviceCount = 1};

static _Noreturn void fail(const char *what) {
    fprintf(stderr, "day: %s\n", what);
    _exit(70);
}

/* --- the sound ------------------------------------------------------------------------- */

static void load(const char *path) {
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file || info.channels != 1 || (day.rate_hz && day.rate_hz != info.samplerate))
        fail("no recording of one channel and the same rate as the others");
    day.rate_hz = info.samplerate;
    day.samples = realloc(day.samples, (day.n + (size_t)info.frames) * sizeof *day.samples);
    if (!day.samples || sf_read_float(file, day.samples + day.n, info.frames) != info.frames)
        fail("a recording cannot be read");
    day.n += (size_t)info.frames;
    sf_close(file);
}

static void prepare(void) {
    const char *sound = getenv("DAY_SOUND"), *seconds = getenv("DAY_SECONDS");
    if (!sound || !seconds)
        fail("DAY_SOUND and DAY_SECONDS must be set");
    day.seconds = strtod(seconds, NULL);
    char *list = strdup(sound);
    for (char *rest, *path = strtok_r(list, ":", &rest); path; path = strtok_r(NULL, ":", &rest))
        load(path);
    free(list);
}

static uint32_t noise_state = 1;

static float noise(void) {
    noise_state ^= noise_state << 13;
    noise_state ^= noise_state >> 17;
    noise_state ^= noise_state << 5;
    return (float)(NOISE * ((double)noise_state / 2147483648.0 - 1.0));
}

/* --- what the program needs -------------------------------------------------------------- */

static long status_kb(const char *key) {
    char line[128];
    long kb = 0;
    FILE *status = fopen("/proc/self/status", "r");
    while (status && fgets(line, sizeof line, status))
        if (strncmp(line, key, strlen(key)) == 0)
            kb = strtol(line + strlen(key), NULL, 10);
    if (status)
        fclose(status);
    return kb;
}

static double cpu_s(void) {
    struct timespec all, here;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &all);
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &here);
    return (double)(all.tv_sec - here.tv_sec) + 1e-9 * (double)(all.tv_nsec - here.tv_nsec);
}

static void tell(double at_s, double used_s) {
    const char *path = getenv("DAY_REPORT");
    FILE *report = path ? fopen(path, "a") : NULL;
    if (!report)
        return;
    fprintf(report, "%.0f %ld %ld %.3f\n", at_s, status_kb("VmHWM:"), status_kb("VmRSS:"), used_s);
    fclose(report);
}

__attribute__((destructor)) static void tell_the_end(void) {
    tell(-1, 0);
}

static size_t waiting(void) {
    sb_ring *ring = day.intake->ring;
    return atomic_load(&ring->written) - atomic_load(&ring->taken);
}

static void *play(void *unused) {
    (void)unused;
    float block[BLOCK];
    const float *channel = block;
    const struct timespec moment = {.tv_nsec = 100000};
    const size_t end = (size_t)(day.seconds * day.rate_hz),
                 minute = (size_t)(MINUTE_S * day.rate_hz);
    for (size_t at = 0, told = 0; at < end && !atomic_load(&day.stop); at += BLOCK) {
        while (waiting() + 2 * BLOCK > day.intake->ring->size && !atomic_load(&day.stop))
            nanosleep(&moment, NULL);
        for (size_t i = 0; i < BLOCK; i++)
            block[i] = day.samples[(at + i) % day.n] + noise();
        PaStreamCallbackTimeInfo time = {.currentTime = 1.0 + (double)at / day.rate_hz};
        day.callback(&channel, NULL, BLOCK, &time, 0, day.intake);
        if (at >= (told + 1) * minute)
            tell((double)(++told * MINUTE_S), cpu_s());
    }
    while (waiting() > 0 && !atomic_load(&day.stop))
        nanosleep(&moment, NULL);
    if (!atomic_load(&day.stop))
        kill(getpid(), SIGINT);
    return NULL;
}

/* --- PortAudio ------------------------------------------------------------------------- */

PaError Pa_Initialize(void) {
    if (day.n == 0)
        prepare();
    device.defaultSampleRate = stream.sampleRate = day.rate_hz;
    return paNoError;
}

PaError Pa_Terminate(void) {
    return paNoError;
}

PaDeviceIndex Pa_GetDeviceCount(void) {
    return 1;
}

PaDeviceIndex Pa_GetDefaultInputDevice(void) {
    return 0;
}

const PaDeviceInfo *Pa_GetDeviceInfo(PaDeviceIndex index) {
    (void)index;
    return &device;
}

const PaHostApiInfo *Pa_GetHostApiInfo(PaHostApiIndex index) {
    (void)index;
    return &host;
}

PaError Pa_OpenStream(PaStream **out, const PaStreamParameters *in, const PaStreamParameters *to,
                      double rate_hz, unsigned long block, PaStreamFlags flags,
                      PaStreamCallback *callback, void *intake) {
    (void)in, (void)to, (void)rate_hz, (void)block, (void)flags;
    day.callback = callback;
    day.intake = intake;
    *out = &day;
    return paNoError;
}

const PaStreamInfo *Pa_GetStreamInfo(PaStream *it) {
    (void)it;
    return &stream;
}

PaError Pa_SetStreamFinishedCallback(PaStream *it, PaStreamFinishedCallback *finished) {
    (void)it, (void)finished;
    return paNoError;
}

PaError Pa_StartStream(PaStream *it) {
    (void)it;
    return pthread_create(&day.thread, NULL, play, NULL) == 0 ? paNoError : paInternalError;
}

PaError Pa_StopStream(PaStream *it) {
    (void)it;
    atomic_store(&day.stop, 1);
    pthread_join(day.thread, NULL);
    return paNoError;
}

PaError Pa_AbortStream(PaStream *it) {
    return Pa_StopStream(it);
}

PaError Pa_CloseStream(PaStream *it) {
    (void)it;
    return paNoError;
}
