/* The strings' balance in words. */
#include <math.h>
#include <string.h>

#include "cli/balance.h"
#include "cli/text.h"
#include "core/pitch.h"

#define WORDS_MAX 300

static void note_of(const sb_balance *b, size_t string, char note[SB_NOTE_TEXT_MAX]) {
    sb_note_format(b->instrument->strings[string].semitone, note, SB_NOTE_TEXT_MAX);
}

/* --- words ---------------------------------------------------------------------------------- */

static void side_words(const sb_balance *b, char *text, size_t size) {
    const sb_tilt *t = &b->tilt;
    bool first = t->verdict == SB_TILT_FIRST_HIGH;
    size_t outer = b->heard[first ? 0 : b->n_heard - 1] + 1;
    char side[24];
    sb_balance_side(b, first, side, sizeof side);
    (void)snprintf(text, size,
                   "the %s side stands high: %.1f ± %.1f dB louder across the strings; lower it "
                   "there by about %.1f ± %.1f mm, measured at string %zu, or raise the other side "
                   "by as much, or half of each, and pluck again",
                   side, fabs(t->tilt_db), t->std_error_db, b->move.move_mm, b->move.std_error_mm,
                   outer);
}

static void verdict_words(const sb_balance *b, char *text, size_t size) {
    const sb_tilt *t = &b->tilt;
    char tilt[16];
    sb_format_signed(t->tilt_db, 1, tilt, sizeof tilt);
    switch (t->verdict) {
    case SB_TILT_EVEN:
        (void)snprintf(text, size,
                       "leave the pickup's tilt: %s ± %.1f dB from side to side, within %g dB",
                       tilt, t->std_error_db, b->tolerance_db);
        return;
    case SB_TILT_FIRST_HIGH:
    case SB_TILT_LAST_HIGH: side_words(b, text, size); return;
    case SB_TILT_UNSURE:
        (void)snprintf(text, size,
                       "pluck more: %s ± %.1f dB from side to side is within the plucks' "
                       "scatter; about %.0f times as many plucks, equally hard, would tell",
                       tilt, t->std_error_db, ceil(t->more));
        return;
    case SB_TILT_UNEVEN:
        (void)snprintf(text, size,
                       "leave the pickup's tilt: %s ± %.1f dB from side to side; the strings "
                       "differ among themselves so that less than %.1f dB cannot be told, and more "
                       "plucks do not help",
                       tilt, t->std_error_db, t->limit_db);
        return;
    }
}

static void headline(const sb_page *page, const sb_balance *b) {
    char text[WORDS_MAX + 80];
    const sb_signal_name position = sb_signal_clean(b->position, "");
    (void)snprintf(text, sizeof text, "%s%s%s", position.text[0] ? "position " : "", position.text,
                   position.text[0] ? ": " : "");
    size_t used = strlen(text);
    if (b->has_tilt)
        verdict_words(b, text + used, sizeof text - used);
    else
        (void)snprintf(text + used, sizeof text - used,
                       "three strings or more are needed to tell a tilt");
    (void)fputs(page->styled ? "\033[1m" : "", page->out);
    sb_text_wrap(page->out, text, 0, 4, SB_PRINT_WIDTH);
    (void)fputs(page->styled ? "\033[0m" : "", page->out);
}

static void print_string(const sb_page *page, const sb_balance *b, size_t i) {
    char note[SB_NOTE_TEXT_MAX], left_out[32] = "", off[16];
    size_t string = b->heard[i];
    const sb_level *level = &b->level[string];
    note_of(b, string, note);
    if (level->left_out > 0)
        (void)snprintf(left_out, sizeof left_out, ", %zu left out", level->left_out);
    (void)fprintf(page->out, "    %6zu  %-4s  %6.1f ± %.1f", string + 1, note, level->level_db,
                  level->std_error_db);
    if (b->has_tilt) {
        sb_format_signed(b->tilt.off_db[i], 1, off, sizeof off);
        (void)fprintf(page->out, "   %5s%s", off, sb_balance_stands_off(b, i) ? " !" : "  ");
    }
    (void)fprintf(page->out, "   %zu%s\n", level->used, left_out);
}

static void print_facts(const sb_page *page, const sb_balance *b) {
    const sb_tilt *t = &b->tilt;
    if (b->has_tilt) {
        char tilt[16];
        sb_format_signed(t->tilt_db, 1, tilt, sizeof tilt);
        sb_print_label(page, "spread");
        (void)fprintf(page->out, "%.1f ± %.1f dB, from string %zu to string %zu\n", t->spread_db,
                      t->spread_std_error_db, b->heard[t->loudest] + 1, b->heard[t->quietest] + 1);
        sb_print_label(page, "tilt");
        (void)fprintf(page->out, "%s ± %.1f dB, string %zu's side over string %zu's\n", tilt,
                      t->std_error_db, b->heard[0] + 1, b->heard[b->n_heard - 1] + 1);
    }
    sb_print_label(page, "plucks");
    (void)fprintf(page->out, "scatter by %.1f dB each", b->scatter.scatter_db);
    if (b->unusable + b->fretted + b->unknown > 0)
        (void)fprintf(page->out, "; left out: %zu unusable, %zu fretted, %zu of no string",
                      b->unusable, b->fretted, b->unknown);
    (void)fprintf(page->out, "\n");
    sb_print_label(page, "level");
    (void)fprintf(page->out, "RMS from %.1f to %.1f s after the attack, not weighted\n",
                  SB_SIGNAL_LEVEL_FROM_S, SB_SIGNAL_LEVEL_TO_S);
}

static void print_notes(const sb_page *page, const sb_balance *b) {
    char text[WORDS_MAX];
    for (size_t i = 0; b->has_tilt && i < b->n_heard; i++) {
        if (!sb_balance_stands_off(b, i))
            continue;
        (void)snprintf(text, sizeof text,
                       "String %zu is %.1f ± %.1f dB %s than its neighbours let expect: its pole's "
                       "height, where it has one to turn, else the string itself.",
                       b->heard[i] + 1, fabs(b->tilt.off_db[i]), b->level[b->heard[i]].std_error_db,
                       b->tilt.off_db[i] > 0 ? "louder" : "quieter");
        sb_print_paragraph(page, text);
    }
    if (!(b->move.move_mm > 0))
        return;
    double height_mm = sb_balance_height_mm(b);
    (void)snprintf(
        text, sizeof text,
        "The move is a rough one: how level falls with distance is derived from a simple "
        "pole, and the pickup taken to be %.1f mm off%s.",
        height_mm > 0 ? height_mm : SB_TILT_DISTANCE_MM,
        height_mm > 0 ? "" : "; --height says how far it is");
    sb_print_paragraph(page, text);
}

void sb_balance_print(const sb_page *page, const sb_balance *b) {
    headline(page, b);
    (void)fprintf(page->out, "    string  note    level dBFS%s   plucks\n",
                  b->has_tilt ? "     off  " : "");
    for (size_t i = 0; i < b->n_heard; i++)
        print_string(page, b, i);
    print_facts(page, b);
    print_notes(page, b);
}
