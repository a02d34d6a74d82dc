#define _XOPEN_SOURCE 700 /* sigaltstack; NOLINT(bugprone-reserved-identifier) */
#include "cli/term.h"

#include <fcntl.h>
#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli/err.h"
#include "cli/plain.h"

static volatile sig_atomic_t noted;
static int kept_stderr = -1;
static bool abandoned;

void sb_term_start(void) {
    /* A file opened into a closed descriptor 2 would receive our messages. */
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) < 0) /* writing to a closed standard output is to fail */
            (void)open("/dev/null", fd == 2 ? O_WRONLY : O_RDONLY);
    (void)setlocale(LC_CTYPE, ""); /* characters only: numbers keep their point */
    if (!sb_term_utf8())
        sb_plain_start();
}

void sb_term_abandon(void) {
    abandoned = true;
}

int sb_term_end(int code) {
    (void)fflush(sb_messages());
    if (abandoned)
        _Exit(code);
    if (kept_stderr >= 0) {
        (void)dup2(kept_stderr, STDERR_FILENO);
        FILE *messages = sb_messages();
        sb_messages_to(NULL);
        (void)fclose(messages); /* kept_stderr with it */
        kept_stderr = -1;
    }
    return code;
}

static bool capable(FILE *stream) {
    const char *term = getenv("TERM");
    return isatty(fileno(sb_plain_under(stream))) && term && *term && strcmp(term, "dumb") != 0;
}

bool sb_term_styled(FILE *stream) {
    const char *no_color = getenv("NO_COLOR");
    return capable(stream) && !(no_color && *no_color);
}

/* A locale that is not installed still says what the terminal shows. */
bool sb_term_utf8(void) {
    const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    if (strcmp(nl_langinfo(CODESET), "UTF-8") == 0)
        return true;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const char *value = getenv(names[i]);
        if (value && *value)
            return strstr(value, "UTF-8") || strstr(value, "utf8") || strstr(value, "UTF8") ||
                   strstr(value, "utf-8");
    }
    return false;
}

bool sb_term_redraws(FILE *stream) {
    return capable(stream);
}

size_t sb_term_columns(FILE *stream) {
    int fd = fileno(sb_plain_under(stream));
    struct winsize window = {0};
    if (!isatty(fd))
        return 0;
    return ioctl(fd, TIOCGWINSZ, &window) == 0 && window.ws_col > 0 ? window.ws_col : 80;
}

void sb_term_quiet(void) {
    if (kept_stderr >= 0)
        return;
    int null = open("/dev/null", O_WRONLY | O_CLOEXEC);
    int copy = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    FILE *stream = copy >= 0 ? fdopen(copy, "w") : NULL;
    if (null >= 0 && stream) {
        (void)setvbuf(stream, NULL, _IOLBF, 0);
        (void)fflush(stderr);
        (void)dup2(null, STDERR_FILENO);
        sb_messages_to(sb_plain_over(stream));
        kept_stderr = copy;
    } else if (stream) {
        (void)fclose(stream);
    }
    if (null >= 0)
        (void)close(null);
}

static void note(int signal_number) {
    noted = signal_number;
}

void sb_term_catch_signals(void) {
    const int caught[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction action, old;
    memset(&action, 0, sizeof action);
    action.sa_handler = note;
    action.sa_flags = (int)SA_RESETHAND; /* no SA_RESTART: a signal ends a wait */
    (void)sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < sizeof caught / sizeof *caught; i++) {
        bool hangup_ignored = caught[i] == SIGHUP && sigaction(SIGHUP, NULL, &old) == 0 &&
                              old.sa_handler == SIG_IGN; /* nohup */
        if (!hangup_ignored)
            (void)sigaction(caught[i], &action, NULL);
    }
}

/* --- while the screen is ours ------------------------------------------------------------ */

static void (*volatile restore_screen)(void);
static char spare_stack[16384]; /* a crash may be of the stack */

static const int deadly[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGQUIT, SIGSYS, SIGXCPU};
static const int ending[] = {SIGINT, SIGTERM, SIGHUP};

/* The handler is reset by then, so that the signal does what it does by itself. */
static void die(int signal_number) {
    if (restore_screen)
        restore_screen();
    (void)raise(signal_number);
}

static void note_or_die(int signal_number) {
    if (noted == 0) {
        noted = signal_number;
        return;
    }
    (void)signal(signal_number, SIG_DFL);
    die(signal_number);
}

static void handle(const int signals[], size_t n, void (*handler)(int), int flags) {
    struct sigaction action, old;
    memset(&action, 0, sizeof action);
    action.sa_handler = handler;
    action.sa_flags = flags;
    (void)sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < n; i++)
        if (sigaction(signals[i], NULL, &old) == 0 && old.sa_handler != SIG_IGN)
            (void)sigaction(signals[i], &action, NULL);
}

void sb_term_guard(void (*restore)(void)) {
    stack_t stack = {.ss_sp = spare_stack, .ss_size = sizeof spare_stack};
    restore_screen = restore;
    if (!restore)
        return;
    (void)sigaltstack(&stack, NULL);
    handle(deadly, sizeof deadly / sizeof *deadly, die, (int)SA_RESETHAND | SA_ONSTACK);
    handle(ending, sizeof ending / sizeof *ending, note_or_die, 0);
}

int sb_term_signal(void) {
    return noted;
}
