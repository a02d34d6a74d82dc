/* The page: one file that asks for nothing else, for a telephone, a screen and one sheet of A4 or
 * Letter. All text from the book is clean by now and goes through sb_text_markup; what may run
 * from right to left is kept apart by dir="auto" or <bdi>. */
#include "cli/html_handover.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/text.h"

#define ENOUGH    1e9 /* lines */
#define LONG_NAME 40  /* characters, for smaller type */

static void put(FILE *out, const char *markup) {
    (void)fputs(markup, out);
}

/* <tag>text</tag>, `open` with its attributes. */
static void element(FILE *out, const char *open, const char *text, const char *close) {
    put(out, open);
    sb_text_markup(out, text);
    put(out, close);
}

static void put_list(FILE *out, const sb_sayings *list) {
    put(out, "<ul>\n");
    for (size_t i = 0; i < list->n; i++)
        element(out, "<li>", list->item[i], "</li>\n");
    put(out, "</ul>\n");
}

static void open_section(FILE *out, const char *title, bool on_screen_only) {
    put(out, on_screen_only ? "<section class=\"screen\">\n" : "<section>\n");
    element(out, "<h2>", title, "</h2>\n");
}

static void put_section(FILE *out, const char *title, const sb_sayings *list) {
    if (list->n == 0)
        return;
    open_section(out, title, false);
    put_list(out, list);
    put(out, "</section>\n");
}

/* A text of which as much is printed as `room` lines hold; the rest is for the screen. Lowers the
 * room by what it takes. */
static void put_bounded(FILE *out, const char *text, double columns, double *room) {
    char *head = NULL;
    size_t n = strlen(text);
    double lines = 0.1 + sb_page_lines(text, columns);
    if (lines > *room && *room >= 1) {
        n = (size_t)((double)n * *room / (1.02 * lines));
        while (n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
            n--; /* a character whole */
        head = sb_phrase("%.*s", (int)n, text);
    }
    if (lines <= *room) {
        element(out, "<li dir=\"auto\">", text, "</li>\n");
    } else if (head) {
        element(out, "<li dir=\"auto\">", head, "<span class=\"print\">\u2009\u2026</span>");
        element(out, "<span class=\"screen\">", text + n, "</span></li>\n");
    } else {
        element(out, "<li dir=\"auto\" class=\"screen\">", text, "</li>\n");
    }
    *room = lines <= *room ? *room - lines : 0;
    free(head);
}

static const char *const part_titles[SB_PARTS_OF_PAGE] = {
    "Found", "What remains, and why", "Measured at the bench", "Heard", "Notes"};

/* A section of the page that may be cut in print. */
static void put_part(FILE *out, const sb_sayings *list, const sb_page_fit *fit, sb_page_part part) {
    double room = ENOUGH;
    if (fit->cut[part])
        room = fit->lines[part] - (part == SB_PART_FOUND ? 0 : SB_PAGE_HEADING);
    if (list->n == 0)
        return;
    open_section(out, part_titles[part], room < 1);
    put(out, "<ul>\n");
    for (size_t i = 0; i < list->n; i++)
        put_bounded(out, list->item[i], sb_page_columns(fit, part), &room);
    put(out, "</ul>\n</section>\n");
}

/* --- head ------------------------------------------------------------------------------- */

static void put_head(FILE *out, const sb_handover *h, const char *density) {
    (void)fprintf(
        out, "<!DOCTYPE html>\n<html lang=\"en\" class=\"%s\">\n<head>\n<meta charset=\"utf-8\">\n",
        density);
    put(out, "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
             "style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'\">\n"
             "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
             "<meta name=\"referrer\" content=\"no-referrer\">\n"
             "<link rel=\"icon\" href=\"data:,\">\n<title>");
    if (h->draft)
        put(out, "Draft: ");
    sb_text_markup(out, h->name);
    (void)fprintf(out, ", set up on %s</title>\n<style>\n", h->day_in_words);
    for (const char *const *piece = sb_html_handover_style(); *piece; piece++)
        put(out, *piece);
    put(out, "</style>\n</head>\n<body>\n");
}

static void put_draft(FILE *out, const sb_handover *h) {
    if (!h->draft)
        return;
    put(out,
        "<div class=\"stamp\" aria-hidden=\"true\"><span>DRAFT</span></div>\n"
        "<div class=\"draft\" role=\"note\"><p><strong>Draft</strong>, not to be handed over.");
    put(out, h->wanting.n > 0 ? " A reading is wanting:</p>\n" : "</p>\n");
    if (h->wanting.n > 0)
        put_list(out, &h->wanting);
    put(out, "</div>\n");
}

static void put_strings_fact(FILE *out, const sb_handover *h) {
    put(out, "<dt>Strings</dt><dd>");
    for (size_t i = 0; i < h->instrument.n_strings; i++) {
        const sb_handover_string *s = &h->strings[i];
        (void)fprintf(out, "%s%s%s%s", i > 0 ? ", " : "", s->note, s->gauge[0] ? "\u00a0" : "",
                      s->gauge);
    }
    put(out, " <small>(inches where no unit stands; w: wound)</small></dd>\n");
}

static void put_facts(FILE *out, const sb_handover *h) {
    put(out, "<header>\n<p class=\"over\">What was found and what was done</p>\n");
    bool is_long = sb_text_width(h->name) > LONG_NAME;
    element(out, is_long ? "<h1 dir=\"auto\" class=\"long\">" : "<h1 dir=\"auto\">", h->name,
            "</h1>\n<dl>\n");
    if (h->owner[0])
        element(out, "<dt>Owner\u2019s mark</dt><dd><bdi>", h->owner, "</bdi></dd>\n");
    (void)fprintf(out, "<dt>Day</dt><dd><time datetime=\"%s\">%s</time></dd>\n", h->day,
                  h->day_in_words);
    put_strings_fact(out, h);
    put(out, "</dl>\n");
    element(out, "<p class=\"result\">", h->result, "</p>\n</header>\n");
}

/* --- string by string ------------------------------------------------------------------ */

static void put_reading(FILE *out, bool known, sb_error_reading r) {
    char cents[24];
    put(out, "<td class=\"n\">");
    sb_handover_signed(r.cents, cents, sizeof cents);
    if (known)
        (void)fprintf(out, "%s <small>\u00b1\u00a0%.1f</small></td>", cents,
                      sb_handover_error(r.std_error));
    else
        put(out, "not measured</td>");
}

static void put_move(FILE *out, double move_mm) {
    char move[80];
    sb_handover_move_text(move_mm, move, sizeof move);
    size_t n = strcspn(move, "(");
    put(out, "<td>");
    if (move[0])
        (void)fprintf(out, "%.*s", (int)n, move);
    else
        put(out, "not moved");
    if (move[n])
        (void)fprintf(out, "<small>%.*s</small>", (int)(strlen(move + n) - 2), move + n + 1);
    put(out, "</td>");
}

static void put_string(FILE *out, const sb_handover *h, size_t i) {
    const sb_handover_string *s = &h->strings[i];
    (void)fprintf(out, "<tr><th scope=\"row\">%zu\u2002%s</th>", i + 1, s->note);
    put_reading(out, s->before_known, s->before);
    if (s->after_known && !s->again)
        put(out, "<td class=\"n\">as before</td>");
    else
        put_reading(out, s->after_known, s->after);
    put_move(out, s->moved_mm);
    put(out, "</tr>\n");
}

static void put_strings(FILE *out, const sb_handover *h, const sb_page_fit *fit) {
    put(out, "<section>\n<h2>String by string</h2>\n<div class=\"pair\">\n<figure>\n");
    sb_html_handover_chart(out, h);
    (void)fprintf(out,
                  "<figcaption>How far the note at fret %d was off against the open string, and is "
                  "now. The nearer to the middle line the truer; what lies in the grey band may "
                  "stay.</figcaption>\n</figure>\n",
                  h->fret);
    put(out,
        "<div>\n<table class=\"strings\">\n<caption>In cents, hundredths of a semitone: + sharp, "
        "\u2212 flat, \u00b1 the standard error. Saddle moves are in mm and 64ths of an inch; "
        "back is away from the nut.</caption>\n<thead><tr><th scope=\"col\">String</th>"
        "<th scope=\"col\" class=\"n\">Before</th><th scope=\"col\" class=\"n\">After</th>"
        "<th scope=\"col\">Saddle moved</th></tr></thead>\n<tbody>\n");
    for (size_t i = 0; i < h->instrument.n_strings; i++)
        put_string(out, h, i);
    put(out, "</tbody>\n</table>\n");
    put_part(out, &h->remains, fit, SB_PART_REMAINS);
    put(out, "</div>\n</div>\n</section>\n");
}

/* --- the bench --------------------------------------------------------------------------- */

static void put_cell(FILE *out, const char *key, const char *text) {
    (void)fprintf(out, "<td data-k=\"%s\">", key);
    sb_text_markup(out, text);
    put(out, "</td>");
}

static void put_row(FILE *out, const sb_handover_row *r, bool printed) {
    put(out, printed ? "<tr>" : "<tr class=\"screen\">");
    element(out, "<th scope=\"row\"><bdi>", r->what, "</bdi></th>");
    put_cell(out, "Before", r->before);
    put_cell(out, "After", r->now);
    if (!r->heard) {
        put_cell(out, "Usual", r->usual);
        put_cell(out, "Remark", r->remark);
    }
    put(out, "</tr>\n");
}

static bool in_band(const sb_handover_row *r) {
    return !*r->remark || strcmp(r->remark, "in band") == 0;
}

/* What of the paper's room is left for a row's like once it is printed; false: it is not. */
static bool take_room(const sb_handover_row *r, const sb_page_fit *fit, double *room) {
    double lines = sb_page_row_lines(r, fit->columns);
    bool fits = lines <= *room;
    *room = fits ? *room - lines : 0;
    return fits;
}

/* Where the paper has not room for all, what is out of its band comes first. */
static void put_rows(FILE *out, const sb_handover *h, const sb_page_fit *fit, bool heard) {
    sb_page_part part = heard ? SB_PART_HEARD : SB_PART_ROWS;
    double room = fit->cut[part] ? fit->lines[part] - SB_PAGE_ROWS_HEAD : ENOUGH, rest = room;
    for (size_t i = 0; i < h->n_rows; i++)
        if (h->rows[i].heard == heard && !in_band(&h->rows[i]))
            (void)take_room(&h->rows[i], fit, &rest);
    for (size_t i = 0; i < h->n_rows; i++)
        if (h->rows[i].heard == heard)
            put_row(out, &h->rows[i],
                    take_room(&h->rows[i], fit, in_band(&h->rows[i]) ? &rest : &room));
    put(out, "</tbody>\n</table>\n</section>\n");
}

static bool any_rows(const sb_handover *h, bool heard) {
    for (size_t i = 0; i < h->n_rows; i++)
        if (h->rows[i].heard == heard)
            return true;
    return false;
}

#define COLUMN(name) "<th scope=\"col\">" name "</th>"

static void put_bench(FILE *out, const sb_handover *h, const sb_page_fit *fit, bool heard) {
    sb_page_part part = heard ? SB_PART_HEARD : SB_PART_ROWS;
    if (!any_rows(h, heard))
        return;
    open_section(out, part_titles[part], fit->lines[part] < SB_PAGE_ROWS_HEAD + 1);
    put(out, heard
                 ? "<table class=\"bench heard\">\n"
                 : "<table class=\"bench\">\n<caption>Usual values are common practice and no law; "
                   "a shop may have its own.</caption>\n");
    put(out, "<thead><tr>" COLUMN("What") COLUMN("Before") COLUMN("After"));
    put(out, heard ? "" : COLUMN("Usual") COLUMN("Remark"));
    put(out, "</tr></thead>\n<tbody>\n");
    put_rows(out, h, fit, heard);
}

/* Paper says what it leaves out. */
static void put_left_out(FILE *out, const sb_page_fit *fit) {
    bool any = false;
    for (int i = 0; i < SB_PARTS_OF_PAGE; i++) {
        if (fit->cut[i])
            (void)fprintf(
                out, "%s\u201c%s\u201d",
                any ? ", " : "<p class=\"print small\">In full in the file only: ", part_titles[i]);
        any = any || fit->cut[i];
    }
    if (any)
        put(out, ".</p>\n");
}

void sb_html_handover(FILE *out, const sb_handover *h) {
    sb_page_fit fit = sb_html_handover_fit(h);
    put_head(out, h, fit.density);
    put(out, "<main>\n");
    put_draft(out, h);
    put_facts(out, h);
    put(out, "<div class=\"pair\">\n");
    put_part(out, &h->found, &fit, SB_PART_FOUND);
    put_section(out, "Done", &h->done);
    put(out, "</div>\n");
    put_strings(out, h, &fit);
    put_bench(out, h, &fit, false);
    put_bench(out, h, &fit, true);
    put_part(out, &h->notes, &fit, SB_PART_NOTES);
    put(out, "<div class=\"pair\">\n");
    put_section(out, "What to expect", &h->expect);
    put_section(out, "Before you do anything yourself", &h->cautions);
    put(out, "</div>\n");
    put_left_out(out, &fit);
    put(out, "</main>\n</body>\n</html>\n");
}
