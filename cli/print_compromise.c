/* One saddle under several strings. */
#include <math.h>

#include "cli/print.h"
#include "core/length.h"

static void print_place(const sb_page *page, double mm, const char *where) {
    char ruler[SB_LENGTH_TEXT_MAX], line[120];
    sb_length_format_64ths(fabs(mm), ruler, sizeof ruler);
    (void)snprintf(line, sizeof line, "set the saddle %.2f mm %s (%s)%s", fabs(mm),
                   mm < 0 ? "FORWARD" : "BACK", ruler, where);
    sb_print_bold(page, line);
    (void)fputc('\n', page->out);
}

static void print_row(const sb_page *page, size_t string, double needed_mm, double place_mm,
                      double remaining_cents) {
    char needed[32], place[32], remaining[32];
    sb_format_signed(needed_mm, 2, needed, sizeof needed);
    sb_format_signed(place_mm, 2, place, sizeof place);
    sb_format_signed(remaining_cents, 2, remaining, sizeof remaining);
    (void)fprintf(page->out, "%6zu  %9s  %9s  %13s\n", string, needed, place, remaining);
}

void sb_print_compromise(const sb_page *page, const sb_compromise *c, bool slant,
                         const double needed_mm[], const double place_mm[], size_t n) {
    char where[40];
    (void)snprintf(where, sizeof where, " at string %zu", n);
    print_place(page, place_mm[0], slant ? " at string 1" : "");
    if (slant)
        print_place(page, place_mm[n - 1], where);
    if (c->at_limit)
        (void)fputs("its travel ends here: action, another gauge or another saddle may help\n",
                    page->out);
    (void)fputs("\nstring  needed mm  gets mm    remains, cents\n", page->out);
    for (size_t i = 0; i < n; i++)
        print_row(page, i + 1, needed_mm[i], place_mm[i], c->remaining_cents[i]);
    (void)fprintf(page->out, "\nlargest %.2f cents, root mean square %.2f; positive = sharp\n\n",
                  c->worst_cents, c->rms_cents);
    (void)fputs(SB_CAUTION "\n", page->out);
}
