/* One page, whatever the log holds: an estimate of the lines that each part fills in print, on the
 * narrower of the two papers (A4, 186 mm) and the shorter (Letter, 255 mm), in a wide typeface.
 * tests/cli/handover-page.sh prints extremes and counts pages. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/html_handover.h"

#define HALF  0.45
#define SPARE 1.02 /* of the page, as estimated; what stands below errs on the side of more */

/* By the style sheet's sizes: 964 px of height over the line's, 703 px of width over 0.52 of
 * the type's, what a wide typeface takes to a character. */
typedef struct {
    const char *name;
    double columns, lines, line_px, chart, row; /* row: of the strings' table, in lines */
} density;

static const density densities[] = {{"", 102, 52.4, 18.4, 1, 1.95},
                                    {"snug", 112, 57.5, 16.75, 0.94, 1.95},
                                    {"close", 125, 63.8, 15.1, 0.88, 1.25},
                                    {"tight", 134, 71.5, 13.5, 0.81, 1.25},
                                    {"dense", 144, 79, 12.2, 0.74, 1.25}};

/* --- text ------------------------------------------------------------------------------- */

static double character_width(unsigned char c) {
    if (c >= 0x80)
        return c < 0xc0 ? 0 : c < 0xe0 ? 1.2 : 2;
    return strchr("W@%", c) ? 2 : strchr("Mmw", c) ? 1.7 : c >= 'A' && c <= 'Z' ? 1.3 : 1;
}

static double text_width(const char *text) {
    double width = 0;
    for (const char *c = text; *c; c++)
        width += character_width((unsigned char)*c);
    return width;
}

double sb_page_lines(const char *text, double columns) {
    return fmax(1, ceil(1.04 * text_width(text) / columns)); /* lines seldom fill */
}

double sb_page_columns(const sb_page_fit *fit, sb_page_part part) {
    return fit->columns * (part == SB_PART_FOUND || part == SB_PART_REMAINS ? HALF : 0.97);
}

/* A browser shares the width out by what the cells hold. */
double sb_page_row_lines(const sb_handover_row *row, double columns) {
    double width = 8, longest = 0;
    const char *const cells[] = {row->what, row->before, row->now, row->usual, row->remark};
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        width += text_width(cells[i]);
        longest = fmax(longest, text_width(cells[i]));
    }
    return 0.25 + ceil(fmax(width / (0.9 * columns), longest / (0.55 * columns)));
}

static double list_lines(const sb_sayings *list, double columns) {
    double lines = 0;
    for (size_t i = 0; i < list->n; i++)
        lines += 0.1 + sb_page_lines(list->item[i], columns);
    return lines;
}

/* --- parts ------------------------------------------------------------------------------ */

static double row_lines(const sb_handover *h, bool heard, double columns) {
    double lines = 0;
    for (size_t i = 0; i < h->n_rows; i++)
        if (h->rows[i].heard == heard)
            lines += sb_page_row_lines(&h->rows[i], columns);
    return lines;
}

/* What each part needs, and what stands in any case. */
static double needs(const sb_handover *h, const density *d, double need[SB_PARTS_OF_PAGE]) {
    double full = 0.97 * d->columns, half = HALF * d->columns, n = (double)h->instrument.n_strings;
    double chart_px = 70 + n * (n <= 8 ? 26 : n <= 12 ? 20 : 16);
    double fixed = 3.6 + 1.7 * sb_page_lines(h->name, 0.75 * d->columns) +
                   sb_page_lines(h->owner, 0.8 * d->columns) + ceil(n * 11 / (0.8 * d->columns)) +
                   1.2 * sb_page_lines(h->result, 0.8 * d->columns);
    double chart = 1.5 + d->chart * chart_px / d->line_px, table = 4.3 + d->row * n;
    fixed += SB_PAGE_HEADING + fmax(chart, table);
    fixed += SB_PAGE_HEADING + fmax(list_lines(&h->expect, half), list_lines(&h->cautions, half));
    fixed += h->draft ? 2.5 + list_lines(&h->wanting, full) : 0;
    fixed += SB_PAGE_HEADING; /* of found and done */
    need[SB_PART_FOUND] = fmax(list_lines(&h->found, half), list_lines(&h->done, half));
    /* Under the table, beside what the chart may be longer. */
    need[SB_PART_REMAINS] =
        h->remains.n > 0
            ? fmax(0, SB_PAGE_HEADING + list_lines(&h->remains, half) - fmax(0, chart - table))
            : 0;
    need[SB_PART_ROWS] = row_lines(h, false, d->columns);
    need[SB_PART_HEARD] = row_lines(h, true, d->columns);
    need[SB_PART_NOTES] = list_lines(&h->notes, full);
    need[SB_PART_ROWS] += need[SB_PART_ROWS] > 0 ? SB_PAGE_ROWS_HEAD : 0;
    need[SB_PART_HEARD] += need[SB_PART_HEARD] > 0 ? SB_PAGE_ROWS_HEAD : 0;
    need[SB_PART_NOTES] += h->notes.n > 0 ? SB_PAGE_HEADING : 0;
    return fixed;
}

static double sum(const double lines[SB_PARTS_OF_PAGE]) {
    double all = 0;
    for (int i = 0; i < SB_PARTS_OF_PAGE; i++)
        all += lines[i];
    return all;
}

/* Takes from the longest part until all fit, so that none loses before a longer one has. */
static void cut_down(sb_page_fit *fit, double room, const double least[SB_PARTS_OF_PAGE]) {
    for (;;) {
        int longest = -1;
        for (int i = 0; i < SB_PARTS_OF_PAGE; i++)
            if (fit->lines[i] > least[i] && (longest < 0 || fit->lines[i] > fit->lines[longest]))
                longest = i;
        if (longest < 0 || sum(fit->lines) <= room)
            return;
        fit->cut[longest] = true;
        fit->lines[longest] = fmax(least[longest], fit->lines[longest] - 1);
    }
}

sb_page_fit sb_html_handover_fit(const sb_handover *sheet) {
    sb_page_fit fit = {.density = ""};
    double room = 0;
    for (size_t i = 0; i < sizeof densities / sizeof *densities; i++) {
        fit.density = densities[i].name;
        fit.columns = densities[i].columns;
        room = SPARE * densities[i].lines - needs(sheet, &densities[i], fit.lines);
        if (sum(fit.lines) <= room)
            return fit;
    }
    /* What was done stands beside what was found, and takes its room anyway. */
    const double least[SB_PARTS_OF_PAGE] = {
        [SB_PART_FOUND] =
            fmin(fit.lines[SB_PART_FOUND], list_lines(&sheet->done, HALF * fit.columns))};
    cut_down(&fit, room - 1.5, least); /* it says so in a line */
    return fit;
}
