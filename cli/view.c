#include <curses.h>
#include <poll.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "audio/errand.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/view_guard.h"
#include "cli/view_parts.h"
#include "core/pitch.h"

#define REDRAW_S 0.1 /* of the level; news are drawn at once */
#define ESCAPE   27

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
    case SB_NEWS_UNDECIDED:
        say(v, "%.1f Hz may be of several strings: pluck its other note too", news->reading->hz);
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
    int n = (int)b->progress.instrument.n_strings, at = (int)sb_view_focus(v, b) + step;
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
    case 'm':
        (void)snprintf(line, size, "moved %zu", sb_view_focus(v, b));
        return sb_view_focus(v, b) > 0;
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

/* The terminal went away, and its signal was ignored (nohup). */
static bool terminal_gone(void) {
    struct pollfd in = {.fd = STDIN_FILENO};
    return poll(&in, 1, 0) > 0 && (in.revents & (POLLHUP | POLLERR | POLLNVAL));
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
    if (!terminal_gone())
        return false;
    (void)snprintf(line, size, "quit");
    return true;
}

/* --- the front --------------------------------------------------------------------------- */

static void step(void *context, const sb_bench *b, const sb_source *source) {
    sb_view *v = context;
    sb_meter meter = sb_source_meter(source);
    if (!meter.sounding && v->sounding > 0 && b->last_string > 0) {
        v->sounding = 0;
        v->dirty = true;
    }
    if (v->dirty || sb_clock_s() - v->drawn_s >= REDRAW_S) {
        sb_view_draw(v, b, source);
        v->drawn_s = sb_clock_s();
    }
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
