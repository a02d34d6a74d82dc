/* One string: the facts that its answer rests on. */
#include <math.h>
#include <string.h>

#include "cli/print.h"
#include "cli/text.h"
#include "core/pitch.h"

#define MANY                12  /* lines of left-out plucks shown */
#define LIST_MAX            400 /* bytes of a list of partials */
#define FALSE_SCATTER_CENTS 2.0

static const char *const side_names[] = {"open", "fretted", "?"};

static void print_side(const sb_page *page, const sb_task *task, const sb_measurement *m,
                       sb_side side) {
    const sb_summary *s = &m->side[side];
    char name[32], note[SB_NOTE_TEXT_MAX], off[16];
    double cents = 0;
    sb_note_format(sb_note_nearest(s->hz, task->a4_hz, &cents), note, sizeof note);
    sb_format_signed(cents, 1, off, sizeof off);
    (void)snprintf(name, sizeof name, side == SB_OPEN ? "open" : "fret %d", task->setting->fret);
    sb_print_label(page, name);
    (void)fprintf(page->out, "%.3f Hz ± %.2g cents, %s %s cents; %zu pluck%s\n", s->hz,
                  s->std_error_cents, note, off, s->plucks, s->plucks == 1 ? "" : "s");
    sb_print_label(page, "");
    (void)fprintf(page->out, "level %.0f dBFS, noise %.0f dB below; glide %.1f cents; B %.1e\n",
                  s->level_dbfs, s->snr_db, s->glide_cents, s->inharmonicity);
}

static void print_harmonic(const sb_page *page, const sb_measurement *m) {
    char text[32];
    if (!m->has_harmonic)
        return;
    sb_print_label(page, "by harmonic");
    sb_format_signed(m->harmonic_error_cents, 2, text, sizeof text);
    (void)fprintf(page->out, "%s cents, against the open string's 12th-fret harmonic\n", text);
}

static void print_by_pairs(const sb_page *page, const sb_measurement *m) {
    char text[64], line[160];
    if (!m->by_pairs.disagrees)
        return;
    sb_print_label(page, "by pairs");
    sb_format_error(m->by_pairs.error_cents, m->by_pairs.std_error_cents, text, sizeof text);
    (void)snprintf(line, sizeof line,
                   "partials at the same pitch say %s instead, so the error was widened", text);
    sb_text_wrap(page->out, line, SB_PRINT_INDENT, SB_PRINT_INDENT, SB_PRINT_WIDTH);
}

static void print_drift(const sb_page *page, const sb_interval *interval) {
    char text[32];
    if (!interval->drift_fitted)
        return;
    sb_print_label(page, "drift");
    sb_format_signed(interval->drift_cents_per_min, 2, text, sizeof text);
    (void)fprintf(page->out, "%s ± %.2f cents a minute, %s\n", text, interval->drift_std_error,
                  interval->drift_significant ? "taken out" : "not certain, left in");
}

static void print_left_out(const sb_page *page, const sb_measurement *m) {
    size_t lines = 0;
    for (size_t i = 0; i < m->n_heard; i++) {
        const sb_heard *h = &m->heard[i];
        if (h->left_out[0] == '\0' || lines++ >= MANY)
            continue;
        sb_print_label(page, lines == 1 ? "left out" : "");
        (void)fprintf(page->out, "%s pluck at %.1f s: %s\n",
                      h->side == SB_NEITHER ? "a" : side_names[h->side], h->reading->start_s,
                      h->left_out);
    }
    if (lines > MANY) {
        sb_print_label(page, "");
        (void)fprintf(page->out, "and %zu more\n", lines - MANY);
    }
}

/* --- partials that do not count in full ------------------------------------------------ */

static void add(char *list, const char *before, int number) {
    size_t used = strlen(list);
    (void)snprintf(list + used, LIST_MAX - used, "%s%d", before, number);
}

/* "beating 1-3 5", appended to the list; nothing where no partial has the flag. */
static void list_flag(const sb_reading *r, unsigned flag, const char *word, char *list) {
    int last = 0, run_from = 0;
    for (size_t i = 0; i < r->n_partials; i++) {
        const sb_partial *p = &r->partials[i];
        if (!(p->flags & flag))
            continue;
        bool first = last == 0;
        if (first) {
            size_t used = strlen(list);
            (void)snprintf(list + used, LIST_MAX - used, "%s%s", used ? "; " : "", word);
        }
        if (!first && p->number == last + 1) {
            last = p->number;
            continue;
        }
        if (last > run_from)
            add(list, "-", last);
        add(list, " ", p->number);
        run_from = last = p->number;
    }
    if (last > run_from)
        add(list, "-", last);
}

/* Weakness is no news: every string's partials fade out somewhere. */
static void print_disturbed(const sb_page *page, const sb_measurement *m, sb_side side) {
    char list[LIST_MAX] = "", line[LIST_MAX + 16];
    unsigned flag = 0;
    const char *word;
    for (size_t i = 0; (word = sb_flag_text(i, &flag)) != NULL; i++)
        if (flag != SB_PARTIAL_WEAK)
            list_flag(m->side[side].best, flag, word, list);
    if (list[0] == '\0')
        return;
    sb_print_label(page, "partials");
    (void)snprintf(line, sizeof line, "%s: %s", side_names[side], list);
    sb_text_wrap(page->out, line, SB_PRINT_INDENT, SB_PRINT_INDENT, SB_PRINT_WIDTH);
}

/* Partials of a sound string scatter by a cent at most; a saddle cures no false one. */
static void print_scattered(const sb_page *page, const sb_measurement *m) {
    double cents =
        fmax(m->side[SB_OPEN].best->scatter_cents, m->side[SB_FRETTED].best->scatter_cents);
    char line[160];
    if (cents < FALSE_SCATTER_CENTS)
        return;
    sb_print_label(page, "string");
    (void)snprintf(line, sizeof line,
                   "perhaps false: its partials scatter by %.1f cents, a sound string's by 1 at "
                   "most; try another before the saddle",
                   cents);
    sb_text_wrap(page->out, line, SB_PRINT_INDENT, SB_PRINT_INDENT, SB_PRINT_WIDTH);
}

static void print_overloaded(const sb_page *page, const sb_measurement *m) {
    size_t open = sb_measurement_overloaded(m, SB_OPEN);
    size_t fretted = sb_measurement_overloaded(m, SB_FRETTED);
    char line[160];
    if (open + fretted == 0)
        return;
    sb_print_label(page, "overloaded");
    (void)snprintf(line, sizeof line,
                   "%zu open, %zu fretted, read with their tops filled in; turn the input down",
                   open, fretted);
    sb_text_wrap(page->out, line, SB_PRINT_INDENT, SB_PRINT_INDENT, SB_PRINT_WIDTH);
}

void sb_print_measurement(const sb_page *page, const sb_task *task, const sb_measurement *m) {
    char name[SB_NOTE_TEXT_MAX];
    sb_format_note(m->side[SB_OPEN].hz, task->a4_hz, name, sizeof name);
    sb_print_verdict(page, task->setting, &m->answer, name);
    print_harmonic(page, m);
    print_by_pairs(page, m);
    print_side(page, task, m, SB_OPEN);
    print_side(page, task, m, SB_FRETTED);
    print_drift(page, &m->interval);
    print_disturbed(page, m, SB_OPEN);
    print_disturbed(page, m, SB_FRETTED);
    print_scattered(page, m);
    print_overloaded(page, m);
    print_left_out(page, m);
    sb_print_advice(page, m->answer.verdict == SB_VERDICT_MOVE, m->answer.doubtful);
}

static void print_partial(const sb_page *page, const sb_partial *p) {
    char flags[96], departure[16];
    sb_format_flags(p->flags, flags, sizeof flags);
    sb_format_signed(p->departure_cents, 2, departure, sizeof departure);
    (void)fprintf(page->out, "%3d %10.3f %10.4f %6.0f %8.2f %11s %6.1f%%%s%s\n", p->number, p->hz,
                  p->std_error_cents, p->level_dbfs, p->decay_per_s, departure, 100 * p->weight,
                  *flags ? "  " : "", flags);
}

void sb_print_partials(const sb_page *page, const sb_measurement *m) {
    for (int side = 0; side < 2; side++) {
        const sb_reading *r = m->side[side].best;
        (void)fprintf(page->out, "\n%s, pluck at %.1f s\n", side_names[side], r->start_s);
        (void)fputs("  n         Hz    ± cents   dBFS  decay/s  off series  weight\n", page->out);
        for (size_t i = 0; i < r->n_partials; i++)
            print_partial(page, &r->partials[i]);
    }
    if (m->by_pairs.known) {
        char text[64];
        sb_format_error(m->by_pairs.error_cents, m->by_pairs.std_error_cents, text, sizeof text);
        (void)fprintf(page->out, "\nopen 2 4 6 ... against fretted 1 2 3 ...: %s, %zu pairs\n",
                      text, m->by_pairs.pairs);
    }
}
