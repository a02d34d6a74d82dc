#include "cli/signal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/bench_log.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json_memory.h"
#include "cli/text.h"
#include "core/levels.h"

#define CLEAR_DB   6.0 /* of a pluck over what rang before it */
#define BEFORE_S   0.1
#define GUARD_S    0.02
#define TAKE_FORMS "write --take FILE, or --take POSITION=FILE; a file with = in its name as ./FILE"

/* --- names ---------------------------------------------------------------------------------- */

bool sb_signal_name_good(const char *text, size_t n) {
    char name[SB_SIGNAL_NAME_MAX], clean[SB_SIGNAL_NAME_MAX];
    if (n == 0 || n >= sizeof name)
        return false;
    memcpy(name, text, n);
    name[n] = '\0';
    sb_text_clean(name, clean, sizeof clean);
    return strcmp(name, clean) == 0 && name[0] != ' ' && name[n - 1] != ' ' &&
           strpbrk(name, ",:=+") == NULL;
}

static void copy_name(char to[SB_SIGNAL_NAME_MAX], const char *text, size_t n) {
    memcpy(to, text, n);
    to[n] = '\0';
}

int sb_signal_take_parse(const char *text, bool pickups, sb_signal_take *out) {
    *out = (sb_signal_take){.path = text};
    size_t n = strcspn(text, "=");
    if (text[n] == '\0' || memchr(text, '/', n))
        return EX_OK;
    const char *colon = memchr(text, ':', n);
    size_t position = colon ? (size_t)(colon - text) : n;
    if (!sb_signal_name_good(text, position) || text[n + 1] == '\0' || (colon && !pickups) ||
        (colon && !sb_signal_name_good(colon + 1, n - position - 1)))
        return sb_fail(EX_USAGE,
                       pickups
                           ? "write --take POSITION=FILE or POSITION:PICKUP=FILE; a file with = "
                             "in its name as ./FILE"
                           : TAKE_FORMS,
                       text, "--take cannot be understood");
    copy_name(out->position, text, position);
    if (colon)
        copy_name(out->pickup, colon + 1, n - position - 1);
    out->path = text + n + 1;
    return EX_OK;
}

int sb_signal_names(const char *text, const char *option, char names[][SB_SIGNAL_NAME_MAX],
                    size_t max, size_t *n) {
    *n = 0;
    for (const char *item = text; item; item = strchr(item, ',') ? strchr(item, ',') + 1 : NULL) {
        size_t length = strcspn(item, ",");
        if (*n == max)
            return sb_fail(EX_USAGE, "give fewer", text, "--%s takes at most %zu names", option,
                           max);
        if (!sb_signal_name_good(item, length))
            return sb_fail(EX_USAGE,
                           "write names with commas between: up to 31 letters or digits each", text,
                           "--%s needs a list of names", option);
        copy_name(names[*n], item, length);
        if (sb_signal_find(names[*n], (const char(*)[SB_SIGNAL_NAME_MAX])names, *n) < *n)
            return sb_fail(EX_USAGE, "give each once", names[*n], "--%s: a name comes twice",
                           option);
        ++*n;
    }
    return EX_OK;
}

size_t sb_signal_find(const char *name, const char names[][SB_SIGNAL_NAME_MAX], size_t n) {
    size_t i = 0;
    while (i < n && strcmp(name, names[i]) != 0)
        i++;
    return i;
}

sb_signal_name sb_signal_clean(const char *name, const char *otherwise) {
    sb_signal_name clean;
    sb_text_clean(name[0] ? name : otherwise, clean.text, sizeof clean.text);
    return clean;
}

/* --- sound ---------------------------------------------------------------------------------- */

typedef struct {
    sb_sound *sound; /* from the first block on */
    double keep_s;
} hearing;

static sb_status hear(void *context, double rate_hz, const float samples[], size_t n) {
    hearing *h = context;
    sb_status status = h->sound ? SB_OK : sb_sound_new(rate_hz, h->keep_s, &h->sound);
    return status == SB_OK ? sb_sound_push(h->sound, samples, n) : status;
}

int sb_signal_load(const char *path, int channel, double keep_s, sb_signal_heard *heard) {
    hearing h = {.keep_s = keep_s};
    const sb_also also = {hear, &h};
    *heard = (sb_signal_heard){.take = sb_take_new()};
    if (!heard->take)
        return sb_complain_memory();
    int code = sb_load_take(heard->take, path, channel, &also);
    heard->sound = h.sound;
    if (code == EX_OK && heard->take->samples == 0)
        code = sb_complain_take(heard->take, path);
    return code;
}

void sb_signal_release(sb_signal_heard *heard) {
    sb_sound_free(heard->sound);
    free(heard->take);
    *heard = (sb_signal_heard){.take = NULL};
}

bool sb_signal_pluck_level(const sb_signal_heard *heard, const sb_reading *reading,
                           double *level_dbfs) {
    double at_s = reading->start_s - heard->offset_s;
    double power = sb_sound_mean_power(heard->sound, at_s + SB_SIGNAL_LEVEL_FROM_S,
                                       at_s + SB_SIGNAL_LEVEL_TO_S);
    double before = sb_sound_mean_power(heard->sound, at_s - BEFORE_S - GUARD_S, at_s - GUARD_S);
    before = fmax(before, 0);
    if (!(power > before * sb_db_power(CLEAR_DB)) || power <= 0)
        return false;
    *level_dbfs = sb_power_db(power - before);
    return true;
}

/* --- the book ------------------------------------------------------------------------------- */

void sb_signal_add(sb_signal_events *events, int string, json_t *data) {
    char *text = data && events->n < SB_SIGNAL_EVENTS
                     ? sb_json_text(data, JSON_COMPACT | JSON_REAL_PRECISION(15))
                     : NULL;
    json_decref(data);
    if (!text) {
        events->failed = true;
        return;
    }
    events->text[events->n] = text;
    events->event[events->n++] = (sb_event){
        .at_ms = sb_book_now_ms(), .kind = SB_EVENT_MEASURED, .string = string, .data = text};
}

int sb_signal_keep(const sb_book_named *named, const sb_book_at *at, sb_signal_events *events) {
    sb_book_status status =
        events->failed ? SB_BOOK_MEMORY
                       : sb_log_append_in_visit(named->book, named->id, events->event, events->n);
    for (size_t i = 0; i < events->n; i++)
        free(events->text[i]);
    events->n = 0;
    return sb_book_complain(status, at->path, named->name);
}

json_t *sb_signal_text(const char *text) {
    char clean[1024];
    if (!text || !text[0])
        return json_null();
    sb_text_clean(text, clean, sizeof clean);
    return json_string(clean);
}

bool sb_signal_print(json_t *object) {
    const size_t written = JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(6);
    bool whole = object && json_dumpf(object, stdout, written) == 0;
    json_decref(object);
    if (whole)
        (void)fputc('\n', stdout);
    return whole || ferror(stdout); /* main says that */
}
