/* Any samples into the ear: a header of four bytes, then samples as floats of any bits or as
 * 16-bit numbers, repeated (so that there is a pitch) under a decay after a lead of silence. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "audio/listener.h"
#include "tests/support/invariants.h"

#define HEADER  4
#define SECONDS 0.9
#define LEAD_S  0.2

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    double rate_hz, decay_per_s;
    bool floats, early;
    size_t block;
} recipe;

static recipe read_header(const uint8_t header[HEADER]) {
    static const double rates[] = {8000, 11025, 16000, 22050};
    return (recipe){
        .rate_hz = rates[header[0] % 4],
        .floats = (header[0] & 4) != 0,
        .early = (header[0] & 8) != 0,
        .decay_per_s = header[1] / 16.0,
        .block = 1 + (size_t)header[2] * 16 + header[3],
    };
}

static float sample_at(const uint8_t *data, size_t k, bool floats) {
    float x = 0.0F;
    int16_t whole = 0;
    if (floats) {
        memcpy(&x, data + k * sizeof x, sizeof x);
        return x;
    }
    memcpy(&whole, data + k * sizeof whole, sizeof whole);
    return (float)whole / 32768.0F;
}

static void drain(sb_listener *listener) {
    sb_reading reading;
    while (sb_listener_next(listener, &reading))
        invariants_of_reading(&reading);
    sb_meter meter = sb_listener_meter(listener);
    INVARIANT(!isnan(meter.level_dbfs) && !isnan(meter.peak_dbfs) && !isnan(meter.floor_dbfs));
    INVARIANT(isfinite(meter.note_s) && meter.note_s >= 0);
}

static void hear(const recipe *r, const float samples[], size_t n) {
    sb_listener_options options = {.rate_hz = r->rate_hz, .early_readings = r->early};
    sb_listener *listener = NULL;
    if (sb_listener_new(&options, &listener) != SB_OK)
        return;
    for (size_t k = 0; k < n; k += r->block) {
        size_t count = n - k < r->block ? n - k : r->block;
        INVARIANT(sb_listener_push(listener, samples + k, count) == SB_OK);
        drain(listener);
    }
    INVARIANT(sb_listener_finish(listener) == SB_OK);
    drain(listener);
    sb_listener_free(listener);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    if (size < HEADER + sizeof(float))
        return 0;
    const recipe r = read_header(data);
    const size_t period = (size - HEADER) / (r.floats ? sizeof(float) : sizeof(int16_t));
    const size_t n = (size_t)(SECONDS * r.rate_hz), lead = (size_t)(LEAD_S * r.rate_hz);
    float *samples = calloc(n, sizeof *samples);
    if (!samples)
        return 0;
    for (size_t k = lead; k < n; k++) {
        double gain = exp(-r.decay_per_s * (double)(k - lead) / r.rate_hz);
        float x = sample_at(data + HEADER, (k - lead) % period, r.floats);
        samples[k] = r.decay_per_s > 0.0 ? (float)(gain * (double)x) : x;
    }
    hear(&r, samples, n);
    free(samples);
    return 0;
}
