#include "audio/capture.h"

#include <math.h>
#include <portaudio.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "audio/callback.h"
#include "audio/devices.h"
#include "audio/errand.h"
#include "audio/ring.h"

#define DEFAULT_BUFFER_S 4.0
#define MAX_BUFFER_S     60.0
#define MAX_RATE_HZ      1e6
#define LOOK_EVERY_S     0.01
#define FLOW_S           0.15 /* longer than a block of samples */
#define LONGEST_STEP_S   0.5  /* between two looks; more means that the program was stopped */

struct sb_capture {
    /* Set before the stream starts, then shared with the callback. */
    sb_ring ring;
    float *slots;
    sb_intake intake;

    /* The reader's. */
    PaStream *stream;
    double rate_hz;
    double looked_s; /* clock at the last look into the ring */
    double idle_s;   /* without samples since then */
    bool started;    /* a sample has come */
    bool is_lost;
    char device[SB_DEVICE_NAME_MAX];
};

/* ---- opening, in a thread of its own -------------------------------------------------- */

typedef struct {
    sb_capture *capture;
    char *wanted; /* NULL = default */
    double rate_hz;
    double buffer_s;
    int channel;
    sb_status status;
} opening;

/* Throws away what the ring holds; whether more comes. The reader must have gone. */
static bool is_flowing(sb_capture *capture) {
    float samples[256];
    size_t lost;
    while (sb_ring_read(&capture->ring, samples, 256, &lost) > 0)
        continue;
    for (double end_s = sb_clock_s() + FLOW_S; sb_clock_s() < end_s;) {
        if (sb_ring_read(&capture->ring, samples, 256, &lost) > 0)
            return true;
        sb_sleep_s(LOOK_EVERY_S);
    }
    return false;
}

/* Where sound flows, stopping is safer: aborting cancels the callback's thread, perhaps while
 * it holds a lock of the sound library. Where none flows, stopping would wait for some, and
 * that thread does nothing but poll. */
static void stop_stream(sb_capture *capture) {
    if (is_flowing(capture))
        Pa_StopStream(capture->stream);
    else
        Pa_AbortStream(capture->stream);
}

static void stop_portaudio(sb_capture *capture) {
    if (capture->stream != NULL) {
        if (capture->slots != NULL)
            stop_stream(capture);
        Pa_CloseStream(capture->stream);
    }
    Pa_Terminate();
}

static void free_capture(sb_capture *capture) {
    free(capture->slots);
    free(capture);
}

static void free_opening(opening *it) {
    free(it->wanted);
    free(it);
}

static sb_status choose(const opening *it, sb_device *chosen) {
    sb_device *devices;
    size_t n, which;
    sb_status status = sb_devices_read(&devices, &n);
    if (status != SB_OK)
        return status;
    if (sb_devices_match(devices, n, it->wanted, &which) == 1)
        *chosen = devices[which];
    else
        status = SB_E_NO_DEVICE;
    free(devices);
    return status;
}

static sb_status make_ring(sb_capture *capture, double rate_hz, double buffer_s) {
    size_t size = 1;
    while ((double)size < rate_hz * buffer_s)
        size *= 2;
    capture->slots = calloc(size, sizeof *capture->slots);
    if (capture->slots == NULL)
        return SB_E_MEMORY;
    return sb_ring_init(&capture->ring, capture->slots, size);
}

static sb_status from_portaudio(PaError error) {
    switch (error) {
    case paNoError: return SB_OK;
    case paInvalidSampleRate:
    case paInvalidChannelCount: return SB_E_RANGE;
    case paInsufficientMemory: return SB_E_MEMORY;
    default: return SB_E_NO_DEVICE;
    }
}

static void stream_ended(void *data) {
    sb_intake *intake = data; /* what the callback gets, too */
    /* release: partner is the acquire in look. */
    atomic_store_explicit(&intake->ended, 1, memory_order_release);
}

/* A stereo device opened for one channel may hand over a mix of both: ask for two. */
static int channels_to_open(const sb_device *device, int channel) {
    int least = channel > 2 ? channel : 2;
    return least < device->channels ? least : device->channels;
}

static sb_status open_stream(sb_capture *capture, const sb_device *device, int channel,
                             double rate_hz) {
    PaStreamParameters input = {.device = device->index,
                                .channelCount = channels_to_open(device, channel),
                                .sampleFormat = paFloat32 | paNonInterleaved,
                                .suggestedLatency =
                                    Pa_GetDeviceInfo(device->index)->defaultHighInputLatency};
    PaError error =
        Pa_OpenStream(&capture->stream, &input, NULL, rate_hz, paFramesPerBufferUnspecified,
                      paClipOff | paDitherOff, sb_callback, &capture->intake);
    if (error != paNoError)
        capture->stream = NULL;
    return from_portaudio(error);
}

static sb_status start_stream(sb_capture *capture, double buffer_s) {
    const PaStreamInfo *info = Pa_GetStreamInfo(capture->stream);
    if (info == NULL)
        return SB_E_NO_DEVICE;
    capture->rate_hz = info->sampleRate;
    sb_status status = make_ring(capture, capture->rate_hz, buffer_s);
    if (status != SB_OK)
        return status;
    PaError error = Pa_SetStreamFinishedCallback(capture->stream, stream_ended);
    return from_portaudio(error != paNoError ? error : Pa_StartStream(capture->stream));
}

static sb_status open_chosen(opening *it) {
    sb_capture *capture = it->capture;
    sb_device device;
    sb_status status = choose(it, &device);
    if (status != SB_OK)
        return status;
    if (it->channel > device.channels)
        return SB_E_RANGE;
    memcpy(capture->device, device.name, sizeof capture->device);
    capture->intake.ring = &capture->ring;
    capture->intake.channel = it->channel - 1;
    status = open_stream(capture, &device, it->channel,
                         it->rate_hz > 0 ? it->rate_hz : device.default_rate_hz);
    return status == SB_OK ? start_stream(capture, it->buffer_s) : status;
}

static void run_opening(void *matter) {
    opening *it = matter;
    if (Pa_Initialize() != paNoError) {
        it->status = SB_E_NO_DEVICE;
        return;
    }
    it->status = open_chosen(it);
    if (it->status != SB_OK)
        stop_portaudio(it->capture);
}

static void release_opening(void *matter) {
    opening *it = matter;
    if (it->status == SB_OK)
        stop_portaudio(it->capture);
    free_capture(it->capture);
    free_opening(it);
}

/* ---- opening, the caller's side ------------------------------------------------------- */

/* Comparisons that NaN fails. */
static bool in_range(const sb_capture_options *options) {
    return options->channel >= 0 && options->rate_hz >= 0 && options->rate_hz <= MAX_RATE_HZ &&
           options->buffer_s >= 0 && options->buffer_s <= MAX_BUFFER_S;
}

static bool copy_text(char **to, const char *from) {
    *to = NULL;
    if (from == NULL)
        return true;
    *to = malloc(strlen(from) + 1);
    if (*to == NULL)
        return false;
    memcpy(*to, from, strlen(from) + 1);
    return true;
}

static sb_capture *new_capture(void) {
    sb_capture *capture = calloc(1, sizeof *capture);
    if (capture != NULL)
        atomic_init(&capture->intake.ended, 0);
    return capture;
}

static opening *new_opening(const sb_capture_options *options) {
    opening *it = calloc(1, sizeof *it);
    if (it == NULL)
        return NULL;
    it->rate_hz = options->rate_hz;
    it->channel = options->channel > 0 ? options->channel : 1;
    it->buffer_s = options->buffer_s > 0 ? options->buffer_s : DEFAULT_BUFFER_S;
    it->capture = new_capture();
    if (it->capture == NULL || !copy_text(&it->wanted, options->device)) {
        free(it->capture);
        free(it);
        return NULL;
    }
    return it;
}

sb_status sb_capture_open(const sb_capture_options *options, double *rate_hz, sb_capture **out) {
    if (!in_range(options))
        return SB_E_RANGE;
    if (sb_errand_out())
        return SB_E_NO_DEVICE;
    opening *it = new_opening(options);
    if (it == NULL)
        return SB_E_MEMORY;
    sb_status status = sb_errand_run(run_opening, release_opening, it, SB_CAPTURE_OPEN_S);
    if (status == SB_E_DEVICE_LOST)
        return SB_E_NO_DEVICE;
    if (status == SB_OK)
        status = it->status;
    if (status == SB_OK) {
        it->capture->looked_s = sb_clock_s();
        *rate_hz = it->capture->rate_hz;
        *out = it->capture;
    } else {
        free_capture(it->capture);
    }
    free_opening(it);
    return status;
}

/* ---- reading -------------------------------------------------------------------------- */

/* Looks into the ring once; marks the device lost when it has been quiet for too long. */
static size_t look(sb_capture *capture, float samples[], size_t max, size_t *lost) {
    double now_s = sb_clock_s();
    /* acquire: partner is the release in stream_ended. It comes before the ring is read, so
     * that nothing can arrive after an end with an empty ring. */
    int ended = atomic_load_explicit(&capture->intake.ended, memory_order_acquire);
    size_t n = sb_ring_read(&capture->ring, samples, max, lost);
    capture->idle_s += fmin(now_s - capture->looked_s, LONGEST_STEP_S);
    capture->looked_s = now_s;
    if (n > 0) {
        capture->started = true;
        capture->idle_s = 0;
    } else if (ended ||
               capture->idle_s > (capture->started ? SB_CAPTURE_STALL_S : SB_CAPTURE_START_S)) {
        capture->is_lost = true;
    }
    return n;
}

sb_status sb_capture_read(sb_capture *capture, float samples[], size_t max, double wait_s,
                          size_t *n_read, size_t *lost) {
    if (max == 0)
        return SB_E_RANGE;
    double end_s = sb_clock_s() + wait_s;
    size_t n = 0, n_lost = 0;
    while (!capture->is_lost && (n = look(capture, samples, max, &n_lost)) == 0) {
        double left_s = end_s - sb_clock_s();
        if (capture->is_lost || left_s <= 0 || !sb_sleep_s(fmin(left_s, LOOK_EVERY_S)))
            break;
    }
    if (capture->is_lost)
        return SB_E_DEVICE_LOST;
    *n_read = n;
    *lost = n_lost;
    return SB_OK;
}

const char *sb_capture_device(const sb_capture *capture) {
    return capture->device;
}

/* ---- closing -------------------------------------------------------------------------- */

static void run_closing(void *matter) {
    stop_portaudio(matter);
}

static void release_closing(void *matter) {
    free_capture(matter);
}

void sb_capture_close(sb_capture *capture) {
    if (capture == NULL)
        return;
    sb_status status = sb_errand_run(run_closing, release_closing, capture, SB_CAPTURE_CLOSE_S);
    if (status == SB_E_DEVICE_LOST)
        return;
    if (status != SB_OK)
        stop_portaudio(capture);
    free_capture(capture);
}
