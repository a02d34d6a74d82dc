/* Several strings, one row each, in 80 columns. */
#include <math.h>
#include <string.h>

#include "cli/print.h"
#include "cli/text.h"
#include "core/length.h"

#define COLUMN_STRING 8
#define COLUMN_ERROR  22
#define COLUMN_SADDLE 17
#define COLUMN_RULER  11

void sb_print_table_head(const sb_page *page, const sb_setting *setting) {
    bool screw = setting->thread_mm > 0;
    sb_text_pad(page->out, "string", COLUMN_STRING);
    sb_text_pad(page->out, sb_error_name(setting->fret), COLUMN_ERROR);
    sb_text_pad(page->out, "move saddle", COLUMN_SADDLE);
    sb_text_pad(page->out, "ruler", screw ? COLUMN_RULER : 0);
    (void)fprintf(page->out, "%s\n", screw ? "turns, facing the screw" : "");
}

static void saddle_cell(const sb_answer *a, char *text, size_t size) {
    if (a->verdict == SB_VERDICT_MOVE)
        (void)snprintf(text, size, "%s %.2f mm", a->move.move_mm > 0 ? "BACK" : "FORWARD",
                       fabs(a->move.move_mm));
    else
        (void)snprintf(text, size, "%s", sb_verdict_text(a->verdict));
}

/* "2 ¾ clockwise": the heading says that they are turns. */
static void screw_cell(const sb_answer *a, char *text, size_t size) {
    char turns[32];
    sb_turns_format(a->turns, turns, sizeof turns);
    char *word = strstr(turns, " turn");
    if (word)
        *word = '\0';
    if (a->turn == SB_TURN_NONE)
        (void)snprintf(text, size, "less than ⅛");
    else
        (void)snprintf(text, size, "%s %s", turns, sb_turn_text(a->turn));
}

void sb_print_table_row(const sb_page *page, const sb_task *task, const sb_measurement *m) {
    const sb_answer *a = &m->answer;
    bool move = a->verdict == SB_VERDICT_MOVE, screw = move && task->setting->thread_mm > 0;
    char text[80];
    sb_format_note(m->side[SB_OPEN].hz, task->a4_hz, text, sizeof text);
    sb_text_pad(page->out, text, COLUMN_STRING);
    sb_format_error(a->error_cents, a->std_error_cents, text, sizeof text);
    sb_text_pad(page->out, text, COLUMN_ERROR);
    saddle_cell(a, text, sizeof text);
    sb_text_pad(page->out, text, move ? COLUMN_SADDLE : 0);
    if (move) {
        sb_length_format_64ths(fabs(a->move.move_mm), text, sizeof text);
        sb_text_pad(page->out, text, screw ? COLUMN_RULER : 0);
    }
    screw_cell(a, text, sizeof text);
    (void)fprintf(page->out, "%s\n", screw ? text : "");
}

void sb_print_table_foot(const sb_page *page, bool any_move, bool any_doubtful) {
    if (any_move || any_doubtful)
        (void)fputc('\n', page->out);
    if (any_doubtful)
        sb_text_wrap(page->out, SB_LOOK_ELSEWHERE, 0, 0, SB_PRINT_WIDTH);
    if (any_move)
        sb_text_wrap(page->out, "BACK is away from the nut, FORWARD towards it. " SB_CAUTION, 0, 0,
                     SB_PRINT_WIDTH);
}
