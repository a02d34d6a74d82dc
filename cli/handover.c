#include "cli/handover.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cli/text.h"
#include "core/length.h"

/* --- text ------------------------------------------------------------------------------ */

static char *phrase(const char *format, va_list values) SB_PRINTF(1, 0);

static char *phrase(const char *format, va_list values) {
    va_list again;
    va_copy(again, values);
    int n = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *text = n >= 0 ? malloc((size_t)n + 1) : NULL;
    if (text)
        (void)vsnprintf(text, (size_t)n + 1, format, values);
    return text;
}

char *sb_phrase(const char *format, ...) {
    va_list values;
    va_start(values, format);
    char *text = phrase(format, values);
    va_end(values);
    return text;
}

void sb_say(sb_sayings *sayings, const char *format, ...) {
    va_list values;
    char **more = realloc(sayings->item, (sayings->n + 1) * sizeof *more);
    sayings->failed = sayings->failed || !more;
    if (!more)
        return;
    sayings->item = more;
    va_start(values, format);
    char *text = phrase(format, values);
    va_end(values);
    sayings->failed = sayings->failed || !text;
    if (text)
        sayings->item[sayings->n++] = text;
}

static void forget(sb_sayings *sayings) {
    for (size_t i = 0; i < sayings->n; i++)
        free(sayings->item[i]);
    free(sayings->item);
}

void sb_handover_signed(double value, char *text, size_t size) {
    if (!(fabs(value) < 9999.95)) {
        (void)snprintf(text, size, "%s9999", value < 0 ? "under \u2212" : "over +");
        return;
    }
    double shown = fabs(value) < 0.05 ? 0 : value;
    (void)snprintf(text, size, "%s%.1f", shown < 0 ? "\u2212" : shown > 0 ? "+" : "", fabs(shown));
}

double sb_handover_error(double std_error) {
    return fmin(fmax(std_error, 0.1), 9999);
}

void sb_handover_move_text(double move_mm, char *text, size_t size) {
    char ruler[SB_LENGTH_TEXT_MAX] = "";
    if (!(fabs(move_mm) >= 0.005)) {
        (void)snprintf(text, size, "%s", "");
        return;
    }
    sb_length_format_64ths(fabs(move_mm), ruler, sizeof ruler);
    bool tells = strncmp(ruler, "0/", 2) != 0;
    (void)snprintf(text, size, "%.2f mm %s%s%s%s", fmin(fabs(move_mm), 9999),
                   move_mm > 0 ? "back" : "forward", tells ? " (" : "", tells ? ruler : "",
                   tells ? ")" : "");
}

/* ".026w", "0.70 mm": as on a packet of strings. */
static void gauge_text(const sb_string *s, char *text, size_t size) {
    double thou = s->gauge_mm / (SB_MM_PER_INCH / 1000);
    const char *wound = s->wound ? "w" : "";
    if (!(s->gauge_mm > 0))
        (void)snprintf(text, size, "%s", s->wound ? "wound" : "");
    else if (fabs(thou - round(thou)) < 1e-3)
        (void)snprintf(text, size, ".%03.0f%s", thou, wound);
    else if (fabs(10 * thou - round(10 * thou)) < 1e-2)
        (void)snprintf(text, size, ".%04.0f%s", 10 * thou, wound);
    else
        (void)snprintf(text, size, "%.2f mm%s", s->gauge_mm, s->wound ? " w" : "");
}

/* --- strings --------------------------------------------------------------------------- */

static const char *wants_text(const sb_string_progress *p) {
    static const char *const spoiled[SB_CHANGES] = {
        "measured before the relief was changed", "measured before the nut was worked on",
        "measured before the action was changed", "measured before new strings were fitted",
        "measured before the tuning was changed", "not measured in this visit",
    };
    switch (p->state) {
    case SB_STRING_NOT_YET: return "never measured";
    case SB_STRING_MOVED: return "measured before the saddle was moved";
    case SB_STRING_STALE: return spoiled[p->spoiled_by];
    default: return NULL;
    }
}

static void gather_string(const sb_bench *bench, size_t string, sb_handover_string *out) {
    const sb_string_progress *p = &bench->progress.strings[string - 1];
    const sb_string *s = &bench->progress.instrument.strings[string - 1];
    size_t saddle = sb_progress_saddle(&bench->progress, string);
    const sb_saddle_progress *at = &bench->progress.saddles[saddle];
    sb_note_format(s->semitone, out->note, sizeof out->note);
    gauge_text(s, out->gauge, sizeof out->gauge);
    out->state = p->state;
    out->wants = wants_text(p);
    out->before_known = p->first.std_error > 0;
    out->before = p->first;
    out->after_known = !out->wants && p->has_reading;
    out->after = p->reading;
    out->again = !p->first_round;
    out->saddle = saddle;
    out->moved_mm = sb_saddle_move_at(&bench->progress.instrument.saddles[saddle], string,
                                      at->visit_mm, at->visit_end_mm);
}

/* --- the whole ------------------------------------------------------------------------- */

static void set_day(sb_handover *sheet) {
    static const char *const months[] = {"January",   "February", "March",    "April",
                                         "May",       "June",     "July",     "August",
                                         "September", "October",  "November", "December"};
    time_t seconds = (time_t)(sheet->at_ms / 1000);
    struct tm day;
    if (!localtime_r(&seconds, &day) ||
        strftime(sheet->day, sizeof sheet->day, "%Y-%m-%d", &day) == 0)
        return;
    (void)snprintf(sheet->day_in_words, sizeof sheet->day_in_words, "%d %s %d", day.tm_mday,
                   months[day.tm_mon % 12], day.tm_year + 1900);
}

static void gather_state(const sb_bench *bench, sb_handover *sheet) {
    const sb_progress *p = &bench->progress;
    sb_text_clean(bench->name, sheet->name, sizeof sheet->name);
    sb_text_clean(bench->description.owner, sheet->owner, sizeof sheet->owner);
    sheet->tolerance_cents = p->options.tolerance_cents;
    sheet->fit = p->options.fit;
    sheet->fret = p->options.fret;
    sheet->instrument = p->instrument;
    for (size_t i = 0; i < p->instrument.n_strings; i++)
        gather_string(bench, i + 1, &sheet->strings[i]);
}

static bool whole(const sb_handover *sheet) {
    const sb_sayings *all[] = {&sheet->found,  &sheet->done,     &sheet->remains, &sheet->notes,
                               &sheet->expect, &sheet->cautions, &sheet->wanting, &sheet->events};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        if (all[i]->failed)
            return false;
    for (size_t i = 0; i < sheet->n_rows; i++) {
        const sb_handover_row *r = &sheet->rows[i];
        if (!r->what || !r->before || !r->now || !r->usual || !r->remark)
            return false;
    }
    return sheet->result != NULL;
}

sb_book_status sb_handover_gather(const sb_bench *bench, bool draft, sb_handover **out) {
    sb_handover *sheet = calloc(1, sizeof *sheet);
    if (!sheet)
        return SB_BOOK_MEMORY;
    sheet->draft = draft;
    gather_state(bench, sheet);
    sb_book_status status = sb_handover_read_log(bench, sheet);
    if (status == SB_BOOK_OK) {
        set_day(sheet);
        sb_handover_word(bench, sheet);
        if (!whole(sheet))
            status = SB_BOOK_MEMORY;
    }
    if (status == SB_BOOK_OK)
        *out = sheet;
    else
        sb_handover_free(sheet);
    return status;
}

static char *copy(const char *text) {
    return sb_phrase("%s", text ? text : "");
}

void sb_handover_add_row(sb_handover *sheet, const sb_handover_shown *row) {
    if (sheet->n_rows < SB_HANDOVER_ROWS_MAX)
        sheet->rows[sheet->n_rows++] =
            (sb_handover_row){copy(row->what),  copy(row->before), copy(row->now),
                              copy(row->usual), copy(row->remark), row->heard};
}

void sb_handover_free(sb_handover *sheet) {
    if (!sheet)
        return;
    forget(&sheet->found);
    forget(&sheet->done);
    forget(&sheet->remains);
    forget(&sheet->notes);
    forget(&sheet->expect);
    forget(&sheet->cautions);
    forget(&sheet->wanting);
    forget(&sheet->events);
    for (size_t i = 0; i < sheet->n_rows; i++) {
        free(sheet->rows[i].what);
        free(sheet->rows[i].before);
        free(sheet->rows[i].now);
        free(sheet->rows[i].usual);
        free(sheet->rows[i].remark);
    }
    free(sheet->result);
    free(sheet);
}
