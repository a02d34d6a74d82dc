#include "cli/print_survey.h"

#include <math.h>
#include <string.h>

#include "cli/term.h"
#include "cli/text.h"

#define ADVICE_MAX 1200

/* --- figures ---------------------------------------------------------------------------- */

static void print_place(const sb_page *page, const sb_surveyed *s, int part, const char *names[2]) {
    const sb_survey *v = &s->survey;
    double move = sb_surveyed_move_mm(s, part);
    sb_print_label(page, sb_survey_part_text(part));
    if (v->fitted[part] && fabs(move) < fmax(v->std_error_mm[part], 0.005))
        (void)fprintf(page->out, "right where it is, ± %.2f mm\n", v->std_error_mm[part]);
    else if (v->fitted[part])
        (void)fprintf(page->out, "belongs %.2f ± %.2f mm %s\n", fabs(move), v->std_error_mm[part],
                      names[move < 0]);
    else if (isfinite(v->std_error_mm[part]))
        (void)fprintf(page->out, "taken as right; these readings would tell it to ± %.2f mm\n",
                      v->std_error_mm[part]);
    else
        (void)fputs("taken as right; these readings do not tell\n", page->out);
}

static void print_slot(const sb_page *page, const sb_surveyed *s) {
    static const char *names[2] = {"", ""};
    const sb_survey *v = &s->survey;
    if (!v->fitted[SB_PART_SLOT]) {
        print_place(page, s, SB_PART_SLOT, names);
        return;
    }
    double excess = v->excess_mm[SB_PART_SLOT];
    sb_print_label(page, "slot");
    (void)fprintf(page->out, "%.2f ± %.2f mm too %s\n", fabs(excess), v->std_error_mm[SB_PART_SLOT],
                  excess < 0 ? "low" : "high");
}

static void print_correlations(const sb_page *page, const sb_survey *v) {
    bool first = true;
    for (int p = 0; p < SB_PARTS; p++)
        for (int q = p + 1; q < SB_PARTS; q++) {
            if (!v->fitted[p] || !v->fitted[q])
                continue;
            if (first)
                sb_print_label(page, "correlation");
            (void)fprintf(page->out, "%s%s and %s %+.2f", first ? "" : ", ", sb_survey_part_text(p),
                          sb_survey_part_text(q), v->correlation[p][q]);
            first = false;
        }
    (void)fputs(first ? "" : "\n", page->out);
}

static void print_saddle_only(const sb_page *page, const sb_surveyed *s) {
    const sb_survey *v = &s->survey;
    double worst = 0;
    int at = 0;
    for (size_t i = 0; i < s->n; i++)
        if (!v->bad[i] && s->readings[i].fret > 0 && fabs(v->saddle_only_cents[i]) >= worst) {
            worst = fabs(v->saddle_only_cents[i]);
            at = s->readings[i].fret;
        }
    sb_print_label(page, "saddle alone");
    (void)fprintf(page->out, "%.2f ± %.2f mm %s; leaves %.1f cents RMS, %.1f at fret %d\n",
                  fabs(v->saddle_only_mm), v->saddle_only_std_error_mm,
                  v->saddle_only_mm < 0 ? "forward" : "back", v->saddle_only_rms_cents, worst, at);
}

static void print_fit(const sb_page *page, const sb_survey *v) {
    sb_print_label(page, "fit");
    if (v->dof == 0) {
        (void)fputs("exact, as so few readings always are\n", page->out);
        return;
    }
    if (v->errors_known)
        (void)fprintf(page->out, "chi-squared %.1f for %d: %s\n", v->chi2, v->dof,
                      v->adequate ? "as the readings' errors let expect"
                                  : "more than the readings' errors explain");
    if (v->errors_known)
        sb_print_label(page, "scatter");
    (void)fprintf(page->out, "%.2f cents about the fit%s\n", v->scatter_cents,
                  v->errors_known && v->adequate ? "" : ", from which the errors were taken");
}

static void print_sound(const sb_page *page, const sb_surveyed *s) {
    char note[SB_NOTE_TEXT_MAX];
    size_t plucks = 0;
    if (!(s->open_hz > 0))
        return;
    for (size_t i = 0; i < s->n; i++)
        plucks += s->plucks[i];
    sb_format_note(s->open_hz, s->plan->a4_hz, note, sizeof note);
    sb_print_label(page, "sound");
    (void)fprintf(page->out, "open %.2f Hz (%s); %zu plucks, %zu left out\n", s->open_hz, note,
                  plucks, s->left_out);
}

static void print_kappa(const sb_page *page, const sb_surveyed *s) {
    if (!s->survey.fitted[SB_PART_SLOT])
        return;
    sb_print_label(page, "string");
    (void)fprintf(page->out, "stiffness over tension (EA/T) %.0f, within a factor %.2f%s\n",
                  s->survey.kappa.kappa, s->survey.kappa.factor,
                  s->kappa_told ? "" : "; a usual string was taken");
}

static void print_figures(const sb_page *page, const sb_surveyed *s) {
    static const char *saddle[2] = {"back, away from the nut", "forward, towards the nut"};
    static const char *nut[2] = {"back, away from the frets", "forward, towards the frets"};
    print_place(page, s, SB_PART_SADDLE, saddle);
    print_place(page, s, SB_PART_NUT, nut);
    print_slot(page, s);
    print_correlations(page, &s->survey);
    print_kappa(page, s);
    print_saddle_only(page, s);
    print_fit(page, &s->survey);
    print_sound(page, s);
}

void sb_print_survey(const sb_page *page, const sb_surveyed *s) {
    char line[240], named[320], advice[ADVICE_MAX];
    sb_surveyed_headline(s, line, sizeof line);
    (void)snprintf(named, sizeof named, "%s%s%s", s->name, s->name[0] ? ": " : "", line);
    sb_print_bold(page, named);
    (void)fputs("\n\n", page->out);
    print_figures(page, s);
    (void)fputc('\n', page->out);
    sb_print_neck(page, s);
    sb_surveyed_advice(s, advice, sizeof advice);
    if (advice[0]) {
        (void)fputc('\n', page->out);
        sb_print_paragraph(page, advice);
    }
    if (s->survey.verdict != SB_SURVEY_UNDECIDED &&
        (s->survey.fault[SB_PART_SADDLE] || sb_surveyed_beyond_saddle(s))) {
        (void)fputc('\n', page->out);
        sb_print_paragraph(page, SB_CAUTION);
    }
}

/* --- the neck in characters ------------------------------------------------------------- */

#define CELLS 47 /* odd, so that zero has one */

typedef struct {
    const char *axis, *bar, *measured, *fitted, *after, *pm;
} glyphs;

static const glyphs fine = {"│", "─", "●", "×", "○", "±"};
static const glyphs plain = {"|", "-", "o", "x", "+", "+-"};

/* The largest figure to be shown, rounded up to one that reads well. */
static double reach(const sb_surveyed *s) {
    static const double good[] = {2, 5, 10, 20, 50};
    double most = 0;
    for (size_t i = 0; i < s->n; i++) {
        most = fmax(most, fabs(s->readings[i].error_cents) + s->survey.used_std_error_cents[i]);
        most = fmax(most, fabs(sb_surveyed_after(s, i)));
    }
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        if (most <= good[i])
            return good[i];
    return 100;
}

static int cell(double cents, double most) {
    double at = round((cents / most + 1) / 2 * (CELLS - 1));
    return (int)fmin(fmax(at, 0), CELLS - 1);
}

static void print_cells(FILE *out, const sb_surveyed *s, size_t i, double most, const glyphs *g) {
    const char *cells[CELLS];
    double error = s->readings[i].error_cents, around = s->survey.used_std_error_cents[i];
    for (int c = 0; c < CELLS; c++)
        cells[c] = " ";
    cells[CELLS / 2] = g->axis;
    for (int c = cell(error - around, most); c <= cell(error + around, most); c++)
        cells[c] = g->bar;
    cells[cell(sb_surveyed_after(s, i), most)] = g->after;
    cells[cell(s->survey.fitted_cents[i], most)] = g->fitted;
    cells[cell(error, most)] = g->measured;
    int last = CELLS - 1;
    while (last > 0 && cells[last][0] == ' ')
        last--;
    for (int c = 0; c <= last; c++)
        (void)fputs(cells[c], out);
}

static void print_row(const sb_page *page, const sb_surveyed *s, size_t i, double most,
                      const glyphs *g) {
    char number[32];
    const sb_survey_reading *r = &s->readings[i];
    sb_format_signed(r->error_cents, 2, number, sizeof number);
    (void)fprintf(page->out, "    %4d  %6s ", r->fret, number);
    (void)fprintf(page->out, "%s %-5.2f", g->pm, s->survey.used_std_error_cents[i]);
    (void)fputs("  ", page->out);
    print_cells(page->out, s, i, most, g);
    (void)fputs(s->survey.bad[i] ? "  stands out\n" : "\n", page->out);
}

void sb_print_neck(const sb_page *page, const sb_surveyed *s) {
    const glyphs *g = sb_term_utf8() ? &fine : &plain;
    double most = reach(s);
    char low[16], high[16];
    (void)snprintf(low, sizeof low, "%+g", -most);
    (void)snprintf(high, sizeof high, "%+g", most);
    (void)fprintf(page->out, "    fret  cents %*s%-*s0%*s\n", (int)sb_text_width(g->pm) + 9, "",
                  CELLS / 2, low, CELLS / 2, high);
    for (size_t i = 0; i < s->n; i++)
        if (s->readings[i].fret > 0)
            print_row(page, s, i, most, g);
    (void)fprintf(page->out, "\n    %s measured  %s fitted  %s after %s\n", g->measured, g->fitted,
                  g->after,
                  sb_surveyed_beyond_saddle(s) ? "all that was found is put right"
                                               : "the saddle's best move alone");
}
