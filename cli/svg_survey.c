/* A survey as a drawing: the neck along, cents up. Black and greys only, every line and mark
 * told apart by shape as well, so that it prints and copies. */
#include <math.h>
#include <string.h>

#include "cli/print_survey.h"
#include "cli/text.h"

#define WIDTH    960.0
#define LEFT     86.0 /* of the plot within the page */
#define RIGHT    924.0
#define HEADING  64.0 /* above the panels, where there is a title */
#define PANEL    430.0
#define TOP      74.0 /* of the plot within its panel */
#define BOTTOM   324.0
#define POINTS   160 /* of a curve */
#define TEXT_MAX 400

typedef struct {
    FILE *out;
    const sb_surveyed *s;
    double y0;                    /* of the panel */
    double low_cents, high_cents; /* of the axis */
    double step_cents;
    double last_mm; /* from the nut, at the right end */
} panel;

/* --- text ------------------------------------------------------------------------------- */

static void escaped(FILE *out, const char *text) {
    char clean[TEXT_MAX];
    sb_text_clean(text, clean, sizeof clean);
    sb_text_markup(out, clean);
}

static void text_at(FILE *out, double x, double y, const char *style, const char *text) {
    (void)fprintf(out, "<text x=\"%.1f\" y=\"%.1f\" %s>", x, y, style);
    escaped(out, text);
    (void)fputs("</text>\n", out);
}

/* --- scales ------------------------------------------------------------------------------ */

static double fret_mm(const panel *p, double cents) {
    double scale_mm = p->s->options.neck.scale_mm;
    return scale_mm - scale_mm / sb_ratio_from_cents(cents);
}

static double x_of(const panel *p, double cents) {
    return LEFT + (RIGHT - LEFT) * fret_mm(p, cents) / p->last_mm;
}

static double y_of(const panel *p, double cents) {
    double share = (cents - p->low_cents) / (p->high_cents - p->low_cents);
    return p->y0 + BOTTOM - (BOTTOM - TOP) * fmin(fmax(share, 0), 1);
}

static void include(panel *p, double cents) {
    p->low_cents = fmin(p->low_cents, cents);
    p->high_cents = fmax(p->high_cents, cents);
}

/* All that is drawn, to whole steps, five to ten of them. */
static void set_axis(panel *p) {
    static const double steps[] = {0.5, 1, 2, 5, 10, 20};
    double tolerance = p->s->options.tolerance_cents;
    p->low_cents = -1.3 * tolerance;
    p->high_cents = 1.3 * tolerance;
    for (size_t i = 0; i < p->s->n; i++) {
        const sb_survey_reading *r = &p->s->readings[i];
        include(p, r->error_cents - p->s->survey.used_std_error_cents[i]);
        include(p, r->error_cents + p->s->survey.used_std_error_cents[i]);
        include(p, p->s->survey.fitted_cents[i]);
        include(p, sb_surveyed_after(p->s, i));
    }
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && (p->high_cents - p->low_cents) / steps[i] > 9)
        i++;
    p->step_cents = steps[i];
    p->low_cents = floor(p->low_cents / steps[i]) * steps[i];
    p->high_cents = ceil(p->high_cents / steps[i]) * steps[i];
}

/* --- the ground --------------------------------------------------------------------------- */

static void draw_grey(FILE *out, double x, double y, double width, double height) {
    (void)fprintf(out,
                  "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"#e4e4e4\"/>\n",
                  x, y, width, height);
}

static void draw_tolerance(const panel *p) {
    double tolerance = p->s->options.tolerance_cents, top = y_of(p, tolerance);
    draw_grey(p->out, LEFT, top, RIGHT - LEFT, y_of(p, -tolerance) - top);
}

static void draw_cents(const panel *p) {
    char text[32];
    int ticks = (int)lround((p->high_cents - p->low_cents) / p->step_cents);
    for (int i = 0; i <= ticks; i++) {
        double cents = p->low_cents + i * p->step_cents, y = y_of(p, cents);
        bool zero = fabs(cents) < p->step_cents / 2;
        (void)fprintf(p->out, "<path d=\"M%.1f %.1fH%.1f\" stroke=\"#000\" stroke-width=\"%s\"/>\n",
                      zero ? LEFT : LEFT - 6, y, zero ? RIGHT : LEFT, zero ? "1.2" : "1");
        (void)snprintf(text, sizeof text, "%s%.*f", cents < 0 ? "\u2212" : "+",
                       p->step_cents < 1 ? 1 : 0, fabs(cents));
        text_at(p->out, LEFT - 10, y + 4, "text-anchor=\"end\" font-size=\"13\"",
                zero ? "0" : text);
    }
    (void)fprintf(p->out,
                  "<text transform=\"translate(26 %.1f) rotate(-90)\" text-anchor=\"middle\" "
                  "font-size=\"13\">error in cents (up: sharp)</text>\n",
                  p->y0 + (TOP + BOTTOM) / 2);
}

static bool was_read(const sb_surveyed *s, int fret) {
    for (size_t i = 0; i < s->n; i++)
        if (s->readings[i].fret == fret)
            return true;
    return false;
}

static void draw_frets(const panel *p) {
    int last = p->s->readings[p->s->n - 1].fret;
    char number[16];
    for (int f = 0; f <= last; f++) {
        double x = x_of(p, p->s->plan->cents[f]);
        bool read = f > 0 && was_read(p->s, f);
        (void)fprintf(p->out, "<path d=\"M%.1f %.1fV%.1f\" stroke=\"%s\" stroke-width=\"%s\"/>\n",
                      x, p->y0 + TOP, p->y0 + BOTTOM, f == 0 ? "#000" : "#bbb", f == 0 ? "3" : "1");
        (void)snprintf(number, sizeof number, "%d", f);
        text_at(p->out, x, p->y0 + BOTTOM + 18,
                read ? "text-anchor=\"middle\" font-size=\"13\" font-weight=\"bold\""
                     : "text-anchor=\"middle\" font-size=\"12\" fill=\"#777\"",
                f == 0 ? "nut" : number);
    }
    text_at(p->out, (LEFT + RIGHT) / 2, p->y0 + BOTTOM + 38,
            "text-anchor=\"middle\" font-size=\"13\"", "fret, where it stands along the neck");
}

/* --- the readings ------------------------------------------------------------------------ */

/* The fitted error at any place of the neck, and what is proposed done to it. */
static double fitted_at(const panel *p, double cents, bool after) {
    const sb_survey *v = &p->s->survey;
    sb_faults faults = {v->excess_mm[SB_PART_SADDLE], v->excess_mm[SB_PART_NUT],
                        v->excess_mm[SB_PART_SLOT], v->kappa.kappa};
    if (after && sb_surveyed_beyond_saddle(p->s))
        return 0;
    double error = sb_faults_error_cents(&p->s->options.neck, &faults, cents);
    return after ? error +
                       sb_faults_move_cents(&p->s->options.neck, &faults, cents, v->saddle_only_mm)
                 : error;
}

static void draw_curve(const panel *p, bool after) {
    double first = p->s->plan->cents[1], last = p->s->readings[p->s->n - 1].fret_cents;
    (void)fputs("<path d=\"", p->out);
    for (int i = 0; i <= POINTS; i++) {
        double cents = first + (last - first) * i / POINTS;
        (void)fprintf(p->out, "%c%.1f %.1f", i == 0 ? 'M' : 'L', x_of(p, cents),
                      y_of(p, fitted_at(p, cents, after)));
    }
    (void)fprintf(p->out, "\" fill=\"none\" stroke=\"#000\" stroke-width=\"%s\"/>\n",
                  after ? "1.4\" stroke-dasharray=\"7 5" : "1.8");
}

static void draw_bar(const panel *p, size_t i, double x) {
    double cents = p->s->readings[i].error_cents, error = p->s->survey.used_std_error_cents[i];
    double high = y_of(p, cents + error), low = y_of(p, cents - error);
    (void)fprintf(p->out,
                  "<path d=\"M%.1f %.1fV%.1fM%.1f %.1fh10M%.1f %.1fh10\" stroke=\"#000\" "
                  "stroke-width=\"1.4\"/>\n",
                  x, high, low, x - 5, high, x - 5, low);
}

static void draw_disc(FILE *out, double x, double y, bool filled) {
    (void)fprintf(out,
                  "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%s\" fill=\"%s\" stroke=\"#000\" "
                  "stroke-width=\"1.4\"/>\n",
                  x, y, filled ? "4.5" : "4", filled ? "#000" : "#fff");
}

static void draw_readings(const panel *p) {
    char text[64];
    for (size_t i = 0; i < p->s->n; i++) {
        const sb_survey_reading *r = &p->s->readings[i];
        double x = x_of(p, r->fret_cents), y = y_of(p, r->error_cents);
        if (r->fret == 0)
            continue;
        draw_disc(p->out, x, y_of(p, sb_surveyed_after(p->s, i)), false);
        draw_bar(p, i, x);
        draw_disc(p->out, x, y, true);
        if (!p->s->survey.bad[i])
            continue;
        (void)fprintf(p->out,
                      "<rect x=\"%.1f\" y=\"%.1f\" width=\"22\" height=\"22\" fill=\"none\" "
                      "stroke=\"#000\" stroke-width=\"1.6\"/>\n",
                      x - 11, y - 11);
        (void)snprintf(text, sizeof text, "fret %d stands out", r->fret);
        text_at(p->out, fmin(fmax(x, LEFT + 60), RIGHT - 60),
                y > p->y0 + TOP + 36 ? y - 18 : y + 28,
                "text-anchor=\"middle\" font-size=\"13\" font-weight=\"bold\" "
                "paint-order=\"stroke\" stroke=\"#fff\" stroke-width=\"4\"",
                text);
    }
}

/* --- words ------------------------------------------------------------------------------- */

static const char *way(double move_mm) {
    return move_mm < 0 ? "forward" : "back";
}

static void proposal(const sb_surveyed *s, char *text, size_t size) {
    const sb_survey *v = &s->survey;
    double saddle = sb_surveyed_move_mm(s, SB_PART_SADDLE);
    if (!sb_surveyed_beyond_saddle(s)) {
        (void)snprintf(text, size, "after moving the saddle alone %.2f mm %s",
                       fabs(v->saddle_only_mm), way(v->saddle_only_mm));
        return;
    }
    (void)snprintf(text, size, "after: saddle %.2f mm %s", fabs(saddle), way(saddle));
    size_t used = strlen(text);
    if (v->fitted[SB_PART_NUT])
        (void)snprintf(text + used, size - used, ", nut %.2f mm %s",
                       fabs(v->excess_mm[SB_PART_NUT]), way(sb_surveyed_move_mm(s, SB_PART_NUT)));
    used = strlen(text);
    if (v->fitted[SB_PART_SLOT])
        (void)snprintf(text + used, size - used, ", slot %.2f mm %s",
                       fabs(v->excess_mm[SB_PART_SLOT]),
                       v->excess_mm[SB_PART_SLOT] > 0 ? "lower" : "higher");
}

static void draw_marks(const panel *p, double y) {
    double x = LEFT;
    (void)fprintf(p->out,
                  "<path d=\"M%.1f %.1fv20m-4 0h8m-8 -20h8\" stroke=\"#000\" "
                  "stroke-width=\"1.4\"/>\n",
                  x + 12, y - 14);
    draw_disc(p->out, x + 12, y - 4, true);
    text_at(p->out, x + 28, y, "font-size=\"13\"", "measured, with its standard error");
    (void)fprintf(p->out, "<path d=\"M%.1f %.1fh34\" stroke=\"#000\" stroke-width=\"1.8\"/>\n",
                  x + 262, y - 4);
    text_at(p->out, x + 304, y, "font-size=\"13\"", "fitted");
    (void)fprintf(p->out,
                  "<path d=\"M%.1f %.1fh34\" stroke=\"#000\" stroke-width=\"1.4\" "
                  "stroke-dasharray=\"7 5\"/>\n",
                  x + 366, y - 4);
    draw_disc(p->out, x + 383, y - 4, false);
}

static void draw_legend(const panel *p) {
    char text[160];
    const sb_survey *v = &p->s->survey;
    double y = p->y0 + BOTTOM + 64, tolerance = p->s->options.tolerance_cents;
    draw_marks(p, y);
    proposal(p->s, text, sizeof text);
    text_at(p->out, LEFT + 408, y, "font-size=\"13\"", text);
    draw_grey(p->out, LEFT, y + 13, 24, 14);
    (void)snprintf(text, sizeof text, "within %g cent%s: left as it is", tolerance,
                   tolerance == 1 ? "" : "s");
    text_at(p->out, LEFT + 28, y + 25, "font-size=\"13\"", text);
    (void)snprintf(
        text, sizeof text,
        "If the nut stays as it is: saddle %.2f \u00b1 %.2f mm %s; %.1f cents RMS remain.",
        fabs(v->saddle_only_mm), v->saddle_only_std_error_mm, way(v->saddle_only_mm),
        v->saddle_only_rms_cents);
    text_at(p->out, LEFT + 262, y + 25, "font-size=\"13\"", text);
}

static void draw_panel(FILE *out, const sb_surveyed *s, double y0) {
    panel p = {.out = out, .s = s, .y0 = y0};
    char line[240], named[320], about[200];
    p.last_mm = 1.03 * fret_mm(&p, s->readings[s->n - 1].fret_cents);
    set_axis(&p);
    sb_surveyed_headline(s, line, sizeof line);
    (void)snprintf(named, sizeof named, "%s%s%s", s->name, s->name[0] ? ": " : "", line);
    text_at(out, LEFT, y0 + 28, "font-size=\"18\" font-weight=\"bold\"", named);
    (void)snprintf(about, sizeof about,
                   "Scale %.2f mm. Each fret's note against the open string, %s, in cents: "
                   "hundredths of a semitone.",
                   s->options.neck.scale_mm,
                   s->plan->has_scl ? "in the temperament given" : "by equal temperament");
    text_at(out, LEFT, y0 + 50, "font-size=\"13\"", about);
    draw_tolerance(&p);
    draw_frets(&p);
    draw_cents(&p);
    draw_curve(&p, false);
    draw_curve(&p, true);
    draw_readings(&p);
    draw_legend(&p);
}

void sb_svg_survey(FILE *out, const char *title, const sb_surveyed strings[], size_t n) {
    double top = title ? HEADING : 0, height = top + PANEL * (double)n;
    (void)fprintf(out,
                  "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" "
                  "viewBox=\"0 0 %.0f %.0f\" font-family=\"Helvetica, Arial, sans-serif\">\n"
                  "<title>Survey of a neck</title>\n"
                  "<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n",
                  WIDTH, height, WIDTH, height);
    if (title)
        text_at(out, LEFT, 44, "font-size=\"24\" font-weight=\"bold\"", title);
    for (size_t i = 0; i < n; i++)
        draw_panel(out, &strings[i], top + PANEL * (double)i);
    (void)fputs("</svg>\n", out);
}
