#include "cli/view.h"

#include <curses.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/print.h"
#include "cli/text.h"
#include "cli/view_figures.h"
#include "cli/view_guard.h"
#include "cli/view_layout.h"
#include "core/pitch.h"

#define REDRAW_S     0.1 /* of the level; news are drawn at once */
#define LIST_COLUMNS 31
#define FIGURE_UNITS 49 /* columns that the widest line of figures takes at size 1 */
#define LEAST_ROWS   24
#define LEAST_COLS   (FIGURE_UNITS + LIST_COLUMNS)
#define TOP          1
#define FOOT         5 /* lines below the figures: remark, note, level, news, keys */
#define CAPTIONS     3
#define LEVEL_CELLS  24
#define LEVEL_FLOOR  (-60.0)
#define ESCAPE       27
#define KEYS         "m moved as asked   e say more   up/down look at a string   h help   q end"

struct sb_view {
    size_t looked_at; /* a string chosen by key; 0 = the one that sounded last */
    size_t sounding;  /* string of the note that rings, 0 = none */
    bool fretted, known_note;
    double hz, cents;
    char news[200];
    bool typing, help, dirty, utf8, cautioned;
    char typed[200];
    double drawn_s;
    int rows, columns;
    int unit_rows, unit_columns; /* cells of a figure's unit; 0 = no figures */
    int gap;                     /* lines above each line of figures */
};

static double clock_s(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* --- text -------------------------------------------------------------------------------- */

/* What a terminal without UTF-8 shows in place of the few characters that are used. */
static void to_ascii(const char *in, char *out, size_t size) {
    static const char *const pairs[][2] = {
        {"±", "+-"},   {"¼", " 1/4"}, {"½", " 1/2"}, {"¾", " 3/4"},
        {"⅛", " 1/8"}, {"⅜", " 3/8"}, {"⅝", " 5/8"}, {"⅞", " 7/8"},
    };
    size_t used = 0;
    while (*in && used + 5 < size) {
        size_t k = 0, n = sizeof pairs / sizeof *pairs;
        while (k < n && strncmp(in, pairs[k][0], strlen(pairs[k][0])) != 0)
            k++;
        if (k < n) {
            used += (size_t)snprintf(out + used, size - used, "%s", pairs[k][1]);
            in += strlen(pairs[k][0]);
        } else if (((unsigned char)*in & 0x80) == 0) {
            out[used++] = *in++;
        } else {
            out[used++] = '?';
            for (in++; ((unsigned char)*in & 0xc0) == 0x80;)
                in++;
        }
    }
    out[used] = '\0';
}

/* Cuts UTF-8 after so many columns. */
static void cut(char *text, int columns) {
    for (; *text; text++)
        if (((unsigned char)*text & 0xc0) != 0x80 && columns-- <= 0)
            *text = '\0';
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
    cut(text, columns);
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

static size_t focus(const sb_view *v, const sb_bench *b) {
    return v->looked_at > 0 ? v->looked_at : v->sounding > 0 ? v->sounding : b->last_string;
}

static void draw_string(const sb_view *v, const sb_bench *b, size_t string, int row, int column) {
    const sb_string_progress *p = &b->progress.strings[string - 1];
    char note[SB_NOTE_TEXT_MAX], error[12] = "";
    bool bold = string == focus(v, b);
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
        first = (int)focus(v, b) - 1 - room / 2;
        first = first < 0 ? 0 : first > n - room ? n - room : first;
    }
    for (int i = 0; i < room && first + i < n; i++)
        draw_string(v, b, (size_t)(first + i + 1), from + i, column);
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
    if (!v->fretted && v->known_note)
        put(v, row, 30, v->columns, "%+.1f cents from its note", v->cents);
    (void)b;
}

static void draw_foot(const sb_view *v, const sb_bench *b, const sb_source *source) {
    size_t string = focus(v, b);
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
    size_t string = focus(v, b);
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

static void draw(sb_view *v, const sb_bench *b, const sb_source *source) {
    sb_view_figures figures;
    measure_screen(v);
    (void)erase();
    draw_head(v, b, source);
    if (v->help)
        draw_help(v);
    else if (v->unit_rows == 0)
        draw_small(v, b);
    else {
        sb_view_say(b, focus(v, b), &figures);
        draw_figures(v, &figures);
        draw_strings(v, b, TOP + v->gap, v->rows - FOOT, v->columns - LIST_COLUMNS);
    }
    draw_foot(v, b, source);
    (void)refresh();
    v->dirty = false;
    v->drawn_s = clock_s();
}

/* --- news -------------------------------------------------------------------------------- */

static void say(sb_view *v, const char *format, ...) SB_PRINTF(2, 3);

static void say(sb_view *v, const char *format, ...) {
    va_list values;
    va_start(values, format);
    (void)vsnprintf(v->news, sizeof v->news, format, values);
    va_end(values);
    v->dirty = true;
}

static void show_note(sb_view *v, const sb_bench *b, const sb_news *news) {
    v->sounding = news->string;
    v->fretted = news->fretted;
    v->hz = news->reading->hz;
    v->looked_at = 0;
    v->known_note = news->string > 0;
    if (v->known_note)
        v->cents = sb_cents_between(
            sb_note_hz(b->progress.instrument.strings[news->string - 1].semitone, b->options.a4_hz),
            v->hz);
}

static void tell_settling(sb_view *v, const sb_news *news) {
    say(v, "string %zu: %s (%+.1f cents a minute)", news->string,
        news->settling.kind == SB_SETTLE_STRETCH ? "still falling: stretch it again and tune"
                                                 : "settled",
        news->settling.drift_cents_per_min);
}

static void tell_move(sb_view *v, const sb_bench *b, const sb_news *news) {
    char move[160];
    sb_bench_move_text(b, sb_progress_saddle(&b->progress, news->string), news->move_mm,
                       news->end_mm, move, sizeof move);
    say(v, "saddle of string %zu %s %s", news->string,
        news->inferred ? "was moved, by its readings:" : "moved", move);
}

static void tell(void *context, const sb_bench *b, const sb_news *news) {
    sb_view *v = context;
    switch (news->kind) {
    case SB_NEWS_SOUNDING: show_note(v, b, news); break;
    case SB_NEWS_NOTE:
        show_note(v, b, news);
        say(v, "saved: string %zu %s", news->string, news->fretted ? "fretted" : "open");
        break;
    case SB_NEWS_LEFT_OUT: say(v, "left out: %s", news->text); break;
    case SB_NEWS_READING:
        if (!v->cautioned && b->progress.strings[news->string - 1].state == SB_STRING_DUE) {
            v->cautioned = true;
            say(v, "slacken a string before its saddle is moved, with your eyes protected");
        }
        break;
    case SB_NEWS_MOVED: tell_move(v, b, news); break;
    case SB_NEWS_CHANGED: say(v, "%s: noted", sb_change_text(news->change)); break;
    case SB_NEWS_NOTED: say(v, "noted"); break;
    case SB_NEWS_SETTLING: tell_settling(v, news); break;
    case SB_NEWS_ELSEWHERE: break;
    }
    v->dirty = true;
}

static void trouble(void *context, const char *what, const char *subject) {
    if (subject)
        say(context, "%s: %s", subject, what);
    else
        say(context, "%s", what);
}

static void begin(void *context, const sb_bench *b) {
    const bool *seen = b->progress.seen;
    sb_view *v = context;
    if (!seen[SB_CHANGE_RELIEF] || !seen[SB_CHANGE_NUT] || !seen[SB_CHANGE_ACTION])
        say(v, "relief, nut slots and action first: later changes spoil the readings");
    v->dirty = true;
}

/* --- keys -------------------------------------------------------------------------------- */

/* True when the line is whole. */
static bool type(sb_view *v, int key) {
    size_t n = strlen(v->typed);
    v->dirty = true;
    if (key == ESCAPE) {
        v->typing = false;
    } else if (key == '\r' || key == '\n' || key == KEY_ENTER) {
        v->typing = false;
        return n > 0;
    } else if (key == KEY_BACKSPACE || key == 127 || key == '\b') {
        while (n > 0 && ((unsigned char)v->typed[--n] & 0xc0) == 0x80) {
        }
        v->typed[n] = '\0';
    } else if (key >= ' ' && key < 256 && n + 1 < sizeof v->typed) {
        v->typed[n] = (char)key;
        v->typed[n + 1] = '\0';
    }
    return false;
}

static void look(sb_view *v, const sb_bench *b, int step) {
    int n = (int)b->progress.instrument.n_strings, at = (int)focus(v, b) + step;
    v->looked_at = (size_t)(at < 1 ? n : at > n ? 1 : at);
}

/* True when the key stands for an order, which is written to `line`. */
static bool press(sb_view *v, const sb_bench *b, int key, char *line, size_t size) {
    bool helped = v->help;
    v->dirty = true;
    v->help = false;
    if (helped && key != 'q')
        return false;
    switch (key) {
    case 'm': (void)snprintf(line, size, "moved %zu", focus(v, b)); return focus(v, b) > 0;
    case 'e':
    case ':':
        v->typing = true;
        v->typed[0] = '\0';
        return false;
    case KEY_UP: look(v, b, -1); return false;
    case KEY_DOWN: look(v, b, 1); return false;
    case 'h':
    case '?': v->help = true; return false;
    case 'q': (void)snprintf(line, size, "quit"); return true;
    default: return false;
    }
}

static bool typed(void *context, const sb_bench *b, char *line, size_t size) {
    sb_view *v = context;
    for (int key = getch(); key != ERR; key = getch()) {
        if (key == KEY_RESIZE) {
            v->dirty = true;
        } else if (v->typing) {
            if (!type(v, key))
                continue;
            (void)snprintf(line, size, "%s", v->typed);
            return true;
        } else if (press(v, b, key, line, size)) {
            return true;
        }
    }
    return false;
}

/* --- the front --------------------------------------------------------------------------- */

static void step(void *context, const sb_bench *b, const sb_source *source) {
    sb_view *v = context;
    sb_meter meter = sb_source_meter(source);
    if (!meter.sounding && v->sounding > 0 && b->last_string > 0) {
        v->sounding = 0;
        v->dirty = true;
    }
    if (v->dirty || clock_s() - v->drawn_s >= REDRAW_S)
        draw(v, b, source);
}

static void show(void *context, const sb_bench *b, bool help) {
    sb_view *v = context;
    (void)b;
    v->help = help;
    v->dirty = true;
}

static bool end(void *context, const sb_bench *b) {
    sb_lines lines = {.failed = false};
    sb_front plain = sb_plain_front(&lines);
    (void)context;
    sb_screen_give_back();
    return plain.end(plain.context, b);
}

int sb_view_open(sb_view **view) {
    sb_view *v = calloc(1, sizeof *v);
    if (!v)
        return sb_complain_memory();
    if (!sb_screen_take()) {
        free(v);
        return sb_fail(EX_UNAVAILABLE, "use --plain, or set TERM to what the terminal is", NULL,
                       "the terminal cannot show a screen");
    }
    v->utf8 = sb_screen_utf8();
    *view = v;
    return EX_OK;
}

void sb_view_close(sb_view *view) {
    if (view)
        sb_screen_give_back();
    free(view);
}

sb_front sb_view_front(sb_view *view) {
    return (sb_front){view, begin, tell, trouble, typed, step, show, end};
}
