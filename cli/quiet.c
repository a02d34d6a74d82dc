#include "cli/quiet.h"

#include <math.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json_value.h"
#include "core/levels.h"

#define RINGS_DB 3.0 /* so much quieter in its second half: something dies away */

/* --- the log -------------------------------------------------------------------------------- */

static double number(const json_t *object, const char *key, double otherwise) {
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : otherwise;
}

static void read_quiet(sb_quiet_log *log, const json_t *data) {
    const char *when = json_string_value(json_object_get(data, "when"));
    const char *position = json_string_value(json_object_get(data, "position"));
    position = position ? position : "";
    if (!when || strcmp(when, "before") != 0 || strlen(position) >= SB_SIGNAL_NAME_MAX ||
        !json_is_number(json_object_get(data, "noise_dbfs")))
        return;
    size_t i = sb_signal_find(position, (const char(*)[SB_SIGNAL_NAME_MAX])log->position, log->n);
    if (i == SB_QUIET_POSITIONS)
        return;
    log->n += i == log->n;
    memcpy(log->position[i], position, strlen(position) + 1);
    log->before[i] = (sb_quiet_earlier){
        number(data, "noise_dbfs", 0), number(data, "noise_std_error_db", 0),
        number(data, "hum_dbfs", SB_LEVEL_NONE), number(data, "hum_std_error_db", 0),
        number(data, "below_pluck_db", (double)NAN)};
}

static bool read_event(void *context, const sb_event *event) {
    sb_quiet_log *log = context;
    if (event->kind != SB_EVENT_PLUCK && event->kind != SB_EVENT_MEASURED &&
        event->kind != SB_EVENT_VISIT)
        return true;
    json_t *data = json_loads(event->data, 0, NULL);
    const char *what = json_string_value(json_object_get(data, "what"));
    if (event->kind == SB_EVENT_PLUCK && json_is_number(json_object_get(data, "level_dbfs"))) {
        log->has_pluck = true;
        log->pluck_dbfs = number(data, "level_dbfs", 0);
    } else if (event->kind == SB_EVENT_VISIT && what && strcmp(what, "ended") == 0) {
        log->n = 0;
    } else if (event->kind == SB_EVENT_MEASURED && what && strcmp(what, "quiet") == 0) {
        read_quiet(log, data);
    }
    json_decref(data);
    return true;
}

sb_book_status sb_quiet_read_log(sb_book *book, int64_t id, sb_quiet_log *log) {
    memset(log, 0, sizeof *log);
    return sb_book_read(book, id, 0, read_event, log);
}

void sb_quiet_place(const sb_quiet_log *log, int when, sb_quiet *q) {
    size_t i =
        sb_signal_find(q->position, (const char(*)[SB_SIGNAL_NAME_MAX])log->position, log->n);
    bool has = i < log->n;
    q->after = when == 1 || (when != 0 && has);
    q->compared = q->after && has;
    if (q->compared)
        q->earlier = log->before[i];
}

/* --- measuring ------------------------------------------------------------------------------ */

static int no_silence(const sb_quiet *q) {
    return sb_fail(EX_DATAERR,
                   "damp the strings and leave them alone for five seconds, then pluck one",
                   q->path, "no silence of %.1f s within the first minute", SB_SILENCE_LEAST_S);
}

static int cannot_measure(sb_status status, const sb_quiet *q) {
    if (status == SB_E_MEMORY)
        return sb_complain_memory();
    if (status == SB_E_UNDETERMINED)
        return sb_fail(EX_DATAERR, "see whether the lead is in the input and the input turned up",
                       q->path, "nothing at all comes in, not even noise");
    return no_silence(q);
}

static void find_pluck(const sb_signal_heard *heard, const sb_quiet_log *log, sb_quiet *q) {
    q->has_pluck = q->pluck_from_book = false;
    for (size_t i = heard->take->n; i > 0 && !q->has_pluck; i--) {
        const sb_reading *r = &heard->take->readings[i - 1];
        q->has_pluck = r->fault == SB_PLUCK_GOOD && r->start_s >= heard->offset_s &&
                       sb_signal_pluck_level(heard, r, &q->pluck_dbfs);
    }
    if (!q->has_pluck && log->has_pluck) {
        q->has_pluck = q->pluck_from_book = true;
        q->pluck_dbfs = log->pluck_dbfs;
    }
}

int sb_quiet_measure(const sb_signal_heard *heard, const sb_quiet_log *log, sb_quiet *q) {
    double from_s, to_s;
    size_t kept;
    if (!heard->sound || !sb_silence_find(heard->sound, &from_s, &to_s))
        return no_silence(q);
    const float *samples = sb_sound_samples(heard->sound, &kept);
    double rate_hz = sb_sound_rate_hz(heard->sound);
    size_t from = (size_t)(from_s * rate_hz), to = (size_t)(to_s * rate_hz);
    to = to < kept ? to : kept;
    sb_status status = sb_silence_measure(samples + from, to - from, rate_hz, &q->silence);
    if (status != SB_OK)
        return cannot_measure(status, q);
    q->silence.from_s = from_s;
    if (q->silence.fall_db > RINGS_DB)
        sb_warn(q->path, "something dies away in the silence, by %.0f dB: damp the strings",
                q->silence.fall_db);
    find_pluck(heard, log, q);
    return EX_OK;
}

double sb_quiet_below_db(const sb_quiet *q) {
    return q->has_pluck ? q->pluck_dbfs - q->silence.total_dbfs : (double)NAN;
}

double sb_quiet_pluck_error_db(const sb_quiet *q) {
    return q->pluck_from_book ? SB_QUIET_BOOK_DB : SB_QUIET_PLUCK_DB;
}

/* --- JSON ----------------------------------------------------------------------------------- */

static json_t *level(double dbfs) {
    return sb_json_number(dbfs > SB_LEVEL_NONE ? dbfs : (double)NAN);
}

static json_t *harmonics(const sb_silence *s) {
    json_t *array = json_array();
    bool whole = array != NULL;
    for (size_t k = 0; k < SB_MAINS_HARMONICS; k++)
        if (s->harmonic_dbfs[k] > SB_LEVEL_NONE)
            whole = !json_array_append_new(array, json_pack("{s:i, s:f}", "n", (int)k + 1,
                                                            "level_dbfs", s->harmonic_dbfs[k])) &&
                    whole;
    if (whole)
        return array;
    json_decref(array);
    return NULL;
}

static json_t *before_of(const sb_quiet *q) {
    const sb_quiet_earlier *e = &q->earlier;
    if (!q->compared)
        return json_null();
    return json_pack(
        "{s:f, s:f, s:o, s:o, s:o}", "noise_dbfs", e->noise_dbfs, "noise_std_error_db",
        e->noise_std_error_db, "hum_dbfs", level(e->hum_dbfs), "hum_std_error_db",
        sb_json_number(e->hum_dbfs > SB_LEVEL_NONE ? e->hum_std_error_db : (double)NAN),
        "below_pluck_db", sb_json_number(e->below_db));
}

json_t *sb_quiet_data(const sb_quiet *q, const char *name) {
    const sb_silence *s = &q->silence;
    double none = (double)NAN;
    bool hum = s->nominal_hz > 0;
    json_t *data = json_pack(
        "{s:s, s:o, s:s, s:f, s:f, s:o, s:o, s:o, s:o, s:f, s:f, s:o, s:o, s:o, s:f, s:f, s:o}",
        "what", "quiet", "position", sb_signal_text(q->position), "when",
        q->after ? "after" : "before", "noise_dbfs", s->noise_dbfs, "noise_std_error_db",
        s->noise_std_error_db, "hum_dbfs", level(s->hum_dbfs), "hum_std_error_db",
        sb_json_number(hum ? s->hum_std_error_db : none), "hum_hz",
        hum ? json_integer(s->nominal_hz) : json_null(), "mains_hz",
        sb_json_number(hum ? s->mains_hz : none), "total_dbfs", s->total_dbfs, "total_std_error_db",
        s->total_std_error_db, "pluck_dbfs", sb_json_number(q->has_pluck ? q->pluck_dbfs : none),
        "below_pluck_db", sb_json_number(sb_quiet_below_db(q)), "below_std_error_db",
        sb_json_number(q->has_pluck ? hypot(sb_quiet_pluck_error_db(q), s->total_std_error_db)
                                    : none),
        "seconds", s->length_s, "band_to_hz", s->band_to_hz, "take", sb_signal_text(q->path));
    if (!name || !data)
        return data;
    json_t *all =
        json_pack("{s:s, s:o, s:b, s:o, s:o, s:o}", "schema", "setback.quiet/1", "instrument",
                  sb_signal_text(name), "pluck_from_book", (int)q->pluck_from_book,
                  "mains_std_error_hz", sb_json_number(hum ? s->mains_std_error_hz : none),
                  "harmonics", harmonics(s), "before", before_of(q));
    if (all && json_object_del(data, "what") == 0 && json_object_update(all, data) == 0) {
        json_decref(data);
        return all;
    }
    json_decref(all);
    json_decref(data);
    return NULL;
}
