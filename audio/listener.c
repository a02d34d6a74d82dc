#include "audio/listener.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/clip.h"
#include "audio/decimate.h"
#include "audio/ear.h"
#include "audio/lanes.h"
#include "audio/onset.h"

enum { QUEUE = 16, CHUNK = 1024 };

static const double LOWEST_WORK_RATE_HZ = 22050.0;
static const float LOUDEST_SANE = 1e6f;
static const double ROOM_S = 0.6;          /* kept before an onset: hum and noise show there */
static const double SETTLE_S = 0.12;       /* attack and finger noise, skipped */
static const double SHORT_SETTLE_S = 0.05; /* of notes too short to spare more */
static const double GUARD_S = 0.03;        /* kept clear of the next onset */
static const double LEAST_S = 0.15;
/* Of a note that is overloaded to its end so much is measured, overloads filled in, unless the rate
 * is so high that the transforms for it would take too much room. */
static const double LOUD_S = 0.8, LOUD_RATE_MAX_HZ = 100e3;
static const double EARLY_S[] = {0.33, 0.8, 1.6};
enum { EARLY = sizeof EARLY_S / sizeof EARLY_S[0] };

struct sb_listener {
    sb_listener_options options;
    double work_rate_hz;
    size_t factor;
    sb_decimator *decimator;
    sb_onset *onset;
    sb_ear *ear;

    /* The last seconds at the work rate; history[0] is sample `origin` of the stream. */
    float *history;
    size_t held, capacity, origin;

    size_t taken; /* at the input's rate */
    bool in_note, from_start;
    size_t note_from; /* work-rate position of the onset */
    size_t room_from; /* the room's sound begins here; == note_from when there is none */
    size_t early_done;
    size_t gap_at; /* latest drop-out, work rate; 0 = none */
    bool gap_seen;
    sb_clip_watch clip; /* input rate, since the onset was noticed */
    size_t clip_from;   /* work-rate position where that watch began */
    float *loud;        /* the first of what was watched, at the input's rate */
    size_t loud_n, loud_max;
    sb_ear *loud_ear; /* for it; made when first needed */

    sb_meter meter;
    double meter_power, meter_peak;
    size_t meter_n;
    double clip_until_s;

    sb_reading queue[QUEUE];
    size_t queue_head, queue_n;
};

/* ---- making and unmaking ---- */

static size_t history_capacity(const sb_listener *listener) {
    return (size_t)((ROOM_S + SB_NOTE_MAX_S + 1.5) * listener->work_rate_hz) + CHUNK;
}

sb_status sb_listener_new(const sb_listener_options *options, sb_listener **out) {
    if (!(options->rate_hz >= SB_RATE_MIN_HZ && options->rate_hz <= SB_RATE_MAX_HZ))
        return SB_E_RANGE;
    sb_listener *listener = calloc(1, sizeof *listener);
    if (!listener)
        return SB_E_MEMORY;
    listener->options = *options;
    listener->factor = (size_t)fmax(1.0, floor(options->rate_hz / LOWEST_WORK_RATE_HZ));
    listener->work_rate_hz = options->rate_hz / (double)listener->factor;
    listener->capacity = history_capacity(listener);
    listener->meter = (sb_meter){.level_dbfs = -120, .peak_dbfs = -120, .floor_dbfs = -120};
    listener->history = malloc(listener->capacity * sizeof(float));
    listener->loud_max =
        options->rate_hz <= LOUD_RATE_MAX_HZ ? (size_t)(LOUD_S * options->rate_hz) : 0;
    listener->loud = malloc((listener->loud_max + 1) * sizeof(float));
    sb_status status = listener->history && listener->loud ? SB_OK : SB_E_MEMORY;
    if (status == SB_OK)
        status = sb_decimator_new(listener->factor, &listener->decimator);
    if (status == SB_OK)
        status = sb_onset_new(listener->work_rate_hz, &listener->onset);
    if (status == SB_OK)
        status = sb_ear_new(listener->work_rate_hz, options->lowest_hz, options->highest_hz,
                            &listener->ear);
    if (status != SB_OK) {
        sb_listener_free(listener);
        return status;
    }
    *out = listener;
    return SB_OK;
}

void sb_listener_free(sb_listener *listener) {
    if (!listener)
        return;
    sb_decimator_free(listener->decimator);
    sb_onset_free(listener->onset);
    sb_ear_free(listener->ear);
    sb_ear_free(listener->loud_ear);
    free(listener->loud);
    free(listener->history);
    free(listener);
}

/* ---- reading a note ---- */

static void enqueue(sb_listener *listener, const sb_reading *reading) {
    if (listener->queue_n == QUEUE) { /* nobody fetches: the oldest goes */
        listener->queue_head = (listener->queue_head + 1) % QUEUE;
        listener->queue_n--;
    }
    listener->queue[(listener->queue_head + listener->queue_n++) % QUEUE] = *reading;
}

static size_t work_samples(const sb_listener *listener, double seconds) {
    return (size_t)(seconds * listener->work_rate_hz);
}

/* Where the measured part of the present note begins: past the attack and any overload. */
static size_t settled_from(const sb_listener *listener, size_t to, bool *overloaded) {
    size_t after, from = listener->note_from + work_samples(listener, SETTLE_S);
    *overloaded = false;
    if (to < from + work_samples(listener, LEAST_S))
        from = listener->note_from + work_samples(listener, SHORT_SETTLE_S);
    if (sb_clip_found(&listener->clip, &after)) {
        size_t clean =
            listener->clip_from + after / listener->factor + 1 + work_samples(listener, 0.002);
        if (clean > from)
            from = clean;
        *overloaded = clean + work_samples(listener, LEAST_S) > to;
    }
    return from;
}

static bool hurt_by_gap(const sb_listener *listener, size_t to) {
    return listener->gap_seen && listener->gap_at >= listener->note_from && listener->gap_at <= to;
}

/* The note up to `to`, overloaded as it is. False where nothing can be made of it. */
static bool read_loud(sb_listener *listener, size_t to, sb_reading *reading) {
    const sb_listener_options *options = &listener->options;
    size_t from = listener->note_from + work_samples(listener, SETTLE_S);
    size_t skip = from > listener->clip_from ? (from - listener->clip_from) * listener->factor : 0;
    size_t n = to > listener->clip_from ? (to - listener->clip_from) * listener->factor : 0;
    if (n > listener->loud_n)
        n = listener->loud_n;
    if (n < skip + (size_t)(LEAST_S * options->rate_hz))
        return false;
    if (!listener->loud_ear && sb_ear_new(options->rate_hz, options->lowest_hz, options->highest_hz,
                                          &listener->loud_ear) != SB_OK)
        return false;
    sb_ear_read(listener->loud_ear, listener->loud + skip, n - skip, NULL, reading);
    return reading->fault == SB_PLUCK_GOOD && reading->mended;
}

/* The note up to `to`, past its overload. */
static void read_clean(sb_listener *listener, size_t from, size_t to, sb_reading *reading) {
    size_t room_to = listener->note_from > work_samples(listener, 0.02)
                         ? listener->note_from - work_samples(listener, 0.02)
                         : 0;
    size_t room_from =
        listener->room_from > listener->origin ? listener->room_from : listener->origin;
    sb_ear_scene scene = {0};
    if (room_to > room_from) {
        scene.room = listener->history + (room_from - listener->origin);
        scene.n_room = room_to - room_from;
        scene.n_between = from - room_to;
    }
    sb_ear_read(listener->ear, listener->history + (from - listener->origin), to - from, &scene,
                reading);
}

static void read_note(sb_listener *listener, size_t to, bool still_sounding) {
    sb_reading reading = {0};
    bool overloaded;
    size_t from = settled_from(listener, to, &overloaded);
    if (!overloaded || !read_loud(listener, to, &reading)) {
        read_clean(listener, from < to ? from : to, to, &reading);
        if (overloaded)
            reading.fault = SB_PLUCK_CLIPPED;
    }
    if (hurt_by_gap(listener, to))
        reading.fault = SB_PLUCK_DROPPED;
    reading.start_s = (double)listener->note_from / listener->work_rate_hz;
    reading.still_sounding = still_sounding;
    bool mere_room =
        listener->from_start && reading.fault != SB_PLUCK_GOOD && reading.fault != SB_PLUCK_CLIPPED;
    bool early_guess = still_sounding && reading.fault != SB_PLUCK_GOOD;
    if (!mere_room && !early_guess)
        enqueue(listener, &reading);
}

static void end_note(sb_listener *listener, size_t to) {
    if (!listener->in_note)
        return;
    listener->in_note = false;
    read_note(listener, to, false);
}

static void watch_loudness(sb_listener *listener, const float samples[], size_t n) {
    size_t room = listener->loud_max - listener->loud_n, kept = n < room ? n : room;
    sb_clip_feed(&listener->clip, samples, n);
    memcpy(listener->loud + listener->loud_n, samples, kept * sizeof samples[0]);
    listener->loud_n += kept;
}

static void begin_note(sb_listener *listener, const sb_onset_event *event) {
    size_t keep = work_samples(listener, ROOM_S);
    listener->in_note = true;
    listener->from_start = event->from_start;
    listener->note_from = event->at;
    listener->room_from =
        event->room_since + keep > event->at ? event->room_since : event->at - keep;
    listener->early_done = 0;
    listener->clip = (sb_clip_watch){0};
    listener->loud_n = 0;
    listener->clip_from = listener->origin + listener->held;
}

static void handle(sb_listener *listener, const sb_onset_event *event) {
    size_t guard = work_samples(listener, GUARD_S);
    if (event->kind == SB_EVENT_ONSET) {
        size_t end = event->at > guard ? event->at - guard : 0;
        if (listener->in_note)
            end_note(listener, end > listener->note_from ? end : listener->note_from);
        begin_note(listener, event);
    } else {
        end_note(listener, event->at > listener->note_from ? event->at : listener->note_from);
    }
}

static void tend_note(sb_listener *listener) {
    if (!listener->in_note)
        return;
    size_t now = listener->origin + listener->held;
    double age_s = (double)(now - listener->note_from) / listener->work_rate_hz;
    if (age_s >= SB_NOTE_MAX_S) {
        end_note(listener, listener->note_from + work_samples(listener, SB_NOTE_MAX_S));
        return;
    }
    if (!listener->options.early_readings || listener->early_done >= EARLY ||
        age_s < EARLY_S[listener->early_done])
        return;
    listener->early_done++;
    read_note(listener, now, true);
}

/* ---- the stream ---- */

/* Keeps the room before the present note, or before now; drops what is older. */
static void make_room(sb_listener *listener, size_t n) {
    if (listener->held + n <= listener->capacity)
        return;
    size_t now = listener->origin + listener->held;
    size_t keep_from = (listener->in_note ? listener->note_from : now);
    size_t before = work_samples(listener, ROOM_S + 0.3);
    keep_from = keep_from > before ? keep_from - before : 0;
    if (keep_from < listener->origin)
        keep_from = listener->origin;
    size_t drop = keep_from - listener->origin;
    memmove(listener->history, listener->history + drop, (listener->held - drop) * sizeof(float));
    listener->held -= drop;
    listener->origin += drop;
}

static void finish_meter(sb_listener *listener) {
    listener->meter.level_dbfs =
        10.0 * log10(listener->meter_power / (double)listener->meter_n + 1e-12);
    listener->meter.peak_dbfs = 20.0 * log10(listener->meter_peak + 1e-6);
    listener->meter_power = listener->meter_peak = 0;
    listener->meter_n = 0;
}

/* Sum of squares and highest size. */
static void measure(const float samples[], size_t n, float *power, float *peak) {
    sb_lanes squares = {0}, high = {0};
    size_t i = 0;
    for (; i + SB_LANES <= n; i += SB_LANES) {
        sb_lanes x = sb_lanes_load(samples + i);
        squares += x * x;
        high = sb_lanes_max(sb_lanes_abs(x), high);
    }
    *power = sb_lanes_sum(squares);
    *peak = sb_lanes_highest(high);
    for (; i < n; i++) {
        *power += samples[i] * samples[i];
        *peak = fmaxf(*peak, fabsf(samples[i]));
    }
}

static void update_meter(sb_listener *listener, const float samples[], size_t n) {
    size_t span = (size_t)(0.05 * listener->options.rate_hz);
    while (n > 0) {
        size_t take = span - listener->meter_n < n ? span - listener->meter_n : n;
        float power, peak;
        measure(samples, take, &power, &peak);
        listener->meter_power += (double)power;
        listener->meter_peak = fmax(listener->meter_peak, (double)peak);
        if (peak >= 0.999f)
            listener->clip_until_s = sb_listener_time_s(listener) + 0.5;
        listener->meter_n += take;
        samples += take, n -= take;
        if (listener->meter_n == span)
            finish_meter(listener);
    }
}

static bool sane(float x) {
    return fabsf(x) < LOUDEST_SANE; /* nor is a NaN */
}

static bool all_sane(const float in[], size_t n) {
    sb_mask every = {-1, -1, -1, -1};
    size_t i = 0;
    for (; i + SB_LANES <= n; i += SB_LANES)
        every &= sb_lanes_abs(sb_lanes_load(in + i)) < sb_lanes_all(LOUDEST_SANE);
    bool all = every[0] && every[1] && every[2] && every[3];
    for (; i < n; i++)
        all = all && sane(in[i]);
    return all;
}

/* What is not a number replaced by silence: in[] itself when all is well. */
static const float *cleaned(const float in[], size_t n, float out[]) {
    if (all_sane(in, n))
        return in;
    for (size_t i = 0; i < n; i++)
        out[i] = sane(in[i]) ? in[i] : 0.0f;
    return out;
}

static void push_chunk(sb_listener *listener, const float samples[], size_t n) {
    float copy[CHUNK];
    const float *clean = cleaned(samples, n, copy);
    if (clean != samples)
        sb_listener_gap(listener);
    update_meter(listener, clean, n);
    if (listener->in_note)
        watch_loudness(listener, clean, n);
    make_room(listener, n / listener->factor + 1);
    float *fresh = listener->history + listener->held;
    size_t made = sb_decimator_run(listener->decimator, clean, n, fresh);
    sb_onset_feed(listener->onset, fresh, made);
    listener->held += made;
    listener->taken += n;
    sb_onset_event event;
    while (sb_onset_next(listener->onset, &event)) {
        bool began = event.kind == SB_EVENT_ONSET;
        handle(listener, &event);
        if (began) { /* this chunk may hold the attack: watch it too */
            listener->clip_from -= made;
            watch_loudness(listener, clean, n);
        }
    }
    tend_note(listener);
}

sb_status sb_listener_push(sb_listener *listener, const float samples[], size_t n) {
    while (n > 0) {
        size_t take = n < CHUNK ? n : CHUNK;
        push_chunk(listener, samples, take);
        samples += take;
        n -= take;
    }
    return SB_OK;
}

void sb_listener_gap(sb_listener *listener) {
    listener->gap_seen = true;
    listener->gap_at = listener->origin + listener->held;
}

sb_status sb_listener_finish(sb_listener *listener) {
    size_t end = listener->origin + listener->held;
    sb_onset_event event;
    while (sb_onset_next(listener->onset, &event))
        handle(listener, &event);
    end_note(listener, end);
    return SB_OK;
}

bool sb_listener_next(sb_listener *listener, sb_reading *out) {
    if (listener->queue_n == 0)
        return false;
    *out = listener->queue[listener->queue_head];
    listener->queue_head = (listener->queue_head + 1) % QUEUE;
    listener->queue_n--;
    return true;
}

sb_meter sb_listener_meter(const sb_listener *listener) {
    sb_meter meter = listener->meter;
    size_t now = listener->origin + listener->held;
    meter.clipping = sb_listener_time_s(listener) < listener->clip_until_s;
    meter.sounding = listener->in_note;
    meter.note_s =
        listener->in_note ? (double)(now - listener->note_from) / listener->work_rate_hz : 0.0;
    meter.floor_dbfs = sb_onset_floor_dbfs(listener->onset);
    return meter;
}

double sb_listener_time_s(const sb_listener *listener) {
    return (double)listener->taken / listener->options.rate_hz;
}
