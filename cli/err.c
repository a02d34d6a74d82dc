#include "cli/err.h"

#include <poll.h>
#include <stdarg.h>
#include <stdbool.h>
#include <unistd.h>

#include "cli/text.h"

#define LINE_MAX_BYTES 400

static FILE *elsewhere;

FILE *sb_messages(void) {
    return elsewhere ? elsewhere : stderr;
}

void sb_messages_to(FILE *stream) {
    elsewhere = stream;
}

static void say(const char *subject, const char *what, va_list values) SB_PRINTF(2, 0);

static void say(const char *subject, const char *what, va_list values) {
    char raw[LINE_MAX_BYTES], clean[LINE_MAX_BYTES];
    (void)vsnprintf(raw, sizeof raw, what, values);
    sb_text_clean(raw, clean, sizeof clean);
    (void)fprintf(sb_messages(), "setback: %s", clean);
    if (subject) {
        sb_text_clean(subject, clean, sizeof clean);
        (void)fprintf(sb_messages(), ": '%s'", clean);
    }
    (void)fputc('\n', sb_messages());
}

int sb_fail(int code, const char *hint, const char *subject, const char *what, ...) {
    /* What was already found belongs before what went wrong. */
    (void)fflush(stdout);
    va_list values;
    va_start(values, what);
    say(subject, what, values);
    va_end(values);
    char clean[LINE_MAX_BYTES];
    sb_text_clean(hint, clean, sizeof clean);
    (void)fprintf(sb_messages(), "  %s\n", clean);
    (void)fflush(sb_messages());
    return code;
}

void sb_warn(const char *subject, const char *what, ...) {
    va_list values;
    va_start(values, what);
    say(subject, what, values);
    va_end(values);
    (void)fflush(sb_messages());
}

/* errno may be long lost by the end, since any print may have met the broken pipe. */
static bool reader_went_away(void) {
    struct pollfd end = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&end, 1, 0) == 1 && (end.revents & POLLERR) != 0;
}

int sb_close_stdout(int code) {
    bool failed = ferror(stdout) != 0;
    failed = fflush(stdout) != 0 || failed;
    bool gone = reader_went_away(); /* not before: it may go while that is written */
    failed = fclose(stdout) != 0 || failed;
    if (!failed || gone)
        return code;
    return sb_fail(EX_IOERR, "see whether the disk is full or the file may be written", NULL,
                   "the output could not be written");
}
