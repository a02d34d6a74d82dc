/* The chart: a row a string, cents along. What was read before is a hollow circle above, what was
 * read after a filled diamond below, each on a bar of its standard error; what may stay is a shaded
 * band between dashed lines. Shapes and fills tell them apart without colour. Classes are styled by
 * the page. */
#include <math.h>
#include <string.h>

#include "cli/handover.h"
#include "cli/text.h"

#define WIDTH  340.0
#define LEFT   46.0
#define RIGHT  328.0
#define TOP    30.0
#define BOTTOM 46.0  /* below the last row */
#define MOST   400.0 /* cents shown; what lies beyond stands at the edge */

typedef struct {
    FILE *out;
    const sb_handover *h;
    double half_cents, step_cents; /* of the axis, both ways from 0 */
    double row;                    /* height of one */
    double bottom;                 /* of the plot */
} chart;

/* --- scales ---------------------------------------------------------------------------- */

static double x_of(const chart *c, double cents) {
    double share = fmin(fmax(cents / c->half_cents, -1), 1);
    return (LEFT + RIGHT) / 2 + (RIGHT - LEFT) / 2 * share;
}

static double reach(sb_error_reading r) {
    return fmin(fabs(r.cents) + r.std_error, MOST);
}

static void set_axis(chart *c) {
    static const double steps[] = {0.5, 1, 2, 5, 10, 20, 50, 100};
    double most = 1.5 * c->h->tolerance_cents;
    for (size_t i = 0; i < c->h->instrument.n_strings; i++) {
        const sb_handover_string *s = &c->h->strings[i];
        most = fmax(most, s->before_known ? reach(s->before) : 0);
        most = fmax(most, s->after_known ? reach(s->after) : 0);
    }
    most = fmin(most, MOST);
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && most / steps[i] > 3.8)
        i++;
    c->step_cents = steps[i];
    c->half_cents = ceil(most / steps[i] + 0.1) * steps[i];
}

static double row_height(size_t n) {
    return n <= 8 ? 26 : n <= 12 ? 20 : 16;
}

/* --- words ----------------------------------------------------------------------------- */

static void describe_reading(FILE *out, sb_error_reading r) {
    char cents[24];
    sb_handover_signed(r.cents, cents, sizeof cents);
    (void)fprintf(out, "%s plus or minus %.1f", cents, sb_handover_error(r.std_error));
}

static void describe(const chart *c) {
    (void)fprintf(c->out,
                  "<title id=\"chart-title\">Each string at fret %d, before and after</title>\n"
                  "<desc id=\"chart-desc\">How sharp or flat each string plays, in cents, with its "
                  "standard error; up to %g cents either way may stay. ",
                  c->h->fret, c->h->tolerance_cents);
    for (size_t i = 0; i < c->h->instrument.n_strings; i++) {
        const sb_handover_string *s = &c->h->strings[i];
        (void)fprintf(c->out, "String %zu, %s: before ", i + 1, s->note);
        if (s->before_known)
            describe_reading(c->out, s->before);
        else
            (void)fputs("not measured", c->out);
        (void)fputs(", after ", c->out);
        if (!s->after_known)
            (void)fputs("not measured", c->out);
        else if (s->again)
            describe_reading(c->out, s->after);
        else
            (void)fputs("as before", c->out);
        (void)fputs(i + 1 < c->h->instrument.n_strings ? "; " : ".", c->out);
    }
    (void)fputs("</desc>\n", c->out);
}

static void text_at(const chart *c, double x, double y, const char *class, const char *text) {
    (void)fprintf(c->out, "<text x=\"%.1f\" y=\"%.1f\" class=\"%s\">", x, y, class);
    sb_text_markup(c->out, text);
    (void)fputs("</text>\n", c->out);
}

/* --- the ground ------------------------------------------------------------------------ */

static void draw_ground(const chart *c) {
    double low = x_of(c, -c->h->tolerance_cents), high = x_of(c, c->h->tolerance_cents);
    (void)fprintf(c->out,
                  "<rect class=\"band\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>\n"
                  "<path class=\"edge\" d=\"M%.1f %.1fV%.1fM%.1f %.1fV%.1f\"/>\n",
                  low, TOP, high - low, c->bottom - TOP, low, TOP, c->bottom, high, TOP, c->bottom);
    (void)fprintf(c->out, "<path class=\"axis\" d=\"M%.1f %.1fV%.1fM%.1f %.1fH%.1f\"/>\n",
                  x_of(c, 0), TOP, c->bottom, LEFT, c->bottom, RIGHT);
    int ticks = (int)lround(c->half_cents / c->step_cents);
    for (int i = -ticks; i <= ticks; i++) {
        char number[24];
        double x = x_of(c, i * c->step_cents);
        (void)snprintf(number, sizeof number, "%s%g",
                       i < 0   ? "\u2212"
                       : i > 0 ? "+"
                               : "",
                       fabs(i * c->step_cents));
        (void)fprintf(c->out, "<path class=\"axis\" d=\"M%.1f %.1fv4\"/>\n", x, c->bottom);
        text_at(c, x, c->bottom + 16, "mid", number);
    }
    text_at(c, LEFT, c->bottom + 34, "soft", "\u2190 flat");
    text_at(c, (LEFT + RIGHT) / 2, c->bottom + 34, "mid soft", "cents");
    text_at(c, RIGHT, c->bottom + 34, "end soft", "sharp \u2192");
}

/* --- marks ----------------------------------------------------------------------------- */

static void draw_bar(const chart *c, sb_error_reading r, double y) {
    double from = x_of(c, r.cents - r.std_error), to = x_of(c, r.cents + r.std_error);
    (void)fprintf(c->out, "<path class=\"bar\" d=\"M%.1f %.1fH%.1fM%.1f %.1fv6M%.1f %.1fv6\"/>\n",
                  from, y, to, from, y - 3, to, y - 3);
}

static void draw_before(const chart *c, double x, double y) {
    (void)fprintf(c->out, "<circle class=\"before\" cx=\"%.1f\" cy=\"%.1f\" r=\"3.7\"/>\n", x, y);
}

static void draw_after(const chart *c, double x, double y) {
    (void)fprintf(c->out, "<path class=\"after\" d=\"M%.1f %.1fl5 5l-5 5l-5 -5z\"/>\n", x, y - 5);
}

static void draw_string(const chart *c, size_t i) {
    const sb_handover_string *s = &c->h->strings[i];
    double y = TOP + c->row * ((double)i + 0.5), apart = c->row / 4;
    char label[32];
    (void)snprintf(label, sizeof label, "%zu  %s", i + 1, s->note);
    text_at(c, 4, y + 4, "name", label);
    bool both = s->before_known && s->after_known && s->again;
    if (s->before_known && (both || !s->after_known)) {
        draw_bar(c, s->before, both ? y - apart : y);
        draw_before(c, x_of(c, s->before.cents), both ? y - apart : y);
    }
    if (s->after_known) {
        draw_bar(c, s->after, both ? y + apart : y);
        draw_after(c, x_of(c, s->after.cents), both ? y + apart : y);
    }
    (void)fprintf(c->out, "<path class=\"row\" d=\"M4 %.1fH%.1f\"/>\n",
                  TOP + c->row * ((double)i + 1), RIGHT);
}

static void draw_key(const chart *c) {
    draw_before(c, LEFT + 6, 12);
    text_at(c, LEFT + 15, 16, "", "before");
    draw_after(c, LEFT + 72, 12);
    text_at(c, LEFT + 82, 16, "", "after");
    draw_bar(c, (sb_error_reading){0, 0.07 * c->half_cents}, 12);
    text_at(c, x_of(c, 0) + 15, 16, "", "error");
    (void)fprintf(c->out,
                  "<rect class=\"band\" x=\"%.1f\" y=\"5\" width=\"16\" height=\"14\"/>"
                  "<path class=\"edge\" d=\"M%.1f 5v14m16 0v-14\"/>\n",
                  RIGHT - 82, RIGHT - 82);
    text_at(c, RIGHT - 61, 16, "", "may stay");
}

void sb_html_handover_chart(FILE *out, const sb_handover *sheet) {
    chart c = {.out = out, .h = sheet, .row = row_height(sheet->instrument.n_strings)};
    c.bottom = TOP + c.row * (double)sheet->instrument.n_strings;
    set_axis(&c);
    (void)fprintf(out,
                  "<svg viewBox=\"0 0 %.0f %.0f\" role=\"img\" "
                  "aria-labelledby=\"chart-title chart-desc\">\n",
                  WIDTH, c.bottom + BOTTOM - 6);
    describe(&c);
    draw_ground(&c);
    for (size_t i = 0; i < sheet->instrument.n_strings; i++)
        draw_string(&c, i);
    draw_key(&c);
    (void)fputs("</svg>\n", out);
}
