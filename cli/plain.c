#define _GNU_SOURCE /* fopencookie; NOLINT(bugprone-reserved-identifier) */
#include "cli/plain.h"

#include <ctype.h>
#include <string.h>
#include <unistd.h>

#include "cli/err.h"

/* Standard output, messages, and messages while the sound libraries are quiet. */
#define STREAMS  3
#define SIGN_MAX 4 /* bytes */

static bool started;

const char *sb_plain_sign(char before, const char *text, size_t *length) {
    static const struct {
        const char *sign, *alone, *after_digit; /* NULL = the same */
    } signs[] = {
        {"±", "+-", NULL},    {"−", "-", NULL},     {"×", "x", NULL},     {"…", "...", NULL},
        {"Ω", "ohm", NULL},   {"½", "1/2", ".5"},   {"¼", "1/4", " 1/4"}, {"¾", "3/4", " 3/4"},
        {"⅓", "1/3", " 1/3"}, {"⅔", "2/3", " 2/3"}, {"⅛", "1/8", " 1/8"}, {"⅜", "3/8", " 3/8"},
        {"⅝", "5/8", " 5/8"}, {"⅞", "7/8", " 7/8"},
    };
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        *length = strlen(signs[i].sign);
        if (strncmp(text, signs[i].sign, *length) == 0)
            return signs[i].after_digit && isdigit((unsigned char)before) ? signs[i].after_digit
                                                                          : signs[i].alone;
    }
    return NULL;
}

bool sb_plain(void) {
    return started;
}

/* --- streams ------------------------------------------------------------------------------ */

typedef struct {
    FILE *over, *under;
    char held[SIGN_MAX + 1]; /* a character of which the rest is to come */
    size_t n;
    char before;
} plain_stream;

static plain_stream streams[STREAMS];

FILE *sb_plain_under(FILE *stream) {
    for (size_t i = 0; i < STREAMS; i++)
        if (stream && streams[i].over == stream)
            return streams[i].under;
    return stream;
}

#ifdef __GLIBC__

static size_t length_of(char first) {
    unsigned char c = (unsigned char)first;
    return c >= 0xf0 ? 4 : c >= 0xe0 ? 3 : c >= 0xc0 ? 2 : 1;
}

static void give_out(plain_stream *s) {
    size_t length;
    s->held[s->n] = '\0';
    const char *sign = sb_plain_sign(s->before, s->held, &length);
    (void)fwrite(sign ? sign : s->held, 1, sign ? strlen(sign) : s->n, s->under);
    s->before = sign ? ' ' : s->held[0];
    s->n = 0;
}

static ssize_t write_plain(void *cookie, const char *data, size_t n) {
    plain_stream *s = cookie;
    for (size_t i = 0; i < n; i++) {
        if (s->n > 0 && ((unsigned char)data[i] & 0xc0) != 0x80)
            give_out(s); /* it was cut short */
        s->held[s->n++] = data[i];
        if (s->n >= length_of(s->held[0]))
            give_out(s);
    }
    return fflush(s->under) == 0 && !ferror(s->under) ? (ssize_t)n : 0;
}

static int close_plain(void *cookie) {
    plain_stream *s = cookie;
    if (s->n > 0)
        give_out(s);
    s->over = NULL;
    return fclose(s->under);
}

FILE *sb_plain_over(FILE *under) {
    const cookie_io_functions_t calls = {.write = write_plain, .close = close_plain};
    size_t i = 0;
    while (i < STREAMS && streams[i].over)
        i++;
    if (!started || !under || i == STREAMS)
        return under;
    streams[i] = (plain_stream){.under = under};
    streams[i].over = fopencookie(&streams[i], "w", calls);
    if (!streams[i].over)
        return under;
    (void)setvbuf(streams[i].over, NULL, isatty(fileno(under)) ? _IOLBF : _IOFBF, BUFSIZ);
    return streams[i].over;
}

void sb_plain_start(void) {
    started = true;
    stdout = sb_plain_over(stdout);
    FILE *messages = sb_plain_over(stderr);
    if (messages == stderr)
        return;
    (void)setvbuf(messages, NULL, _IONBF, 0);
    sb_messages_to(messages);
}

#else

FILE *sb_plain_over(FILE *under) {
    return under;
}

void sb_plain_start(void) {
}

#endif
