#include "cli/print.h"

#include <math.h>
#include <string.h>

#include "cli/text.h"
#include "core/length.h"
#include "core/pitch.h"

#define LINE_COLUMN 4

/* --- pieces -------------------------------------------------------------------------- */

void sb_format_signed(double value, int decimals, char *text, size_t size) {
    double unit = pow(10, -decimals);
    if (fabs(value) < unit / 2)
        value = 0;
    (void)snprintf(text, size, "%+.*f", decimals, value);
}

void sb_format_error(double cents, double std_error_cents, char *text, size_t size) {
    char number[32];
    int decimals = std_error_cents > 0 && std_error_cents < 0.0095 ? 3 : 2;
    sb_format_signed(cents, decimals, number, sizeof number);
    if (std_error_cents > 0)
        (void)snprintf(text, size, "%s ± %.*f cents", number, decimals, std_error_cents);
    else
        (void)snprintf(text, size, "%s cents", number);
}

const char *sb_flag_text(size_t index, unsigned *flag) {
    static const struct {
        unsigned flag;
        const char *word;
    } words[] = {{SB_PARTIAL_PULLED, "pulled"},
                 {SB_PARTIAL_HUM, "on mains hum"},
                 {SB_PARTIAL_OTHER_STRING, "near another string's"},
                 {SB_PARTIAL_BEATING, "beating"},
                 {SB_PARTIAL_WEAK, "weak"}};
    if (index >= sizeof words / sizeof *words)
        return NULL;
    *flag = words[index].flag;
    return words[index].word;
}

void sb_format_flags(unsigned flags, char *text, size_t size) {
    unsigned flag = 0;
    const char *word;
    text[0] = '\0';
    for (size_t i = 0; (word = sb_flag_text(i, &flag)) != NULL; i++) {
        size_t used = strlen(text);
        if (flags & flag)
            (void)snprintf(text + used, size - used, "%s%s", used ? ", " : "", word);
    }
}

void sb_format_note(double hz, double a4_hz, char *text, size_t size) {
    sb_note_format(sb_note_nearest(hz, a4_hz, NULL), text, size);
}

void sb_print_bold(const sb_page *page, const char *text) {
    (void)fprintf(page->out, page->styled ? "\033[1m%s\033[0m" : "%s", text);
}

void sb_print_label(const sb_page *page, const char *name) {
    sb_text_pad(page->out, "", LINE_COLUMN);
    sb_text_pad(page->out, name, SB_PRINT_INDENT - LINE_COLUMN);
}

void sb_print_paragraph(const sb_page *page, const char *text) {
    sb_text_pad(page->out, "", LINE_COLUMN);
    sb_text_wrap(page->out, text, LINE_COLUMN, LINE_COLUMN, SB_PRINT_WIDTH);
}

const char *sb_error_name(int fret) {
    return fret == 12 ? "octave error" : "error";
}

/* --- the answer ---------------------------------------------------------------------- */

static void headline(const sb_page *page, const char *name, const char *text) {
    char line[160];
    (void)snprintf(line, sizeof line, "%s%s%s", name ? name : "", name ? ": " : "", text);
    sb_print_bold(page, line);
    (void)fputc('\n', page->out);
}

static void ask_for_move(const sb_page *page, const sb_setting *setting, const sb_answer *a,
                         const char *name) {
    bool back = a->move.move_mm > 0;
    char text[120], ruler[SB_LENGTH_TEXT_MAX], turns[32];
    (void)snprintf(text, sizeof text, "move the saddle %.2f mm %s, %s the nut",
                   fabs(a->move.move_mm), back ? "BACK" : "FORWARD",
                   back ? "away from" : "towards");
    headline(page, name, text);
    sb_length_format_64ths(fabs(a->move.move_mm), ruler, sizeof ruler);
    sb_text_pad(page->out, "", LINE_COLUMN);
    if (setting->thread_mm > 0 && a->turn != SB_TURN_NONE) {
        sb_turns_format(a->turns, turns, sizeof turns);
        (void)snprintf(text, sizeof text, "%s, or %s %s as you face the screw's head", ruler, turns,
                       sb_turn_text(a->turn));
    } else {
        (void)snprintf(text, sizeof text, "%s%s", ruler,
                       setting->thread_mm > 0 ? ", less than an eighth of a turn" : "");
    }
    sb_print_bold(page, text);
    (void)fputc('\n', page->out);
}

static void ask_to_leave(const sb_page *page, const sb_setting *setting, const sb_answer *a,
                         const char *name) {
    char text[120];
    headline(page, name, "leave the saddle where it is");
    if (fabs(a->error_cents) <= setting->tolerance_cents)
        (void)snprintf(text, sizeof text, "the error is within the tolerance of %g cent%s",
                       setting->tolerance_cents, setting->tolerance_cents == 1 ? "" : "s");
    else
        (void)snprintf(text, sizeof text, "the error is smaller than its own uncertainty");
    sb_print_paragraph(page, text);
}

static void ask_again(const sb_page *page, const sb_answer *a, const char *name) {
    headline(page, name, "measure again before moving anything");
    sb_print_paragraph(
        page, a->movable ? "the uncertainty is too large to set a saddle by: pluck more often, "
                           "softly, and let each note ring"
                         : "the error is too large for any saddle: see whether string and fret "
                           "are the right ones");
}

static void print_figures(const sb_page *page, const sb_setting *setting, const sb_answer *a) {
    char text[64], sixtyfourths[32];
    (void)fputc('\n', page->out);
    sb_print_label(page, sb_error_name(setting->fret));
    sb_format_error(a->error_cents, a->std_error_cents, text, sizeof text);
    (void)fprintf(page->out, "%s%s\n", text,
                  a->error_cents > 0   ? ", the fretted note is sharp"
                  : a->error_cents < 0 ? ", the fretted note is flat"
                                       : "");
    if (!a->movable)
        return;
    sb_print_label(page, a->verdict == SB_VERDICT_MOVE ? "move" : "would be");
    sb_format_signed(a->move.move_mm, 2, text, sizeof text);
    sb_format_signed(a->move.move_mm / SB_MM_PER_64TH, 2, sixtyfourths, sizeof sixtyfourths);
    (void)fputs(text, page->out);
    if (a->move.std_error_mm >= 0.005)
        (void)fprintf(page->out, " ± %.2f", a->move.std_error_mm);
    sb_format_signed(a->move.rule_of_thumb_mm, 2, text, sizeof text);
    (void)fprintf(page->out, " mm, or %s/64 in; by rule of thumb %s mm\n", sixtyfourths, text);
}

void sb_print_verdict(const sb_page *page, const sb_setting *setting, const sb_answer *a,
                      const char *name) {
    switch (a->verdict) {
    case SB_VERDICT_MOVE: ask_for_move(page, setting, a, name); break;
    case SB_VERDICT_LEAVE: ask_to_leave(page, setting, a, name); break;
    case SB_VERDICT_MEASURE_AGAIN: ask_again(page, a, name); break;
    }
    print_figures(page, setting, a);
}

void sb_print_advice(const sb_page *page, bool move, bool doubtful) {
    if (move || doubtful)
        (void)fputc('\n', page->out);
    if (doubtful)
        sb_print_paragraph(page, SB_LOOK_ELSEWHERE);
    if (move)
        sb_print_paragraph(page, SB_CAUTION);
}

void sb_print_answer(const sb_page *page, const sb_setting *setting, const sb_answer *answer) {
    sb_print_verdict(page, setting, answer, NULL);
    sb_print_advice(page, answer->verdict == SB_VERDICT_MOVE, answer->doubtful);
}

/* --- inputs -------------------------------------------------------------------------- */

void sb_print_inputs(const sb_page *page, const sb_device devices[], size_t n) {
    (void)fputs("index  channels  rate    host api      name\n", page->out);
    for (size_t i = 0; i < n; i++) {
        char name[SB_DEVICE_NAME_MAX], host[SB_DEVICE_NAME_MAX];
        sb_text_clean(devices[i].name, name, sizeof name);
        sb_text_clean(devices[i].host_api, host, sizeof host);
        (void)fprintf(page->out, "%5d  %8d  %-6.0f  ", devices[i].index, devices[i].channels,
                      devices[i].default_rate_hz);
        sb_text_pad(page->out, host, 14);
        (void)fprintf(page->out, "%s%s\n", name, devices[i].is_default ? "  (default)" : "");
    }
}
