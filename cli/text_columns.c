#define _XOPEN_SOURCE 700 /* wcwidth; NOLINT(bugprone-reserved-identifier) */
#include <stdbool.h>
#include <stdint.h>
#include <string.h>
#include <wchar.h>

#include "cli/plain.h"
#include "cli/text.h"

#define ELLIPSIS "\u2026"

/* --- counting ------------------------------------------------------------------------------ */

/* Columns of the character at `text`, and in *n its bytes. */
static size_t columns_of(char before, const char *text, size_t *n) {
    const char *sign = sb_plain() ? sb_plain_sign(before, text, n) : NULL;
    if (sign)
        return strlen(sign);
    for (*n = 1; ((unsigned char)text[*n] & 0xc0) == 0x80;)
        ++*n;
    mbstate_t state = {0};
    wchar_t character = 0;
    if (*n == 1 || mbrtowc(&character, text, *n, &state) != *n)
        return 1;
    int columns = wcwidth(character);
    return columns < 0 ? 1 : (size_t)columns;
}

/* How many bytes of `text` there is room for, characters whole and with what stands on them;
 * lowers *columns by what they take. */
static size_t fitting(const char *text, size_t bytes, size_t *columns) {
    size_t used = 0, n;
    while (used < bytes) {
        size_t takes = columns_of(used > 0 ? text[used - 1] : '\0', text + used, &n);
        if (takes > *columns)
            break;
        *columns -= takes;
        used += n;
    }
    return used;
}

static size_t width_of(const char *text, size_t bytes) {
    size_t left = SIZE_MAX;
    (void)fitting(text, bytes, &left);
    return SIZE_MAX - left;
}

size_t sb_text_width(const char *text) {
    return width_of(text, strlen(text));
}

void sb_text_cut(char *text, size_t columns) {
    text[fitting(text, strlen(text), &columns)] = '\0';
}

/* --- printing ------------------------------------------------------------------------------ */

static void fill(FILE *out, size_t columns) {
    for (; columns > 0; columns--)
        (void)fputc(' ', out);
}

void sb_text_pad(FILE *out, const char *text, size_t width) {
    size_t used = sb_text_width(text);
    (void)fputs(text, out);
    fill(out, used < width ? width - used : 0);
}

void sb_text_fit(FILE *out, const char *text, size_t width) {
    size_t dots = sb_text_width(ELLIPSIS), left = width - dots;
    if (sb_text_width(text) <= width || width < dots) {
        sb_text_pad(out, text, width);
        return;
    }
    size_t n = fitting(text, strlen(text), &left);
    (void)fprintf(out, "%.*s" ELLIPSIS, (int)n, text);
    fill(out, left);
}

static void new_line(FILE *out, size_t indent, size_t *column) {
    (void)fputc('\n', out);
    fill(out, indent);
    *column = indent;
}

void sb_text_wrap(FILE *out, const char *text, size_t column, size_t indent, size_t width) {
    bool first = true;
    while (*text) {
        if (*text == '\n') {
            new_line(out, indent, &column);
            first = true;
            text++;
            continue;
        }
        size_t n = strcspn(text, " \n"), takes = width_of(text, n);
        if (!first && column + 1 + takes > width) {
            new_line(out, indent, &column);
            first = true;
        }
        column += takes + !first;
        (void)fprintf(out, "%s%.*s", first ? "" : " ", (int)n, text);
        first = false;
        text += n + (text[n] == ' ');
    }
    (void)fputc('\n', out);
}
