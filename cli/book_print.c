#include "cli/book_print.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cli/book_store.h"
#include "cli/text.h"
#include "core/length.h"
#include "core/pitch.h"

#define SCALE_TEXT_MAX (2 * SB_LENGTH_TEXT_MAX + 16)
#define GAP            2 /* between columns */
#define LEAST_COLUMN   8 /* of a name or an owner that does not fit */
/* ASCII, so that no C1 control character goes out as it is. */
#define WRITTEN (JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(15))

bool sb_entry_state(const sb_book_entry *entry, sb_description *out) {
    return !sb_data_describe(entry->described, out) &&
           !(entry->strings && sb_data_restring(entry->strings, out));
}

#define DATE_MAX 24

/* "2026-11-25 10:50", local; with `size` 11 the day alone. */
static void date_text(int64_t at_ms, char *text, size_t size) {
    time_t seconds = (time_t)(at_ms / 1000);
    char whole[DATE_MAX];
    struct tm local;
    if (!localtime_r(&seconds, &local) ||
        strftime(whole, sizeof whole, "%Y-%m-%d %H:%M", &local) == 0)
        whole[0] = '\0';
    (void)snprintf(text, size, "%.*s", (int)size - 1, whole);
}

static void clean_out(FILE *out, const char *text, size_t width) {
    char clean[SB_BOOK_DATA_MAX];
    sb_text_clean(text, clean, sizeof clean);
    sb_text_pad(out, clean, width);
}

/* "647.7 mm": without idle zeros. */
static void length_text(double mm, char *text, size_t size) {
    char digits[SB_LENGTH_TEXT_MAX];
    sb_length_format_mm(mm, 3, digits, sizeof digits);
    size_t n = strcspn(digits, " ");
    while (n > 1 && digits[n - 1] == '0')
        n--;
    if (digits[n - 1] == '.')
        n--;
    (void)snprintf(text, size, "%.*s mm", (int)n, digits);
}

static bool one_scale(const sb_instrument *it) {
    for (size_t i = 1; i < it->n_strings; i++)
        if (it->strings[i].scale_mm != it->strings[0].scale_mm)
            return false;
    return true;
}

static void scale_text(const sb_instrument *it, char *text, size_t size) {
    char first[SB_LENGTH_TEXT_MAX], last[SB_LENGTH_TEXT_MAX];
    length_text(it->strings[0].scale_mm, first, sizeof first);
    length_text(it->strings[it->n_strings - 1].scale_mm, last, sizeof last);
    if (one_scale(it))
        (void)snprintf(text, size, "%s", first);
    else
        (void)snprintf(text, size, "%s to %s, fanned", first, last);
}

/* --- the list ------------------------------------------------------------------------------- */

#define LIST_SCALE_MAX (SCALE_TEXT_MAX + 16)

/* What the list says of an instrument besides its name; "?" where it is not known. */
typedef struct {
    char owner[SB_NAME_MAX], strings[LIST_SCALE_MAX], log[64];
} list_line;

/* "863.6-901.7 mm" */
static void scale_brief(const sb_instrument *it, char *text, size_t size) {
    char first[SB_LENGTH_TEXT_MAX], last[SB_LENGTH_TEXT_MAX];
    length_text(it->strings[0].scale_mm, first, sizeof first);
    length_text(it->strings[it->n_strings - 1].scale_mm, last, sizeof last);
    int digits = one_scale(it) ? 0 : (int)strcspn(first, " ");
    (void)snprintf(text, size, "%.*s%s%s", digits, first, digits ? "-" : "", last);
}

static list_line line_of(const sb_book_entry *entry) {
    list_line line = {"?", "?", ""};
    char scale[SCALE_TEXT_MAX], date[11];
    sb_description d;
    if (sb_entry_state(entry, &d)) {
        size_t n = d.instrument.n_strings;
        sb_text_clean(d.owner, line.owner, sizeof line.owner);
        scale_brief(&d.instrument, scale, sizeof scale);
        (void)snprintf(line.strings, sizeof line.strings, "%2zu string%s %s", n,
                       n == 1 ? ", " : "s,", scale);
    }
    date_text(entry->last_ms, date, sizeof date);
    (void)snprintf(line.log, sizeof line.log, "%lld event%s last %s", (long long)entry->events,
                   entry->events == 1 ? ", " : "s,", date);
    return line;
}

static size_t wider(size_t width, const char *text) {
    size_t needs = sb_text_width(text);
    return needs > width ? needs : width;
}

void sb_list_measure(sb_list_columns *columns, const sb_book_entry *entry) {
    const list_line line = line_of(entry);
    char name[SB_NAME_MAX];
    sb_text_clean(entry->name, name, sizeof name);
    columns->name = wider(columns->name, name);
    columns->owner = wider(columns->owner, line.owner);
    columns->strings = wider(columns->strings, line.strings);
    columns->log = wider(columns->log, line.log);
}

void sb_list_fit(sb_list_columns *columns, size_t width) {
    size_t gaps = columns->owner > 0 ? 3 * GAP : 2 * GAP;
    size_t rest = columns->strings + columns->log + gaps;
    while (columns->name + columns->owner + rest > width) {
        size_t *widest = columns->owner > columns->name ? &columns->owner : &columns->name;
        if (*widest <= LEAST_COLUMN)
            return;
        --*widest;
    }
}

static void print_cell(FILE *out, const char *text, size_t width) {
    sb_text_fit(out, text, width);
    sb_text_pad(out, "", width > 0 ? GAP : 0);
}

void sb_list_print(FILE *out, const sb_list_columns *columns, const sb_book_entry *entry) {
    const list_line line = line_of(entry);
    char name[SB_NAME_MAX];
    sb_text_clean(entry->name, name, sizeof name);
    print_cell(out, name, columns->name);
    print_cell(out, line.owner, columns->owner);
    print_cell(out, line.strings, columns->strings);
    size_t used = sb_text_width(line.log);
    sb_text_pad(out, "", used < columns->log ? columns->log - used : 0); /* it ends in line */
    (void)fprintf(out, "%s\n", line.log);
}

/* --- one instrument ------------------------------------------------------------------------- */

static void print_strings(FILE *out, const sb_instrument *it) {
    bool fanned = !one_scale(it);
    (void)fprintf(out, "\n  string  note  gauge%s\n", fanned ? "     scale" : "");
    for (size_t i = 0; i < it->n_strings; i++) {
        const sb_string *s = &it->strings[i];
        char note[SB_NOTE_TEXT_MAX], gauge[48], scale[SB_LENGTH_TEXT_MAX] = "";
        bool paired = i > 0 && s->course == it->strings[i - 1].course;
        sb_note_format(s->semitone, note, sizeof note);
        sb_gauge_format(s, gauge, sizeof gauge);
        if (fanned)
            length_text(s->scale_mm, scale, sizeof scale);
        (void)fprintf(out, "  %6zu  %-4s  %-*s%s%s\n", i + 1, note, fanned || paired ? 8 : 0,
                      gauge[0] ? gauge : "?", scale, paired ? "  with the one before" : "");
    }
}

static void print_saddle(FILE *out, const sb_saddle *s) {
    static const char *const ways[] = {"moved by screw", "moved by hand", "fixed"};
    char strings[16], length[SB_LENGTH_TEXT_MAX];
    if (s->first == s->last)
        (void)snprintf(strings, sizeof strings, "%zu", s->first);
    else
        (void)snprintf(strings, sizeof strings, "%zu-%zu", s->first, s->last);
    (void)fprintf(out, "  %6s  %s", strings, ways[s->way]);
    if (s->thread_mm > 0) {
        length_text(s->thread_mm, length, sizeof length);
        (void)fprintf(out, ", %s a turn, clockwise %s", length,
                      s->screw == SB_SCREW_PULLS ? "draws it back" : "drives it forward");
    }
    if (s->shape == SB_SHAPE_SLANT)
        (void)fputs(", adjustable at both ends", out);
    if (s->limited) {
        length_text(s->forward_mm, length, sizeof length);
        (void)fprintf(out, "; %s left forward", length);
        length_text(s->back_mm, length, sizeof length);
        (void)fprintf(out, ", %s back", length);
    }
    (void)fputc('\n', out);
}

static void print_field(FILE *out, const char *name, const char *value) {
    (void)fprintf(out, "  %-8s", name);
    clean_out(out, value, 0);
    (void)fputc('\n', out);
}

void sb_print_entry(FILE *out, const sb_book_entry *entry, const sb_description *d, bool styled) {
    char text[SCALE_TEXT_MAX], date[DATE_MAX];
    const sb_kind *kind = sb_kind_named(d->kind);
    (void)fputs(styled ? "\033[1m" : "", out);
    clean_out(out, entry->name, 0);
    (void)fputs(styled ? "\033[0m\n" : "\n", out);
    if (*d->owner)
        print_field(out, "owner", d->owner);
    if (*d->kind)
        print_field(out, "kind", kind ? kind->title : d->kind);
    scale_text(&d->instrument, text, sizeof text);
    print_field(out, "scale", text);
    (void)fprintf(out, "  %-8s%d\n", "frets", d->instrument.frets);
    length_text(d->instrument.spacing_mm, text, sizeof text);
    print_field(out, "spacing", text);
    print_strings(out, &d->instrument);
    (void)fputs("\n  saddle under\n", out);
    for (size_t i = 0; i < d->instrument.n_saddles; i++)
        print_saddle(out, &d->instrument.saddles[i]);
    date_text(entry->last_ms, date, sizeof date);
    (void)fprintf(out, "\n  %lld event%s in the log, the last on %s\n", (long long)entry->events,
                  entry->events == 1 ? "" : "s", date);
}

void sb_print_event(FILE *out, const sb_event *event) {
    char date[DATE_MAX], string[24] = "";
    date_text(event->at_ms, date, sizeof date);
    if (event->string > 0)
        (void)snprintf(string, sizeof string, "string %d", event->string);
    (void)fprintf(out, "%s  %-9s  %-9s  ", date, sb_event_text(event->kind), string);
    clean_out(out, event->data, 0);
    (void)fputc('\n', out);
}

/* --- for scripts ---------------------------------------------------------------------- */

/* Takes the object over. */
static bool put_line(FILE *out, json_t *object) {
    if (!object)
        return false;
    (void)json_dumpf(object, out, WRITTEN);
    (void)fputc('\n', out);
    json_decref(object);
    return true;
}

bool sb_json_entry(FILE *out, const sb_book_entry *entry, const sb_description *d) {
    char *text = sb_data_from_description(d);
    json_t *state = text ? json_loads(text, 0, NULL) : NULL;
    free(text);
    json_t *object =
        json_pack("{s:s, s:s, s:I, s:I, s:I}", "schema", "setback.instrument/1", "name",
                  entry->name, "added_ms", (json_int_t)entry->added_ms, "events",
                  (json_int_t)entry->events, "last_ms", (json_int_t)entry->last_ms);
    bool whole = state && object && json_object_update(object, state) == 0;
    json_decref(state);
    if (whole)
        return put_line(out, object);
    json_decref(object);
    return false;
}

bool sb_json_event(FILE *out, const sb_event *event) {
    json_t *data = json_loads(event->data, 0, NULL);
    return data &&
           put_line(out,
                    json_pack("{s:s, s:I, s:s, s:I, s:i, s:o}", "schema", "setback.event/1", "id",
                              (json_int_t)event->id, "event", sb_event_text(event->kind), "at_ms",
                              (json_int_t)event->at_ms, "string", event->string, "data", data));
}
