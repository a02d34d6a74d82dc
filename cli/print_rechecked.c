/* A recheck for people. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "cli/rechecked.h"
#include "cli/text.h"
#include "core/pitch.h"

#define NAME_COLUMNS  10
#define ERROR_COLUMNS 18
#define CHANGE_COLUMN 30

static void name_of(const sb_rechecked *r, size_t i, char *text, size_t size) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(r->d.instrument.strings[i].semitone, note, sizeof note);
    (void)snprintf(text, size, "%3zu  %s", i + 1, note);
}

/* Without the unit, which heads the column. */
static void format_error(double cents, double std_error, char *text, size_t size) {
    sb_format_error(cents, std_error, text, size);
    char *unit = strstr(text, " cents");
    if (unit)
        *unit = '\0';
}

static void print_error(FILE *out, sb_error_reading reading, size_t width) {
    char text[64] = "-";
    if (reading.std_error > 0)
        format_error(reading.cents, reading.std_error, text, sizeof text);
    sb_text_pad(out, text, width);
}

static void change_of(const sb_rechecked_string *s, char *text, size_t size) {
    const sb_recheck *c = &s->result;
    bool by = c->verdict == SB_RECHECK_BETTER || c->verdict == SB_RECHECK_WORSE;
    char change[64];
    format_error(by ? c->by_cents : c->change_cents, c->std_error_cents, change, sizeof change);
    if (by)
        (void)snprintf(text, size, "%s by %s", sb_recheck_text(c->verdict),
                       change + (change[0] == '+'));
    else if (c->verdict == SB_RECHECK_SAME || c->verdict == SB_RECHECK_CANNOT_TELL)
        (void)snprintf(text, size, "%s (%s)", sb_recheck_text(c->verdict), change);
    else
        (void)snprintf(text, size, "%s", sb_recheck_text(c->verdict));
}

static const char *standing(const sb_rechecked_string *s) {
    if (s->result.inside == SB_INSIDE_UNKNOWN)
        return s->result.verdict == SB_RECHECK_NOT_HEARD ? "" : "not sure: pluck more";
    return s->result.inside == SB_INSIDE ? (s->compromise ? "inside (compromise)" : "inside")
                                         : "OUTSIDE";
}

static void print_row(const sb_page *page, const sb_rechecked *r, size_t i) {
    const sb_rechecked_string *s = &r->strings[i];
    char name[32], change[96];
    name_of(r, i, name, sizeof name);
    sb_text_pad(page->out, name, NAME_COLUMNS);
    print_error(page->out, s->now, ERROR_COLUMNS);
    print_error(page->out, s->was, ERROR_COLUMNS);
    change_of(s, change, sizeof change);
    if (*standing(s))
        sb_text_pad(page->out, change, CHANGE_COLUMN);
    else
        (void)fputs(change, page->out);
    if (s->result.inside == SB_OUTSIDE)
        sb_print_bold(page, standing(s));
    else
        (void)fputs(standing(s), page->out);
    (void)fputc('\n', page->out);
}

/* What was changed since; once where it was the same for all. */
static void print_changes(const sb_page *page, const sb_rechecked *r) {
    const char *first = r->strings[0].since;
    size_t n = r->d.instrument.n_strings, alike = 0;
    for (size_t i = 0; i < n && first; i++)
        alike += r->strings[i].since && strcmp(r->strings[i].since, first) == 0;
    if (alike == n) {
        (void)fprintf(page->out, "changed since that was kept: %s\n", first);
        return;
    }
    for (size_t i = 0; i < n; i++)
        if (r->strings[i].since)
            (void)fprintf(page->out, "string %zu: changed since that was kept: %s\n", i + 1,
                          r->strings[i].since);
}

/* --- suspects ----------------------------------------------------------------------------- */

static void sign_text(const sb_rechecked_string *s, sb_sign sign, char *text, size_t size) {
    const sb_figure *now = &s->signs.now[sign], *was = &s->signs.was[sign];
    char before[48] = "";
    if (was->std_error >= 0 && sign != SB_SIGN_ERROR)
        (void)snprintf(before, sizeof before,
                       sign == SB_SIGN_INHARMONICITY ? " (before: %.3g)" : " (before: %.2f)",
                       was->value);
    switch (sign) {
    case SB_SIGN_ERROR:
        (void)snprintf(text, size, "its error changed by %+.1f cents, the others' did not",
                       now->value - was->value);
        return;
    case SB_SIGN_INHARMONICITY:
        (void)snprintf(text, size, "its inharmonicity is %.3g where its gauge lets expect %.3g%s",
                       now->value, s->signs.expected.value, before);
        return;
    case SB_SIGN_SCATTER:
        (void)snprintf(text, size,
                       "its partials stand %.1f cents off a stiff string's, far more than the "
                       "others'%s",
                       now->value, before);
        return;
    default:
        (void)snprintf(text, size, "it beats, by %.1f cents, far more than the others do%s",
                       now->value, before);
    }
}

/* A saddle that slipped looks like a false string, but for its sound. */
static bool error_alone(const sb_suspicion *s) {
    return s->signs[SB_SIGN_ERROR] && !s->signs[SB_SIGN_INHARMONICITY] &&
           !s->signs[SB_SIGN_SCATTER] && !s->signs[SB_SIGN_BEATING];
}

static void print_suspect(const sb_page *page, const sb_rechecked *r, size_t i) {
    const sb_rechecked_string *s = &r->strings[i];
    char text[700], sign[200];
    int n = snprintf(text, sizeof text, "string %zu%s", i + 1,
                     error_alone(&s->suspicion) ? " alone has changed" : " may be false");
    size_t used = n > 0 ? (size_t)n : 0;
    for (int k = 0; k < SB_SIGNS && used < sizeof text; k++) {
        if (!s->suspicion.signs[k])
            continue;
        sign_text(s, (sb_sign)k, sign, sizeof sign);
        n = snprintf(text + used, sizeof text - used, "; %s", sign);
        used += n > 0 ? (size_t)n : 0;
    }
    sb_print_bold(page, "suspect");
    (void)fputs(": ", page->out);
    sb_text_wrap(page->out, text, 9, 2, SB_PRINT_WIDTH);
}

/* Those whose error alone speaks against them, or the others, and what to do about them. */
static void print_suspects(const sb_page *page, const sb_rechecked *r, bool slipped) {
    bool any = false;
    for (size_t i = 0; i < r->d.instrument.n_strings; i++) {
        const sb_suspicion *s = &r->strings[i].suspicion;
        if (!s->suspect || error_alone(s) != slipped)
            continue;
        print_suspect(page, r, i);
        any = true;
    }
    if (any)
        sb_text_wrap(page->out,
                     slipped ? "See whether the saddle slipped and the string sits on it; only "
                               "then think of the string."
                             : "A saddle cannot cure a false string: replace it first, slackened "
                               "before it is cut and with your eyes protected; then measure "
                               "again.",
                     0, 0, SB_PRINT_WIDTH);
}

static void print_slipped(const sb_page *page, const sb_rechecked *r) {
    const sb_instrument *it = &r->d.instrument;
    for (size_t s = 0; s < it->n_saddles; s++) {
        const sb_saddle *saddle = &it->saddles[s];
        if (!r->strings[saddle->first - 1].slipped)
            continue;
        char text[700];
        (void)snprintf(text, sizeof text,
                       "saddle of strings %zu-%zu: their errors changed together", saddle->first,
                       saddle->last);
        for (size_t i = saddle->first - 1; i < saddle->last; i++) {
            size_t used = strlen(text);
            (void)snprintf(text + used, sizeof text - used, "%s%+.1f",
                           i + 1 == saddle->first  ? ", by "
                           : i + 1 == saddle->last ? " and "
                                                   : ", ",
                           r->strings[i].result.change_cents);
        }
        size_t used = strlen(text);
        (void)snprintf(text + used, sizeof text - used, " cents: see whether it slipped");
        sb_text_wrap(page->out, text, 0, 2, SB_PRINT_WIDTH);
    }
}

/* --- all of it ---------------------------------------------------------------------------- */

static void print_head(const sb_page *page, const sb_rechecked *r) {
    char day[32];
    time_t at = (time_t)(r->kept_ms / 1000);
    struct tm when;
    if (!localtime_r(&at, &when) || strftime(day, sizeof day, "%Y-%m-%d", &when) == 0)
        day[0] = '\0';
    (void)fprintf(page->out, "kept: %s of %s\n\n",
                  r->ended ? "the end of the visit" : "the latest readings", day);
    sb_text_pad(page->out, "string", NAME_COLUMNS);
    sb_text_pad(page->out, "now, cents", ERROR_COLUMNS);
    sb_text_pad(page->out, "kept, cents", ERROR_COLUMNS);
    (void)fprintf(page->out, "change\n");
}

static void print_foot(const sb_page *page, const sb_rechecked *r) {
    size_t n = r->d.instrument.n_strings;
    char text[160];
    if (r->inside == n)
        (void)snprintf(text, sizeof text, "all strings are inside ±%g cent%s", r->tolerance_cents,
                       r->tolerance_cents == 1 ? "" : "s");
    else
        (void)snprintf(text, sizeof text, "%zu of %zu strings %s known to be inside ±%g cent%s",
                       r->inside, n, r->inside == 1 ? "is" : "are", r->tolerance_cents,
                       r->tolerance_cents == 1 ? "" : "s");
    (void)fputc('\n', page->out);
    sb_print_bold(page, text);
    (void)fputc('\n', page->out);
}

void sb_print_rechecked(const sb_page *page, const sb_rechecked *r) {
    size_t n = r->d.instrument.n_strings;
    print_head(page, r);
    for (size_t i = 0; i < n; i++)
        print_row(page, r, i);
    print_changes(page, r);
    print_foot(page, r);
    print_slipped(page, r);
    print_suspects(page, r, false);
    print_suspects(page, r, true);
}
