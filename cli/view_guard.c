/* <term.h> defines words such as `lines` and `columns`: no other file includes it. */
#include "cli/view_guard.h"

#include <curses.h>
#include <langinfo.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <term.h>
#include <termios.h>
#include <unistd.h>

#include "cli/plain.h"
#include "cli/term.h"

#define SEQUENCES_MAX 256

static struct termios before;
static char give_back[SEQUENCES_MAX]; /* what the terminal is sent in the end */
static SCREEN *screen;

bool sb_screen_possible(void) {
    return isatty(STDIN_FILENO) && sb_term_redraws(stdout);
}

/* Appends a capability without the padding that it may ask for: "$<5>". */
static void add_capability(const char *name) {
    char asked[16];
    (void)snprintf(asked, sizeof asked, "%s", name);
    const char *text = tigetstr(asked);
    size_t used = strlen(give_back);
    if (text == NULL || (intptr_t)text == -1) /* not there, or no such thing */
        return;
    while (*text && used < sizeof give_back - 1) {
        const char *end = strncmp(text, "$<", 2) == 0 ? strchr(text, '>') : NULL;
        if (end) {
            text = end + 1;
            continue;
        }
        give_back[used++] = *text++;
    }
    give_back[used] = '\0';
}

/* For a signal handler: no more than write and tcsetattr. */
static void give_back_at_once(void) {
    for (size_t sent = 0, n = strlen(give_back); sent < n;) {
        ssize_t part = write(STDOUT_FILENO, give_back + sent, n - sent);
        if (part <= 0)
            break;
        sent += (size_t)part;
    }
    (void)tcsetattr(STDIN_FILENO, TCSANOW, &before);
}

bool sb_screen_take(void) {
    if (tcgetattr(STDIN_FILENO, &before) != 0)
        return false;
    screen = newterm(NULL, sb_plain_under(stdout), stdin);
    if (!screen)
        return false;
    (void)set_term(screen);
    give_back[0] = '\0';
    const char *const names[] = {"rmkx", "sgr0", "cnorm", "rmcup"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        add_capability(names[i]);
    sb_term_guard(give_back_at_once);
    (void)atexit(sb_screen_give_back);
    (void)cbreak();
    (void)noecho();
    (void)nonl();
    (void)keypad(stdscr, TRUE);
    (void)nodelay(stdscr, TRUE);
    (void)curs_set(0);
    (void)set_escdelay(25);
    return true;
}

void sb_screen_give_back(void) {
    if (!screen)
        return;
    (void)curs_set(1);
    (void)endwin();
    sb_term_guard(NULL);
    delscreen(screen);
    screen = NULL;
}

bool sb_screen_utf8(void) {
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}
