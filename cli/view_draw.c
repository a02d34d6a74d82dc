/* The view's lines and figures on the screen. */
#include <curses.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "cli/err.h"
#include "cli/plain.h"
#include "cli/print.h"
#include "cli/text.h"
#include "cli/view_figures.h"
#include "cli/view_layout.h"
#include "cli/view_parts.h"
#include "core/pitch.h"

#define LIST_COLUMNS 31
#define FIGURE_UNITS 49 /* columns that the widest line of figures takes at size 1 */
#define LEAST_ROWS   24
#define LEAST_COLS   (FIGURE_UNITS + LIST_COLUMNS)
#define TOP          1
#define FOOT         5 /* lines below the figures: remark, note, level, news, keys */
#define CAPTIONS     3
#define LEVEL_CELLS  24
#define LEVEL_FLOOR  (-60.0)
#define KEYS         "m moved as asked   e say more   up/down look at a string   h help   q end"

/* --- text -------------------------------------------------------------------------------- */

/* What a terminal without UTF-8 shows. */
static void to_ascii(const char *in, char *out, size_t size) {
    size_t used = 0, n = 1;
    for (; *in && used + 5 < size; in += n) {
        const char *sign = sb_plain_sign(used > 0 ? out[used - 1] : '\0', in, &n);
        if (!sign)
            for (n = 1; ((unsigned char)in[n] & 0xc0) == 0x80;)
                n++;
        if (sign)
            used += (size_t)snprintf(out + used, size - used, "%s", sign);
        else
            out[used++] = n == 1 ? *in : '?';
    }
    out[used] = '\0';
}

static void put(const sb_view *v, int row, int column, int columns, const char *format, ...)
    SB_PRINTF(5, 6);

static void put(const sb_view *v, int row, int column, int columns, const char *format, ...) {
    char raw[400], clean[400], text[600];
    va_list values;
    va_start(values, format);
    (void)vsnprintf(raw, sizeof raw, format, values);
    va_end(values);
    sb_text_clean(raw, clean, sizeof clean);
    if (v->utf8)
        (void)snprintf(text, sizeof text, "%s", clean);
    else
        to_ascii(clean, text, sizeof text);
    if (column + columns > v->columns)
        columns = v->columns - column;
    if (row < 0 || row >= v->rows || columns <= 0)
        return;
    sb_text_cut(text, (size_t)columns);
    (void)mvaddstr(row, column, text);
}

/* --- figures ----------------------------------------------------------------------------- */

typedef struct {
    const sb_view *view;
    int row, column;
} figure_place;

static void draw_cell(void *context, int column, int row) {
    const figure_place *at = context;
    const sb_view *v = at->view;
    for (int y = 0; y < v->unit_rows; y++)
        for (int x = 0; x < v->unit_columns; x++)
            put(v, at->row + row * v->unit_rows + y, at->column + column * v->unit_columns + x, 1,
                v->utf8 ? "█" : "#");
}

/* Draws a text with its caption and returns the columns that it took. */
static int draw_figure(const sb_view *v, int row, int column, const char *text,
                       const char *caption) {
    figure_place at = {v, row, column};
    int width = sb_figures_width(text) * v->unit_columns;
    sb_figures_draw(text, draw_cell, &at);
    put(v, row + SB_FIGURE_ROWS * v->unit_rows, column, v->columns, "%s", caption);
    int words = (int)sb_text_width(caption);
    return width > words ? width : words;
}

/* Two lines of figures and the word: 3 blocks of figures, each with its caption. */
static void draw_figures(const sb_view *v, const sb_view_figures *f) {
    int block = SB_FIGURE_ROWS * v->unit_rows + 1 + v->gap, wide = v->columns - LIST_COLUMNS - 1;
    int row = TOP + v->gap, column = draw_figure(v, row, 0, f->note, f->note_caption);
    int gap = 3 * v->unit_columns;
    (void)draw_figure(v, row, column + gap, f->error, f->error_caption);
    row += block;
    column = draw_figure(v, row, 0, f->amount, f->amount_caption);
    bool room = column + gap + sb_figures_width(f->turns) * v->unit_columns <= wide;
    if (room && f->turns[0])
        (void)draw_figure(v, row, column + gap, f->turns, f->turns_caption);
    else if (f->turns[0])
        put(v, row + SB_FIGURE_ROWS * v->unit_rows, column + gap, wide - column - gap, "%s %s",
            f->turns, f->turns_caption);
    row += block;
    (void)draw_figure(v, row, 0, f->word, f->word_caption);
}

/* --- lines ------------------------------------------------------------------------------- */

size_t sb_view_focus(const sb_view *v, const sb_bench *b) {
    return v->looked_at > 0 ? v->looked_at : v->sounding > 0 ? v->sounding : b->last_string;
}

static void draw_string(const sb_view *v, const sb_bench *b, size_t string, int row, int column) {
    const sb_string_progress *p = &b->progress.strings[string - 1];
    char note[SB_NOTE_TEXT_MAX], error[12] = "";
    bool bold = string == sb_view_focus(v, b);
    sb_note_format(b->progress.instrument.strings[string - 1].semitone, note, sizeof note);
    if (p->has_reading)
        (void)snprintf(error, sizeof error, "%+.1f", p->reading.cents);
    if (bold)
        (void)attron(A_BOLD);
    put(v, row, column, LIST_COLUMNS, "%c%2zu %-4s%6s  %s",
        string == v->sounding ? '*'
        : bold                ? '>'
                              : ' ',
        string, note, error, sb_string_state_text(p->state));
    (void)attroff(A_BOLD);
}

/* As many as there is room for, those round the focus. */
static void draw_strings(const sb_view *v, const sb_bench *b, int from, int to, int column) {
    int n = (int)b->progress.instrument.n_strings, room = to - from;
    int first = 0;
    if (n > room) {
        first = (int)sb_view_focus(v, b) - 1 - room / 2;
        first = first < 0 ? 0 : first > n - room ? n - room : first;
    }
    for (int i = 0; i < room && first + i < n; i++)
        draw_string(v, b, (size_t)first + (size_t)i + 1, from + i, column);
}

static void draw_level(const sb_view *v, const sb_source *source, int row) {
    sb_meter meter = sb_source_meter(source);
    char cells[LEVEL_CELLS + 1];
    double filled = (meter.peak_dbfs - LEVEL_FLOOR) / -LEVEL_FLOOR * LEVEL_CELLS;
    for (int i = 0; i < LEVEL_CELLS; i++)
        cells[i] = i < filled ? '=' : '.';
    cells[LEVEL_CELLS] = '\0';
    const char *warning = meter.clipping                               ? "  TOO LOUD: turn it down"
                          : meter.peak_dbfs > -1                       ? "  nearly too loud"
                          : meter.sounding && meter.level_dbfs < -50.0 ? "  too quiet"
                                                                       : "";
    put(v, row, 0, v->columns, "input %s %4.0f dB%s", cells, fmax(meter.peak_dbfs, -99), warning);
}

static void draw_head(const sb_view *v, const sb_bench *b, const sb_source *source) {
    char right[120] = "";
    const char *base = source->take ? strrchr(source->take, '/') : NULL;
    if (source->is_live)
        (void)snprintf(right, sizeof right, "listening");
    else if (source->recording)
        (void)snprintf(right, sizeof right, "%.100s", base ? base + 1 : source->take);
    else
        (void)snprintf(right, sizeof right, "the recording is over");
    int width = (int)sb_text_width(right);
    (void)attron(A_BOLD);
    put(v, 0, 0, v->columns - width - 2, "%s", b->name);
    (void)attroff(A_BOLD);
    put(v, 0, v->columns - width, width, "%s", right);
}

static void draw_note(const sb_view *v, const sb_bench *b, int row) {
    if (v->sounding == 0)
        return;
    put(v, row, 0, v->columns, "string %zu %s  %.2f Hz", v->sounding,
        v->fretted ? "fretted" : "open", v->hz);
    if (!v->fretted && v->known_note) {
        char text[32];
        sb_format_signed(v->cents, 1, text, sizeof text);
        put(v, row, 30, v->columns, "%s cents from its note", text);
    }
    (void)b;
}

static void draw_foot(const sb_view *v, const sb_bench *b, const sb_source *source) {
    size_t string = sb_view_focus(v, b);
    const char *remark = string > 0 ? sb_bench_remark(b, string) : NULL;
    int row = v->rows - FOOT;
    if (remark)
        put(v, row, 0, v->columns, "string %zu %s", string, remark);
    draw_note(v, b, row + 1);
    draw_level(v, source, row + 2);
    if (v->typing)
        put(v, row + 3, 0, v->columns, ": %s_", v->typed);
    else
        put(v, row + 3, 0, v->columns, "%s", v->news);
    put(v, row + 4, 0, v->columns, "%s", v->typing ? "Enter: say it   Esc: do not" : KEYS);
}

/* --- the whole --------------------------------------------------------------------------- */

static int clamped(int value, int least, int most) {
    return value < least ? least : value > most ? most : value;
}

static void measure_screen(sb_view *v) {
    getmaxyx(stdscr, v->rows, v->columns);
    v->unit_rows = v->unit_columns = 0;
    if (v->rows < LEAST_ROWS || v->columns < LEAST_COLS - 1)
        return;
    int room = v->rows - TOP - FOOT - CAPTIONS;
    v->unit_rows = clamped(room / (CAPTIONS * SB_FIGURE_ROWS + 1), 1, 4);
    v->gap = clamped((room - CAPTIONS * SB_FIGURE_ROWS * v->unit_rows) / 4, 0, 2);
    v->unit_columns = clamped((v->columns - LIST_COLUMNS) / FIGURE_UNITS, 1, 2 * v->unit_rows);
}

static void draw_help(const sb_view *v) {
    char text[2000];
    int row = TOP;
    (void)snprintf(text, sizeof text, "%s", sb_order_help());
    put(v, row++, 0, v->columns, "Behind the key e, or with --plain on standard input:");
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
        put(v, ++row, 2, v->columns, "%s", line);
    put(v, row + 2, 0, v->columns, "any key goes back");
}

/* Where there is no room for figures. */
static void draw_small(const sb_view *v, const sb_bench *b) {
    size_t string = sb_view_focus(v, b);
    char advice[300] = "pluck any string, open and at fret 12";
    if (string > 0)
        sb_bench_advice(b, string, advice, sizeof advice);
    (void)attron(A_BOLD);
    if (string > 0)
        put(v, 1, 0, v->columns, "string %zu: %s", string, advice);
    else
        put(v, 1, 0, v->columns, "%s", advice);
    (void)attroff(A_BOLD);
    draw_strings(v, b, 2, v->rows - FOOT, 0);
}

void sb_view_draw(sb_view *v, const sb_bench *b, const sb_source *source) {
    sb_view_figures figures;
    measure_screen(v);
    (void)erase();
    draw_head(v, b, source);
    if (v->help)
        draw_help(v);
    else if (v->unit_rows == 0)
        draw_small(v, b);
    else {
        sb_view_say(b, sb_view_focus(v, b), &figures);
        draw_figures(v, &figures);
        draw_strings(v, b, TOP + v->gap, v->rows - FOOT, v->columns - LIST_COLUMNS);
    }
    draw_foot(v, b, source);
    (void)refresh();
    v->dirty = false;
}
