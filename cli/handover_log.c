/* What of a visit's events goes on the sheet besides the readings: notes, changes, and what the
 * ear said of the signal path. Fields that are missing or of another kind are passed over. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/handover.h"
#include "cli/json_memory.h"
#include "cli/text.h"

#define ROWS  32             /* kinds and selector positions heard of */
#define PARTS SB_STRINGS_MAX /* of a row: a string or a pickup each */

/* A row that several events make together; a later one of the same part takes its place. */
typedef struct {
    char what[160], before[160], now[160], verdict[80];
    bool repaired; /* what the parts were first is worth telling */
    struct {
        char key[64], text[160], first[160];
    } parts[PARTS];
    size_t n;
} heard_row;

typedef struct {
    sb_handover *sheet;
    int64_t begun, ended; /* the visit's events; 0: none */
    int64_t last_ms;      /* of its work */
    bool worked;
    heard_row rows[ROWS];
    size_t n;
} reader;

/* --- where the visit begins ------------------------------------------------------------- */

static bool find_visit(void *context, const sb_event *event) {
    reader *r = context;
    json_t *data = event->kind == SB_EVENT_VISIT ? json_loads(event->data, 0, NULL) : NULL;
    const char *what = json_string_value(json_object_get(data, "what"));
    if (event->kind == SB_EVENT_VISIT && !(what && strcmp(what, "ended") == 0)) {
        r->begun = event->id;
        r->ended = 0;
        r->worked = false;
        r->last_ms = event->at_ms;
    } else if (event->kind == SB_EVENT_VISIT || r->ended > 0) {
        r->ended = r->ended > 0 ? r->ended : event->id; /* a recheck afterwards is none of it */
    } else if (event->kind != SB_EVENT_DESCRIBED) {
        r->last_ms = event->at_ms;
        r->worked = true;
    } else if (!r->worked) {
        r->last_ms = event->at_ms;
    }
    json_decref(data);
    return true;
}

/* --- fields ---------------------------------------------------------------------------- */

/* A person's words or a name, clean, its line ends and tabs made spaces; "" where there is none. */
static char *words(const json_t *object, const char *key) {
    const char *text = json_string_value(json_object_get(object, key));
    size_t size = text ? strlen(text) + 1 : 1;
    char *spaced = sb_phrase("%s", text ? text : ""), *clean = malloc(size);
    for (char *c = spaced; c && *c; c++)
        if (*c == '\n' || *c == '\r' || *c == '\t')
            *c = ' ';
    if (spaced && clean)
        sb_text_clean(spaced, clean, size);
    free(spaced);
    return clean;
}

static void field(const json_t *object, const char *key, char *text, size_t size) {
    const char *value = json_string_value(json_object_get(object, key));
    sb_text_clean(value ? value : "", text, size);
}

/* "−20.1 ± 0.3"; false where there is no such number. */
static bool figure(const json_t *object, const char *key, const char *error_key, char *text,
                   size_t size) {
    const json_t *value = json_object_get(object, key), *error = json_object_get(object, error_key);
    if (!json_is_number(value))
        return false;
    sb_handover_signed(json_number_value(value), text, size);
    size_t used = strlen(text);
    if (json_is_number(error) && json_number_value(error) > 0)
        (void)snprintf(text + used, size - used, " \u00b1 %.1f",
                       sb_handover_error(json_number_value(error)));
    return true;
}

/* --- what was heard ---------------------------------------------------------------------- */

/* The row of this title and the event's selector position; NULL where there are too many. */
static heard_row *row_of(reader *r, const char *what, const json_t *object) {
    char name[sizeof r->rows[0].what], position[80];
    field(object, "position", position, sizeof position);
    (void)snprintf(name, sizeof name, "%s%s%s", what, position[0] ? ", selector at " : "",
                   position);
    for (size_t i = 0; i < r->n; i++)
        if (strcmp(r->rows[i].what, name) == 0)
            return &r->rows[i];
    if (r->n == ROWS)
        return NULL;
    memcpy(r->rows[r->n].what, name, sizeof name);
    return &r->rows[r->n++];
}

static void set_part(heard_row *row, const char *key, const char *text) {
    size_t i = 0;
    while (row && i < row->n && strcmp(row->parts[i].key, key) != 0)
        i++;
    if (!row || i == PARTS)
        return;
    (void)snprintf(row->parts[i].key, sizeof row->parts[i].key, "%s", key);
    (void)snprintf(row->parts[i].text, sizeof row->parts[i].text, "%s", text);
    if (i == row->n)
        (void)snprintf(row->parts[i].first, sizeof row->parts[i].first, "%s", text);
    row->n = i == row->n ? i + 1 : row->n;
}

/* As setback quiet says it: below the pluck, or the level as such where there was none; false where
 * neither is known. */
static bool quiet_text(const json_t *object, char *text, size_t size) {
    const json_t *below = json_object_get(object, "below_pluck_db");
    double error = json_number_value(json_object_get(object, "below_std_error_db"));
    char level[48], by[32] = "";
    if (error > 0)
        (void)snprintf(by, sizeof by, " \u00b1 %.0f", fmin(fmax(error, 1), 999));
    if (json_is_number(below))
        (void)snprintf(text, size, "%.0f%s dB below a pluck",
                       fmin(fmax(json_number_value(below), -999), 999), by);
    else if (figure(object, "noise_dbfs", "noise_std_error_db", level, sizeof level))
        (void)snprintf(text, size, "%s dBFS", level);
    else
        return false;
    return true;
}

/* ", hum at 50 Hz 41 dB below it" */
static void add_hum(const json_t *object, char *text, size_t size) {
    const json_t *hz = json_object_get(object, "hum_hz");
    const json_t *hum = json_object_get(object, "hum_dbfs");
    const json_t *pluck = json_object_get(object, "pluck_dbfs");
    bool below = json_is_number(pluck) && json_is_number(json_object_get(object, "below_pluck_db"));
    char level[48];
    size_t used = strlen(text);
    if (!json_is_number(hz) || !figure(object, "hum_dbfs", "", level, sizeof level))
        return;
    double hum_hz = fmin(json_number_value(hz), 999);
    if (below)
        (void)snprintf(text + used, size - used, ", hum at %.0f Hz %.0f dB below it", hum_hz,
                       fmin(fmax(json_number_value(pluck) - json_number_value(hum), -999), 999));
    else
        (void)snprintf(text + used, size - used, ", hum at %.0f Hz %s dBFS", hum_hz, level);
}

static void read_quiet(reader *r, const json_t *object) {
    heard_row *row = row_of(r, "Noise", object);
    char when[16];
    if (!row)
        return;
    field(object, "when", when, sizeof when);
    char *text = strcmp(when, "before") == 0 ? row->before : row->now;
    if (quiet_text(object, text, sizeof row->now))
        add_hum(object, text, sizeof row->now);
}

/* "neck sounds", and whether that is what the selector is for, where that was told. */
static void read_taps(reader *r, const json_t *object) {
    static const char *const verdicts[][2] = {
        {"live", "sounds"}, {"weak", "is weak"}, {"dead", "is silent"}};
    const json_t *meant = json_object_get(object, "meant");
    char pickup[64], verdict[32], part[160];
    field(object, "pickup", pickup, sizeof pickup);
    field(object, "verdict", verdict, sizeof verdict);
    bool as_meant =
        !json_is_boolean(meant) || json_is_true(meant) == (strcmp(verdict, "live") == 0);
    for (size_t i = 0; i < sizeof verdicts / sizeof *verdicts; i++) {
        if (strcmp(verdict, verdicts[i][0]) != 0)
            continue;
        (void)snprintf(part, sizeof part, "%s%s%s%s", pickup, pickup[0] ? " " : "", verdicts[i][1],
                       as_meant ? "" : " (not as meant)");
        heard_row *row = row_of(r, "Pickups tapped", object);
        set_part(row, pickup, part);
        if (row)
            row->repaired = true;
    }
}

static void read_balance(reader *r, const json_t *object, int string) {
    char number[48], key[16], part[80];
    heard_row *row = row_of(r, "Loudness of the strings in dB", object);
    if (!row || !figure(object, "level_dbfs", "std_error_db", number, sizeof number))
        return;
    (void)snprintf(key, sizeof key, "%d", string);
    (void)snprintf(part, sizeof part, "%d: %s", string, number);
    set_part(row, key, part);
    field(object, "verdict", row->verdict, sizeof row->verdict);
    bool first = strcmp(row->verdict, "first side high") == 0;
    if (first || strcmp(row->verdict, "last side high") == 0)
        (void)snprintf(row->verdict, sizeof row->verdict, "louder towards the %s string",
                       first ? "first" : "last");
    if (!row->before[0])
        (void)snprintf(row->before, sizeof row->before, "%s", row->verdict);
}

static void read_recheck(reader *r, const json_t *object, int string) {
    char now[48], was[48], verdict[48], key[16], part[160];
    if (!figure(object, "octave_error_cents", "std_error_cents", now, sizeof now))
        return;
    bool has_was = figure(object, "was_cents", "was_std_error_cents", was, sizeof was);
    field(object, "verdict", verdict, sizeof verdict);
    (void)snprintf(key, sizeof key, "%d", string);
    (void)snprintf(part, sizeof part, "%d: %s%s%s%s%s", string, now, verdict[0] ? " " : "", verdict,
                   has_was ? ", was " : "", has_was ? was : "");
    set_part(row_of(r, "Heard again, in cents", object), key, part);
}

static void read_settled(reader *r, const json_t *object, int string) {
    char verdict[48], key[16], part[80];
    field(object, "verdict", verdict, sizeof verdict);
    (void)snprintf(key, sizeof key, "%d", string);
    (void)snprintf(part, sizeof part, "%d: %s", string, verdict);
    if (verdict[0])
        set_part(row_of(r, "New strings", object), key, part);
}

#define ALL_PARTS (PARTS * 168) /* the texts of all, with what divides them */

static void join(const heard_row *row, bool first, char *all) {
    all[0] = '\0';
    for (size_t i = 0; i < row->n; i++) {
        size_t used = strlen(all);
        const char *between = used == 0 ? "" : row->repaired ? ", " : "; ";
        (void)snprintf(all + used, ALL_PARTS - used, "%s%s", between,
                       first ? row->parts[i].first : row->parts[i].text);
    }
}

/* What was before is only told where it was otherwise. */
static void add_heard(sb_handover *sheet, const heard_row *row) {
    char all[ALL_PARTS], first[ALL_PARTS] = "";
    join(row, false, all);
    if (row->repaired)
        join(row, true, first);
    bool same = row->repaired ? strcmp(first, all) == 0 : strcmp(row->before, row->verdict) == 0;
    size_t used = strlen(all);
    if (row->verdict[0] && used)
        (void)snprintf(all + used, sizeof all - used, "; %s", row->verdict);
    const char *before = row->repaired ? first : row->before;
    if (all[0] || row->before[0] || row->now[0])
        sb_handover_add_row(sheet, &(sb_handover_shown){.what = row->what,
                                                        .before = same ? "" : before,
                                                        .now = all[0] ? all : row->now,
                                                        .heard = true});
}

static void keep_event(reader *r, json_t *object, const sb_event *event) {
    (void)json_object_set_new(object, "string",
                              event->string > 0 ? json_integer(event->string) : json_null());
    (void)json_object_set_new(object, "at_ms", json_integer(event->at_ms));
    char *text = sb_json_text(object, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12));
    sb_say(&r->sheet->events, "%s", text ? text : "{}");
    r->sheet->events.failed = r->sheet->events.failed || !text;
    free(text);
}

static void read_measured(reader *r, json_t *object, const sb_event *event) {
    const char *what = json_string_value(json_object_get(object, "what"));
    bool on_string = event->string > 0 && (size_t)event->string <= r->sheet->instrument.n_strings;
    sb_change change = SB_CHANGES;
    if (!what)
        return;
    if (sb_change_named(what, &change)) {
        /* What has a name has a value too: handover_specs.c tells whether that changed. */
        if (json_is_true(json_object_get(object, "changed")) && !json_object_get(object, "name"))
            r->sheet->changed[change] = true;
        return;
    }
    if (strcmp(what, "quiet") == 0)
        read_quiet(r, object);
    else if (strcmp(what, "taps") == 0)
        read_taps(r, object);
    else if (strcmp(what, "balance") == 0 && on_string)
        read_balance(r, object, event->string);
    else if (strcmp(what, "recheck") == 0 && on_string)
        read_recheck(r, object, event->string);
    else if (strcmp(what, "settled") == 0 && on_string)
        read_settled(r, object, event->string);
    else
        return;
    keep_event(r, object, event);
}

/* --- the rest --------------------------------------------------------------------------- */

static void read_strings(reader *r, const sb_event *event) {
    for (size_t i = 0; i < r->sheet->instrument.n_strings; i++)
        if (event->string == 0 || (size_t)event->string == i + 1)
            r->sheet->fitted[i] = true;
}

static void read_note(reader *r, const json_t *object) {
    char *text = words(object, "text");
    if (!text || text[strspn(text, " ")] != '\0')
        sb_say(&r->sheet->notes, "%s", text ? text : "");
    r->sheet->notes.failed = r->sheet->notes.failed || !text;
    free(text);
}

/* Of a survey, which has no octave error but a verdict in words. */
static void read_survey(reader *r, const json_t *object, const sb_event *event) {
    char verdict[300];
    field(object, "in_words", verdict, sizeof verdict);
    if (verdict[0] && event->string > 0)
        sb_say(&r->sheet->found, "String %d, measured at several frets: %s.", event->string,
               verdict);
}

static bool read_event(void *context, const sb_event *event) {
    reader *r = context;
    if (r->ended > 0 && event->id > r->ended)
        return true;
    json_t *object = json_loads(event->data, 0, NULL);
    switch (event->kind) {
    case SB_EVENT_STRINGS: read_strings(r, event); break;
    case SB_EVENT_READING: read_survey(r, object, event); break;
    case SB_EVENT_MEASURED: read_measured(r, object, event); break;
    case SB_EVENT_NOTE: read_note(r, object); break;
    default: break;
    }
    json_decref(object);
    return true;
}

sb_book_status sb_handover_read_log(const sb_bench *bench, sb_handover *sheet) {
    reader *r = calloc(1, sizeof *r);
    if (!r)
        return SB_BOOK_MEMORY;
    r->sheet = sheet;
    sb_book_status status = sb_book_read(bench->book, bench->id, 0, find_visit, r);
    if (status == SB_BOOK_OK)
        status = sb_book_read(bench->book, bench->id, r->begun, read_event, r);
    sheet->at_ms = r->last_ms;
    if (status == SB_BOOK_OK)
        status = sb_handover_read_specs(bench, sheet);
    for (size_t i = 0; i < r->n; i++)
        add_heard(sheet, &r->rows[i]);
    free(r);
    return status;
}
