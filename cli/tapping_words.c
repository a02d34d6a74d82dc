/* The map of pickups and positions in words. */
#include <string.h>

#include "cli/err.h"
#include "cli/tapping.h"
#include "cli/text.h"

#define WORDS_MAX   240
#define FIRST_WIDTH 12

/* --- words ---------------------------------------------------------------------------------- */

static sb_signal_name position_of(const sb_tapping *t, size_t p) {
    return sb_signal_clean(t->position[p], "as it is");
}

static sb_signal_name pickup_of(const sb_tapping *t, size_t q) {
    return sb_signal_clean(t->pickup[q], "pickup");
}

/* "neck and middle", "nothing". */
static void list_meant(const sb_tapping *t, size_t p, char *text, size_t size) {
    size_t n = 0, named = 0;
    for (size_t q = 0; q < t->map.n_pickups; q++)
        n += t->map.meant[p][q];
    (void)snprintf(text, size, "%s", n ? "" : "nothing");
    for (size_t q = 0; q < t->map.n_pickups; q++) {
        if (!t->map.meant[p][q])
            continue;
        size_t used = strlen(text);
        (void)snprintf(text + used, size - used, "%s%s",
                       named == 0       ? ""
                       : named + 1 == n ? " and "
                                        : ", ",
                       pickup_of(t, q).text);
        named++;
    }
}

static const char *of_cell(sb_tap_trouble trouble) {
    switch (trouble) {
    case SB_TAP_MISSING: return "is dead there: the selector's contact or a lead to it";
    case SB_TAP_FAINT: return "is weak there: a poor contact, or a lead half off";
    case SB_TAP_EXTRA: return "sounds there too: a lead on the wrong contact, or two that touch";
    case SB_TAP_LEAKS: return "comes through weakly there: two leads or contacts that nearly touch";
    default: return "";
    }
}

void sb_tapping_words(const sb_tapping *t, const sb_tap_finding *f, char *text, size_t size) {
    const sb_signal_name position = position_of(t, f->position);
    const sb_signal_name pickup = pickup_of(t, f->pickup), other = pickup_of(t, f->other);
    char meant[WORDS_MAX];
    list_meant(t, f->position, meant, sizeof meant);
    switch (f->trouble) {
    case SB_TAP_REVERSED:
        (void)snprintf(text, size,
                       "the positions are as meant when they are counted from the other end: "
                       "either they were, or the selector stands the wrong way round");
        return;
    case SB_TAP_EXCHANGED:
        (void)snprintf(text, size,
                       "%s and %s have changed places: their leads, or the names at the taps",
                       pickup.text, other.text);
        return;
    case SB_TAP_PICKUP_DEAD:
    case SB_TAP_PICKUP_WEAK:
        (void)snprintf(text, size,
                       "%s is %s wherever it is meant to sound: the pickup or its own leads, not "
                       "the selector",
                       pickup.text, f->trouble == SB_TAP_PICKUP_DEAD ? "dead" : "weak");
        return;
    case SB_TAP_POSITION_DEAD:
        (void)snprintf(text, size,
                       "position %s is meant to have %s; nothing sounds there: the selector",
                       position.text, meant);
        return;
    default:
        (void)snprintf(text, size, "position %s is meant to have %s; %s %s", position.text, meant,
                       pickup.text, of_cell(f->trouble));
    }
}

/* --- the table ------------------------------------------------------------------------------ */

static size_t column_width(const sb_tapping *t, size_t q) {
    size_t width = sb_text_width(pickup_of(t, q).text) + 2;
    return width > 20 ? width : 20;
}

/* "live -6.2 ± 0.8"; a doubtful one with a question mark. */
static void print_cell(const sb_page *page, const sb_tapping *t, size_t p, size_t q) {
    const sb_tap_cell *c = &t->map.cell[p][q];
    char text[64];
    const char *verdict = sb_tap_verdict_text(c->verdict);
    if (c->verdict == SB_TAP_UNTRIED)
        (void)snprintf(text, sizeof text, "-");
    else if (!c->heard)
        (void)snprintf(text, sizeof text, "%s  no tap heard", verdict);
    else if (c->std_error_db > 0)
        (void)snprintf(text, sizeof text, "%s%s %5.1f ± %.1f", verdict, c->sure ? " " : "?",
                       c->relative_db + 0.0, c->std_error_db);
    else
        (void)snprintf(text, sizeof text, "%s%s %5.1f", verdict, c->sure ? " " : "?",
                       c->relative_db + 0.0);
    bool last = q + 1 == t->map.n_pickups && !t->map.has_meant[p];
    sb_text_pad(page->out, text, last ? 0 : column_width(t, q));
}

static void print_row(const sb_page *page, const sb_tapping *t, size_t p) {
    char meant[WORDS_MAX];
    sb_text_pad(page->out, position_of(t, p).text, FIRST_WIDTH);
    for (size_t q = 0; q < t->map.n_pickups; q++)
        print_cell(page, t, p, q);
    if (t->map.has_meant[p]) {
        list_meant(t, p, meant, sizeof meant);
        (void)fprintf(page->out, "%s", meant);
    }
    (void)fputc('\n', page->out);
}

static void print_head(const sb_page *page, const sb_tapping *t) {
    bool meant = sb_tapping_has_meant(t);
    sb_text_pad(page->out, "position", FIRST_WIDTH);
    for (size_t q = 0; q < t->map.n_pickups; q++) {
        bool last = q + 1 == t->map.n_pickups && !meant;
        sb_text_pad(page->out, pickup_of(t, q).text, last ? 0 : column_width(t, q));
    }
    (void)fprintf(page->out, "%s\n", meant ? "meant" : "");
}

static bool any_doubt(const sb_tapping *t) {
    for (size_t p = 0; p < t->map.n_positions; p++)
        for (size_t q = 0; q < t->map.n_pickups; q++)
            if (!t->map.cell[p][q].sure && t->map.cell[p][q].heard)
                return true;
    return false;
}

static void print_notes(const sb_page *page, const sb_tapping *t) {
    char text[WORDS_MAX];
    (void)fputc('\n', page->out);
    if (t->scatter_db > 0)
        (void)snprintf(text, sizeof text,
                       "Levels in dB below the loudest; one tap scatters by %.1f dB. Live is down "
                       "to %.0f dB, dead below %.0f.",
                       t->scatter_db, t->map.weak_db, t->map.dead_db);
    else
        (void)snprintf(text, sizeof text,
                       "Levels in dB below the loudest, of one tap each: how they scatter is not "
                       "known. Tap each pickup three times.");
    sb_print_paragraph(page, text);
    if (any_doubt(t))
        sb_print_paragraph(page, "A question mark: too near a limit to be sure. Tap those again.");
    if (t->strings > 0) {
        (void)snprintf(text, sizeof text,
                       "%zu sound%s a string's, not a tap's, and left out: damp the strings.",
                       t->strings, t->strings == 1 ? " was" : "s were");
        sb_print_paragraph(page, text);
    }
    if (t->overloaded > 0)
        sb_print_paragraph(page,
                           "Some taps overloaded the input, so that their levels are at least "
                           "so much: turn it down, or tap more softly.");
    sb_print_paragraph(page, SB_SIGNAL_CAUTION);
}

bool sb_tapping_has_meant(const sb_tapping *t) {
    bool any = false;
    for (size_t p = 0; p < t->map.n_positions; p++)
        any = any || t->map.has_meant[p];
    return any;
}

static void print_finding(const sb_page *page, const char *words) {
    (void)fputs(page->styled ? "\033[1m" : "", page->out);
    sb_text_wrap(page->out, words, 0, 4, SB_PRINT_WIDTH);
    (void)fputs(page->styled ? "\033[0m" : "", page->out);
}

void sb_tapping_print(const sb_page *page, const sb_tapping *t) {
    char words[SB_TAPPING_WORDS_MAX];
    print_head(page, t);
    for (size_t p = 0; p < t->map.n_positions; p++)
        print_row(page, t, p);
    if (sb_tapping_has_meant(t) && t->n_findings == 0)
        sb_print_bold(page, "\nall that was tapped sounds as it is meant to\n");
    for (size_t i = 0; i < t->n_findings; i++) {
        (void)fputs(i == 0 ? "\n" : "", page->out);
        sb_tapping_words(t, &t->findings[i], words, sizeof words);
        print_finding(page, words);
    }
    print_notes(page, t);
}
