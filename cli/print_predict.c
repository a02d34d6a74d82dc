/* Predicted compensation for people. */
#include <math.h>
#include <string.h>

#include "cli/prediction.h"
#include "cli/specs.h"
#include "cli/text.h"
#include "core/length.h"
#include "core/pitch.h"

#define N_PER_LBF   4.4482216152605
#define CENTS_WIDTH 7
#define ROW_STRINGS 10 /* strings side by side in a table of cents */

static void string_name(const sb_string *s, char *text, size_t size) {
    char note[SB_NOTE_TEXT_MAX], gauge[48];
    sb_note_format(s->semitone, note, sizeof note);
    sb_gauge_format(s, gauge, sizeof gauge);
    (void)snprintf(text, size, "%s%s%s", note, *gauge ? " " : "", gauge);
}

static const char *way(double mm) {
    return mm < 0 ? "forward" : "back";
}

/* "1.31 ± 0.15 back", padded to `width` columns. */
static void print_setback(FILE *out, double mm, double std_error_mm, size_t width) {
    bool none = fabs(mm) < 0.005;
    char text[64];
    (void)snprintf(text, sizeof text, "%5.2f ± %.2f%s%s", none ? 0.0 : fabs(mm), std_error_mm,
                   none ? "" : " ", none ? "" : way(mm));
    sb_text_pad(out, text, width);
}

#define SETBACK_WIDTH 22

/* --- one set --------------------------------------------------------------------------- */

static void print_string(FILE *out, const sb_predicted *q, size_t i) {
    const sb_compensation *c = &q->p->string[i];
    char name[64], tension[32];
    string_name(&q->set->strings[i], name, sizeof name);
    (void)fprintf(out, "%6zu  ", i + 1);
    sb_text_pad(out, name, 12);
    (void)snprintf(tension, sizeof tension, "%5.1f ± %.1f", c->wire.tension_n,
                   c->tension_std_error_n);
    sb_text_pad(out, tension, 15);
    print_setback(out, c->saddle_mm, c->saddle_std_error_mm, SETBACK_WIDTH);
    if (q->task->fit.nut) {
        print_setback(out, c->nut_mm, c->nut_std_error_mm, 0);
    } else {
        char ruler[SB_LENGTH_TEXT_MAX];
        sb_length_format_64ths(fabs(c->saddle_mm), ruler, sizeof ruler);
        (void)fputs(ruler, out);
    }
    (void)fputc('\n', out);
}

static void print_strings(FILE *out, const sb_predicted *q) {
    (void)fprintf(out, "string  %-13s%-15s%s\n", "", "tension, N",
                  q->task->fit.nut ? "saddle, mm            nut, mm" : "saddle, mm");
    for (size_t i = 0; i < q->p->n; i++)
        print_string(out, q, i);
}

static void print_total(FILE *out, const char *label, const sb_prediction *p) {
    (void)fprintf(out, "%s %.0f N", label, p->total_tension_n);
    if (p->total_std_error_n >= 0.5)
        (void)fprintf(out, " ± %.0f", p->total_std_error_n);
    (void)fprintf(out, " (%.0f lbf)", p->total_tension_n / N_PER_LBF);
}

static void print_line(const sb_page *page, const sb_saddle_line *line) {
    size_t end = line->last - line->first;
    char text[160];
    if (line->slant)
        (void)snprintf(text, sizeof text,
                       "saddle under %zu-%zu: %.2f mm %s at string %zu, %.2f mm %s at string %zu",
                       line->first, line->last, fabs(line->place_mm[0]), way(line->place_mm[0]),
                       line->first, fabs(line->place_mm[end]), way(line->place_mm[end]),
                       line->last);
    else
        (void)snprintf(text, sizeof text, "saddle under %zu-%zu: %.2f mm %s", line->first,
                       line->last, fabs(line->place_mm[0]), way(line->place_mm[0]));
    sb_print_bold(page, text);
    (void)fprintf(page->out, "\n  leaves at most %.2f cents at the 12th fret, RMS %.2f\n",
                  line->c.worst_cents, line->c.rms_cents);
}

static void print_cents(FILE *out, const sb_predicted *q, size_t from, bool before) {
    size_t to = from + ROW_STRINGS < q->p->n ? from + ROW_STRINGS : q->p->n;
    (void)fprintf(out, "\n%s\n  fret", before ? "cents before, sharp positive" : "cents after");
    for (size_t i = from; i < to; i++) {
        char note[SB_NOTE_TEXT_MAX];
        sb_note_format(q->set->strings[i].semitone, note, sizeof note);
        (void)fprintf(out, "%*s", CENTS_WIDTH, note);
    }
    (void)fputc('\n', out);
    for (size_t k = 0; k < q->task->fit.n_frets; k++) {
        (void)fprintf(out, "%6d", q->task->fit.frets[k]);
        for (size_t i = from; i < to; i++) {
            const sb_compensation *c = &q->p->string[i];
            char text[32];
            sb_format_signed(before ? c->before_cents[k] : c->cents[k], 1, text, sizeof text);
            (void)fprintf(out, "%*s", CENTS_WIDTH, text);
        }
        (void)fputc('\n', out);
    }
    (void)fputs("   RMS", out);
    for (size_t i = from; i < to; i++) {
        const sb_compensation *c = &q->p->string[i];
        (void)fprintf(out, "%*.1f", CENTS_WIDTH, before ? c->rms_before_cents : c->rms_cents);
    }
    (void)fputc('\n', out);
}

/* "0.41 to 0.51 mm" over the strings. */
static void span_text(const double mm[], size_t n, char *text, size_t size) {
    double low = mm[0], high = mm[0];
    for (size_t i = 1; i < n; i++) {
        low = fmin(low, mm[i]);
        high = fmax(high, mm[i]);
    }
    if (high - low < 0.005)
        (void)snprintf(text, size, "%.2f mm", low);
    else
        (void)snprintf(text, size, "%.2f to %.2f mm", low, high);
}

/* Which heights are from the book, where any are. */
static void print_book_heights(const sb_page *page, const sb_predicted *q) {
    const sb_prediction_task *t = q->task;
    char action[80] = "", first[80] = "", relief[60] = "", text[300], span[48];
    if (t->action_from == SB_HEIGHT_BOOK) {
        span_text(t->action_mm, q->p->n, span, sizeof span);
        (void)snprintf(action, sizeof action, ", action at fret %d %s", t->action.fret, span);
    }
    if (t->by_action && t->first_fret_from == SB_HEIGHT_BOOK) {
        span_text(t->first_fret_mm, q->p->n, span, sizeof span);
        (void)snprintf(first, sizeof first, ", at fret 1 %s", span);
    }
    if (t->relief_from == SB_HEIGHT_BOOK)
        (void)snprintf(relief, sizeof relief, ", relief %.2f mm", t->action.relief_mm);
    (void)snprintf(text, sizeof text, "%s%s%s.", action, first, relief);
    if (!text[1])
        return;
    (void)fputs("Measured, from the book: ", page->out);
    sb_text_wrap(page->out, text + 2, strlen("Measured, from the book: "), 0, SB_PRINT_WIDTH);
}

/* What the figures rest on where it was not told. */
static void print_grounds(const sb_page *page, const sb_predicted *q) {
    char text[400];
    bool core = false, heard = false;
    for (size_t i = 0; i < q->p->n; i++) {
        core =
            core || (q->set->strings[i].wound && q->set->data[i].material <= SB_MATERIAL_BRONZE &&
                     q->p->string[i].wire.core_from == SB_FROM_MODEL);
        heard = heard || q->p->string[i].wire.bending_from == SB_FROM_READING;
    }
    (void)snprintf(text, sizeof text,
                   "Setbacks are from the nominal scale length. Ends %s, known to ± %.1f of one "
                   "clamped end.%s%s%s%s",
                   q->task->ends, q->task->fit.ends_std_error,
                   core ? " The cores of wound strings are guessed from their gauge." : "",
                   heard ? " Measured inharmonicity was used." : "",
                   q->task->by_action && q->task->first_fret_from == SB_HEIGHT_ASSUMED
                       ? " At fret 1 the strings are taken to be 0.5 mm high."
                       : "",
                   q->task->action_from == SB_HEIGHT_ASSUMED
                       ? " At fret 12 they are taken to be 1.8 mm high; --action says otherwise."
                       : "");
    sb_text_wrap(page->out, text, 0, 0, SB_PRINT_WIDTH);
    print_book_heights(page, q);
    if (q->task->worn)
        sb_text_wrap(page->out, SB_WORN_CAUTION, 0, 0, SB_PRINT_WIDTH);
    if (q->set->guessed)
        sb_text_wrap(page->out,
                     "Taken for nylon, since in steel a plain string would pull over 200 N; "
                     "--material says otherwise.",
                     0, 0, SB_PRINT_WIDTH);
}

void sb_print_prediction(const sb_page *page, const sb_predicted *q) {
    print_strings(page->out, q);
    if (q->p->n > 1) {
        print_total(page->out, "\ntension together", q->p);
        (void)fputc('\n', page->out);
    }
    if (q->task->fit.nut && q->p->n > 1)
        (void)fprintf(page->out, "one nut for all: %.2f mm %s\n", fabs(q->p->nut_mm),
                      q->p->nut_mm < 0 ? "forward, towards the frets" : "back");
    for (size_t k = 0; k < q->p->n_lines; k++) {
        (void)fputs(k == 0 ? "\n" : "", page->out);
        print_line(page, &q->p->line[k]);
    }
    for (size_t from = 0; from < q->p->n; from += ROW_STRINGS) {
        print_cents(page->out, q, from, true);
        print_cents(page->out, q, from, false);
    }
    (void)fputc('\n', page->out);
    print_grounds(page, q);
}

/* --- from one set to another ------------------------------------------------------------ */

static void print_change(const sb_page *page, const sb_predicted *now, const sb_predicted *then,
                         size_t i) {
    char was[64], is[64];
    double std_error = 0, move = sb_restring_move(now, then, i, &std_error);
    string_name(&now->set->strings[i], was, sizeof was);
    string_name(&then->set->strings[i], is, sizeof is);
    (void)fprintf(page->out, "%6zu  ", i + 1);
    sb_text_pad(page->out, was, 12);
    sb_text_pad(page->out, is, 12);
    print_setback(page->out, move, std_error, SETBACK_WIDTH);
    (void)fprintf(page->out, "%5.1f to %.1f%s\n", now->p->string[i].wire.tension_n,
                  then->p->string[i].wire.tension_n,
                  fabs(move) < std_error ? "  way not sure" : "");
}

static void print_line_change(const sb_page *page, const sb_saddle_line *a,
                              const sb_saddle_line *b) {
    size_t end = b->last - b->first;
    double first = b->place_mm[0] - a->place_mm[0], last = b->place_mm[end] - a->place_mm[end];
    char text[160];
    (void)snprintf(text, sizeof text,
                   "saddle under %zu-%zu: move it %.2f mm %s at string %zu, %.2f mm %s at string "
                   "%zu",
                   b->first, b->last, fabs(first), way(first), b->first, fabs(last), way(last),
                   b->last);
    sb_print_bold(page, text);
    (void)fputc('\n', page->out);
}

void sb_print_restring(const sb_page *page, const sb_predicted *now, const sb_predicted *then) {
    const char *relief = sb_restring_relief(now, then);
    double more = then->p->total_tension_n - now->p->total_tension_n;
    char text[200];
    (void)fprintf(page->out, "string  %-12s%-12s %-22s%s\n", "now", "then", "saddle moves, mm",
                  "tension, N");
    for (size_t i = 0; i < now->p->n; i++)
        print_change(page, now, then, i);
    (void)fputc('\n', page->out);
    for (size_t k = 0; k < then->p->n_lines; k++)
        print_line_change(page, &now->p->line[k], &then->p->line[k]);
    print_total(page->out, "tension together now", now->p);
    print_total(page->out, ", then", then->p);
    (void)snprintf(text, sizeof text, "%.0f N %s: %s", fabs(more), more < 0 ? "less" : "more",
                   strcmp(relief, "same") == 0 ? "too little for the neck to show"
                   : strcmp(relief, "more") == 0
                       ? "relief will grow and the action rise; see to them first"
                       : "relief will shrink and the action fall; see to them first");
    (void)fputc('\n', page->out);
    sb_print_bold(page, text);
    (void)fputs("\n\n", page->out);
    print_grounds(page, then);
}
