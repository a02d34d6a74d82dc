#include "audio/onset.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FRAMES = 64, EVENTS = 16, WIDE = 4 };

static const double FRAME_S = 0.01;
static const double RISE_WIDE_DB = 4.5;   /* whole band, within 100 ms */
static const double RISE_TREBLE_DB = 9.0; /* first difference, above the last 150 ms */
static const double CLEAR_DB = 7.0;       /* a note stands this far above the room */
/* A fall this far within 100 ms is a hand; fast treble falls 13 by itself. */
static const double DAMPED_DB = 22.0;
static const double LEAST_DBFS = -75.0;
static const double REFRACTORY_S = 0.09; /* one pluck is one onset */

struct sb_onset {
    double rate_hz;
    size_t frame, frames_done, filled;
    double power, treble_power, last, mean;
    /* dB of each frame, newest at frames_done - 1; index modulo FRAMES */
    double raw[FRAMES], wide_db[FRAMES], treble_db[FRAMES];
    double floor_db, treble_floor_db;
    bool begun, sounding;
    size_t onset_frame, quiet_since;
    sb_onset_event events[EVENTS];
    size_t head, n_events;
};

sb_status sb_onset_new(double rate_hz, sb_onset **out) {
    sb_onset *onset = calloc(1, sizeof *onset);
    if (!onset)
        return SB_E_MEMORY;
    onset->rate_hz = rate_hz;
    onset->frame = (size_t)(FRAME_S * rate_hz);
    onset->floor_db = onset->treble_floor_db = -120.0;
    *out = onset;
    return SB_OK;
}

void sb_onset_free(sb_onset *onset) {
    free(onset);
}

static void emit(sb_onset *onset, sb_onset_event event) {
    if (onset->n_events < EVENTS)
        onset->events[(onset->head + onset->n_events++) % EVENTS] = event;
}

/* What the frame was, never looking back beyond the latest onset: a rise is then a rise
 * since that onset. */
static double back(const sb_onset *onset, const double db[], size_t frames_ago) {
    size_t newest = onset->frames_done - 1, since = newest - onset->onset_frame;
    if (onset->sounding && frames_ago > since)
        return 0.0;
    if (frames_ago > newest)
        return -120.0;
    return db[(newest - frames_ago) % FRAMES];
}

/* Slow up, fast down: the room is what remains when nothing is played. */
static void follow_floor(double *floor_db, double db) {
    if (*floor_db <= -119.0 || db < *floor_db)
        *floor_db += (*floor_db <= -119.0 ? 1.0 : 0.3) * (db - *floor_db);
    else
        *floor_db += fmin(0.02, 0.02 * (db - *floor_db));
}

static double lowest(const sb_onset *onset, const double db[], size_t from, size_t to) {
    double low = HUGE_VAL;
    for (size_t i = from; i <= to; i++)
        low = fmin(low, back(onset, db, i));
    return low;
}

static double highest(const sb_onset *onset, const double db[], size_t from, size_t to) {
    double high = -HUGE_VAL;
    for (size_t i = from; i <= to; i++)
        high = fmax(high, back(onset, db, i));
    return high;
}

/* The frame within the last ten where the sound began to rise. */
static size_t attack_frame(const sb_onset *onset) {
    size_t best = 0;
    double steepest = 0;
    for (size_t i = 0; i < 10; i++) {
        double rise = back(onset, onset->raw, i) - back(onset, onset->raw, i + 1);
        double treble = back(onset, onset->treble_db, i) - back(onset, onset->treble_db, i + 1);
        if (rise + treble > steepest)
            steepest = rise + treble, best = i;
    }
    size_t newest = onset->frames_done - 1;
    return newest >= best ? newest - best : 0;
}

static bool rises(const sb_onset *onset) {
    double wide = back(onset, onset->wide_db, 0), treble = back(onset, onset->treble_db, 0);
    bool wide_jump = wide - lowest(onset, onset->wide_db, WIDE, 10) > RISE_WIDE_DB &&
                     wide - highest(onset, onset->wide_db, 11, 16) > 0.5 * RISE_WIDE_DB;
    bool treble_jump = treble - highest(onset, onset->treble_db, 3, 15) > RISE_TREBLE_DB &&
                       treble > onset->treble_floor_db + RISE_TREBLE_DB;
    return wide > LEAST_DBFS && wide > onset->floor_db + CLEAR_DB && (wide_jump || treble_jump);
}

static void begin(sb_onset *onset, bool from_start) {
    size_t frame = from_start ? 0 : attack_frame(onset);
    size_t at = frame * onset->frame;
    emit(onset,
         (sb_onset_event){SB_EVENT_ONSET, at,
                          onset->sounding ? at : onset->quiet_since * onset->frame, from_start});
    onset->sounding = true;
    onset->onset_frame = frame;
}

static void end(sb_onset *onset, size_t frames_ago) {
    size_t frame = onset->frames_done > frames_ago ? onset->frames_done - frames_ago : 0;
    emit(onset, (sb_onset_event){SB_EVENT_END, frame * onset->frame, 0, false});
    onset->sounding = false;
    onset->quiet_since = onset->frames_done;
}

static void judge_sounding(sb_onset *onset) {
    double wide = back(onset, onset->wide_db, 0);
    size_t age = onset->frames_done - onset->onset_frame;
    if (age > 20 && highest(onset, onset->wide_db, 9, 12) - wide > DAMPED_DB)
        end(onset, 12);
    else if (wide < onset->floor_db + 0.5 * CLEAR_DB || wide < LEAST_DBFS)
        end(onset, WIDE);
}

static void finish_frame(sb_onset *onset) {
    size_t slot = onset->frames_done % FRAMES;
    double n = (double)onset->frame;
    onset->raw[slot] = 10.0 * log10(onset->power / n + 1e-12);
    onset->treble_db[slot] = 10.0 * log10(onset->treble_power / n + 1e-12);
    onset->power = onset->treble_power = 0;
    onset->frames_done++;
    double sum = 0;
    size_t count = 0;
    for (; count < WIDE && count < onset->frames_done; count++)
        sum += pow(10.0, 0.1 * back(onset, onset->raw, count));
    onset->wide_db[slot] = 10.0 * log10(sum / (double)count + 1e-12);
    if (onset->frames_done == 6 && onset->wide_db[slot] > LEAST_DBFS + 10.0)
        begin(onset, true);
    size_t age = onset->frames_done - onset->onset_frame;
    bool rested = !onset->sounding || (double)age * FRAME_S > REFRACTORY_S;
    if (onset->frames_done > 6 && rested && rises(onset))
        begin(onset, false);
    else if (onset->sounding)
        judge_sounding(onset);
    if (!onset->sounding) {
        follow_floor(&onset->floor_db, onset->wide_db[slot]);
        follow_floor(&onset->treble_floor_db, onset->treble_db[slot]);
    }
}

/* Samples of one frame. */
static void feed_frame(sb_onset *onset, const float samples[], size_t n) {
    const double leak = 6.283 * 15.0 / onset->rate_hz; /* takes DC out, well below any string */
    double mean = onset->mean, last = onset->last, power = onset->power;
    double treble_power = onset->treble_power;
    for (size_t i = 0; i < n; i++) {
        double x = (double)samples[i];
        mean += leak * (x - mean);
        double ac = x - mean, step = x - last;
        last = x;
        power += ac * ac;
        treble_power += step * step;
    }
    onset->mean = mean;
    onset->last = last;
    onset->power = power;
    onset->treble_power = treble_power;
}

void sb_onset_feed(sb_onset *onset, const float samples[], size_t n) {
    if (n > 0 && !onset->begun)
        onset->mean = (double)samples[0];
    onset->begun = onset->begun || n > 0;
    while (n > 0) {
        size_t wanted = onset->frame - onset->filled, take = n < wanted ? n : wanted;
        feed_frame(onset, samples, take);
        samples += take, n -= take;
        onset->filled = (onset->filled + take) % onset->frame;
        if (onset->filled == 0)
            finish_frame(onset);
    }
}

bool sb_onset_next(sb_onset *onset, sb_onset_event *event) {
    if (onset->n_events == 0)
        return false;
    *event = onset->events[onset->head];
    onset->head = (onset->head + 1) % EVENTS;
    onset->n_events--;
    return true;
}

double sb_onset_floor_dbfs(const sb_onset *onset) {
    return onset->floor_db;
}
