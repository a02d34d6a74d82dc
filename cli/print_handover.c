/* The sheet as lines, for a message, a log or a screen reader. */
#include <math.h>
#include <string.h>

#include "cli/handover.h"
#include "cli/print.h"
#include "cli/text.h"

#define INDENT 2

static void put_sayings(FILE *out, const char *title, const sb_sayings *list) {
    if (list->n == 0)
        return;
    (void)fprintf(out, "\n%s\n", title);
    for (size_t i = 0; i < list->n; i++) {
        (void)fputs("- ", out);
        sb_text_wrap(out, list->item[i], INDENT, INDENT, SB_PRINT_WIDTH);
    }
}

static void put_fact(FILE *out, const char *label, const char *text) {
    sb_text_pad(out, label, 14);
    sb_text_wrap(out, text, 14, 14, SB_PRINT_WIDTH);
}

static void put_head(FILE *out, const sb_handover *h) {
    char strings[SB_STRINGS_MAX * (SB_HANDOVER_TEXT_MAX + 16)] = "";
    for (size_t i = 0; i < h->instrument.n_strings; i++) {
        size_t used = strlen(strings);
        (void)snprintf(strings + used, sizeof strings - used, "%s%s%s%s", i > 0 ? ", " : "",
                       h->strings[i].note, h->strings[i].gauge[0] ? " " : "", h->strings[i].gauge);
    }
    put_fact(out, "instrument", h->name);
    if (h->owner[0])
        put_fact(out, "owner's mark", h->owner);
    put_fact(out, "day", h->day_in_words);
    put_fact(out, "strings", strings);
    (void)fputc('\n', out);
    sb_text_wrap(out, h->result, 0, 0, SB_PRINT_WIDTH);
}

static void reading_text(bool known, sb_error_reading r, char *text, size_t size) {
    char cents[24];
    sb_handover_signed(r.cents, cents, sizeof cents);
    if (known)
        (void)snprintf(text, size, "%s \u00b1 %.1f ", cents, sb_handover_error(r.std_error));
    else
        (void)snprintf(text, size, "not measured");
}

static void put_strings(FILE *out, const sb_handover *h) {
    (void)fprintf(out,
                  "\nString by string: error at fret %d in cents, + sharp, \u2212 flat, \u00b1 "
                  "standard error\n  string    before        after         saddle moved\n",
                  h->fret);
    for (size_t i = 0; i < h->instrument.n_strings; i++) {
        const sb_handover_string *s = &h->strings[i];
        char before[64], after[64], move[80];
        reading_text(s->before_known, s->before, before, sizeof before);
        reading_text(s->after_known, s->after, after, sizeof after);
        sb_handover_move_text(s->moved_mm, move, sizeof move);
        (void)fprintf(out, "  %2zu %-5s  ", i + 1, s->note);
        sb_text_pad(out, before, 14);
        sb_text_pad(out, s->after_known && !s->again ? "as before" : after, 14);
        (void)fprintf(out, "%s\n", move[0] ? move : "not moved");
    }
}

static void put_row(FILE *out, const sb_handover_row *r) {
    const char *const parts[] = {r->before, r->now, r->usual, r->remark};
    static const char *const names[] = {"before ", "after ", "usual ", ""};
    char line[2000];
    (void)snprintf(line, sizeof line, "%s:", r->what);
    for (size_t i = 0; i < 4; i++) {
        size_t used = strlen(line);
        if (parts[i][0])
            (void)snprintf(line + used, sizeof line - used, "%s %s%s",
                           line[used - 1] == ':' ? "" : ";", names[i], parts[i]);
    }
    (void)fputs("- ", out);
    sb_text_wrap(out, line, INDENT, INDENT, SB_PRINT_WIDTH);
}

static void put_draft(FILE *out, const sb_handover *h) {
    if (h->draft)
        (void)fputs("*** DRAFT, not to be handed over ***\n", out);
}

void sb_print_handover(FILE *out, const sb_handover *h) {
    put_draft(out, h);
    put_sayings(out, "Wanting", &h->wanting);
    if (h->draft)
        (void)fputc('\n', out);
    put_head(out, h);
    put_sayings(out, "Found", &h->found);
    put_sayings(out, "Done", &h->done);
    put_strings(out, h);
    put_sayings(out, "What remains, and why", &h->remains);
    if (h->n_rows > 0)
        (void)fputs("\nMeasured at the bench\n", out);
    for (size_t i = 0; i < h->n_rows; i++)
        put_row(out, &h->rows[i]);
    put_sayings(out, "Notes", &h->notes);
    put_sayings(out, "What to expect", &h->expect);
    put_sayings(out, "Before you do anything yourself", &h->cautions);
    if (h->draft)
        (void)fputc('\n', out);
    put_draft(out, h);
}
