#include "audio/sound.h"

#include <math.h>
#include <stdlib.h>

#define STEADY_HZ 5.0
#define TREBLE_HZ 300.0
#define KEEP_MAX  120.0
#define TWO_PI    6.283185307179586

typedef struct {
    float power, treble, peak;
} frame;

/* First-order high-pass: y[i] = a (y[i-1] + x[i] - x[i-1]). */
typedef struct {
    double a, x, y;
} highpass;

struct sb_sound {
    double rate_hz;
    highpass steady, treble[2];
    frame *frames;
    size_t n, capacity;
    float *kept;
    size_t n_kept, keep, kept_capacity;

    /* Of the frame that is being filled; frames end where their time does, so that they keep step
     * at any rate. */
    double power, treble_power, peak;
    size_t filled, taken, end;
};

static highpass highpass_at(double hz, double rate_hz) {
    return (highpass){.a = 1 / (1 + TWO_PI * hz / rate_hz)};
}

static double pass(highpass *h, double x) {
    h->y = h->a * (h->y + x - h->x);
    h->x = x;
    return h->y;
}

sb_status sb_sound_new(double rate_hz, double keep_s, sb_sound **out) {
    if (!(rate_hz >= 1e3 && rate_hz <= 1e6 && keep_s >= 0 && keep_s <= KEEP_MAX))
        return SB_E_RANGE;
    sb_sound *s = calloc(1, sizeof *s);
    if (!s)
        return SB_E_MEMORY;
    s->rate_hz = rate_hz;
    s->keep = (size_t)(keep_s * rate_hz);
    s->steady = highpass_at(STEADY_HZ, rate_hz);
    s->treble[0] = s->treble[1] = highpass_at(TREBLE_HZ, rate_hz);
    s->end = (size_t)(SB_SOUND_FRAME_S * rate_hz);
    *out = s;
    return SB_OK;
}

void sb_sound_free(sb_sound *s) {
    if (!s)
        return;
    free(s->frames);
    free(s->kept);
    free(s);
}

/* Room for one more frame. */
static sb_status make_room(sb_sound *s) {
    if (s->n < s->capacity)
        return SB_OK;
    size_t capacity = s->capacity > 0 ? 2 * s->capacity : 4096;
    frame *frames = realloc(s->frames, capacity * sizeof *frames);
    if (!frames)
        return SB_E_MEMORY;
    s->frames = frames;
    s->capacity = capacity;
    return SB_OK;
}

static sb_status finish_frame(sb_sound *s) {
    double n = (double)s->filled;
    sb_status status = make_room(s);
    if (status != SB_OK)
        return status;
    s->frames[s->n++] =
        (frame){(float)(s->power / n), (float)(s->treble_power / n), (float)s->peak};
    s->power = s->treble_power = s->peak = 0;
    s->filled = 0;
    s->end = (size_t)((double)(s->n + 1) * SB_SOUND_FRAME_S * s->rate_hz);
    return SB_OK;
}

/* Nor is a NaN below a limit. */
static float sane(float x) {
    return fabsf(x) < 1e6f ? x : 0.0f;
}

static sb_status keep(sb_sound *s, const float samples[], size_t n) {
    size_t room = s->keep - s->n_kept;
    if (n > room)
        n = room;
    if (s->n_kept + n > s->kept_capacity) {
        size_t capacity =
            2 * s->kept_capacity > s->n_kept + n ? 2 * s->kept_capacity : s->n_kept + n;
        float *kept = realloc(s->kept, capacity * sizeof *kept);
        if (!kept)
            return SB_E_MEMORY;
        s->kept = kept;
        s->kept_capacity = capacity;
    }
    for (size_t i = 0; i < n; i++)
        s->kept[s->n_kept++] = sane(samples[i]);
    return SB_OK;
}

sb_status sb_sound_push(sb_sound *s, const float samples[], size_t n) {
    sb_status status = keep(s, samples, n);
    for (size_t i = 0; i < n && status == SB_OK; i++) {
        double x = (double)sane(samples[i]);
        double ac = pass(&s->steady, x), high = pass(&s->treble[1], pass(&s->treble[0], x));
        s->power += ac * ac;
        s->treble_power += high * high;
        s->peak = fmax(s->peak, fabs(x));
        s->filled++;
        if (++s->taken >= s->end && (double)s->n * SB_SOUND_FRAME_S < SB_SOUND_MAX_S)
            status = finish_frame(s);
    }
    return status;
}

double sb_sound_rate_hz(const sb_sound *s) {
    return s->rate_hz;
}

size_t sb_sound_frames(const sb_sound *s) {
    return s->n;
}

double sb_sound_power(const sb_sound *s, size_t i) {
    return (double)s->frames[i].power;
}

double sb_sound_treble(const sb_sound *s, size_t i) {
    return (double)s->frames[i].treble;
}

double sb_sound_peak(const sb_sound *s, size_t i) {
    return (double)s->frames[i].peak;
}

size_t sb_sound_frame_at(const sb_sound *s, double time_s) {
    double i = floor(time_s / SB_SOUND_FRAME_S + 1e-6);
    if (!(i > 0) || s->n == 0)
        return 0;
    return i < (double)s->n ? (size_t)i : s->n - 1;
}

double sb_sound_mean_power(const sb_sound *s, double from_s, double to_s) {
    if (!(from_s >= 0 && to_s > from_s && to_s <= ((double)s->n + 0.5) * SB_SOUND_FRAME_S))
        return -1;
    size_t from = sb_sound_frame_at(s, from_s), to = sb_sound_frame_at(s, to_s - SB_SOUND_FRAME_S);
    double sum = 0;
    for (size_t i = from; i <= to; i++)
        sum += (double)s->frames[i].power;
    return sum / (double)(to - from + 1);
}

const float *sb_sound_samples(const sb_sound *s, size_t *n) {
    *n = s->n_kept;
    return s->kept;
}
