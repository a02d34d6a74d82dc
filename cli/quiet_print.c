/* Noise and hum in words. */
#include <math.h>
#include <string.h>

#include "cli/quiet.h"
#include "cli/text.h"
#include "core/levels.h"

#define NAMED 4 /* harmonics named */

static void headline(const sb_page *page, const sb_quiet *q) {
    const sb_silence *s = &q->silence;
    char line[160];
    const sb_signal_name clean = sb_signal_clean(q->position, "");
    const char *name = clean.text;
    bool hum = s->nominal_hz > 0 && s->hum_dbfs > s->noise_dbfs;
    (void)snprintf(line, sizeof line, "%s%s%s", name[0] ? "position " : "", name,
                   name[0] ? ": " : "");
    size_t used = strlen(line);
    if (q->has_pluck)
        (void)snprintf(line + used, sizeof line - used,
                       "%.0f ± %.0f dB below the last pluck, mostly %s", sb_quiet_below_db(q),
                       sb_quiet_pluck_error_db(q), hum ? "hum" : "noise");
    else
        (void)snprintf(line + used, sizeof line - used, "%.1f dBFS, mostly %s", s->total_dbfs,
                       hum ? "hum" : "noise");
    sb_print_bold(page, line);
    (void)fputc('\n', page->out);
}

static void print_level(const sb_page *page, const sb_quiet *q, double dbfs, double std_error_db) {
    (void)fprintf(page->out, "%.1f ± %.1f dBFS", dbfs, fmax(std_error_db, 0.1));
    if (q->has_pluck)
        (void)fprintf(page->out, ", %.0f ± %.0f dB below the pluck", q->pluck_dbfs - dbfs,
                      hypot(sb_quiet_pluck_error_db(q), std_error_db));
}

/* The strongest, strongest first. */
static void print_harmonics(const sb_page *page, const sb_silence *s) {
    bool named[SB_MAINS_HARMONICS] = {false};
    size_t n = 0;
    sb_print_label(page, "");
    (void)fprintf(page->out, "mains at %.2f Hz; strongest at", s->mains_hz);
    for (; n < NAMED; n++) {
        size_t best = SB_MAINS_HARMONICS;
        for (size_t k = 0; k < SB_MAINS_HARMONICS; k++)
            if (!named[k] && s->harmonic_dbfs[k] > SB_LEVEL_NONE &&
                (best == SB_MAINS_HARMONICS || s->harmonic_dbfs[k] > s->harmonic_dbfs[best]))
                best = k;
        if (best == SB_MAINS_HARMONICS)
            break;
        named[best] = true;
        (void)fprintf(page->out, "%s %zu Hz", n ? "," : "", (best + 1) * (size_t)s->nominal_hz);
    }
    (void)fputc('\n', page->out);
}

/* "3.2 ± 0.4 dB quieter"; what lies within twice its error is no change. */
static void print_change(const sb_page *page, double before, double before_error, double now,
                         double now_error) {
    double change = now - before, error = fmax(hypot(before_error, now_error), 0.1);
    char text[16];
    sb_format_signed(change, 1, text, sizeof text);
    if (fabs(change) <= 2 * error)
        (void)fprintf(page->out, "as before (%s ± %.1f dB)", text, error);
    else
        (void)fprintf(page->out, "%.1f ± %.1f dB %s", fabs(change), error,
                      change < 0 ? "quieter" : "louder");
}

static void print_comparison(const sb_page *page, const sb_quiet *q) {
    const sb_quiet_earlier *e = &q->earlier;
    const sb_silence *s = &q->silence;
    sb_print_label(page, "since before");
    (void)fputs("noise ", page->out);
    print_change(page, e->noise_dbfs, e->noise_std_error_db, s->noise_dbfs, s->noise_std_error_db);
    bool was = e->hum_dbfs > SB_LEVEL_NONE, is = s->nominal_hz > 0;
    (void)fputs(was && is ? ", hum " : was ? ", hum gone" : is ? ", hum new" : "", page->out);
    if (was && is)
        print_change(page, e->hum_dbfs, e->hum_std_error_db, s->hum_dbfs, s->hum_std_error_db);
    (void)fputc('\n', page->out);
    double below = sb_quiet_below_db(q);
    if (isfinite(below) && isfinite(e->below_db)) {
        sb_print_label(page, "");
        (void)fprintf(page->out, "below the pluck: %.0f dB before, %.0f ± %.0f dB now\n",
                      e->below_db, below, sb_quiet_pluck_error_db(q));
    }
}

void sb_quiet_print(const sb_page *page, const sb_quiet *q) {
    const sb_silence *s = &q->silence;
    headline(page, q);
    sb_print_label(page, "noise");
    print_level(page, q, s->noise_dbfs, s->noise_std_error_db);
    (void)fprintf(page->out, "\n");
    sb_print_label(page, "hum");
    if (s->nominal_hz > 0) {
        print_level(page, q, s->hum_dbfs, s->hum_std_error_db);
        (void)fputc('\n', page->out);
        print_harmonics(page, s);
    } else {
        (void)fputs("none that stands out of the noise\n", page->out);
    }
    sb_print_label(page, "from");
    (void)fprintf(page->out, "%.1f s of silence, 20 Hz to %.3g kHz, not weighted", s->length_s,
                  s->band_to_hz / 1000);
    (void)fprintf(page->out, "%s\n",
                  !q->has_pluck        ? "; no pluck to compare with"
                  : q->pluck_from_book ? "; pluck from the book"
                                       : "");
    if (q->compared)
        print_comparison(page, q);
}
