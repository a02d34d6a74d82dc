#include "cli/text.h"

#include <stdbool.h>
#include <string.h>

#define WORD_MAX 48

/* A well-formed character that is not to be seen, but changes how what stands around it is: of no
 * width, or turning the direction of writing (Unicode Standard, chapters 9.2 and 23). */
static bool unseen(const unsigned char *s) {
    static const struct {
        unsigned from, to;
    } ranges[] = {
        {0x61c, 0x61c}, {0x200b, 0x200f}, {0x2028, 0x202e}, {0x2060, 0x206f}, {0xfeff, 0xfeff}};
    unsigned code = s[0] < 0xc2   ? 0
                    : s[0] < 0xe0 ? (s[0] & 0x1fU) << 6 | (s[1] & 0x3fU)
                    : s[0] < 0xf0 ? (s[0] & 0xfU) << 12 | (s[1] & 0x3fU) << 6 | (s[2] & 0x3fU)
                                  : 0;
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++)
        if (code >= ranges[i].from && code <= ranges[i].to)
            return true;
    return false;
}

/* Bytes of the well-formed UTF-8 character at s, 0 if it is none or a control character
 * (Unicode Standard, table 3-7). */
static size_t printable_length(const unsigned char *s) {
    if (s[0] < 0x80)
        return s[0] >= 0x20 && s[0] != 0x7f;
    size_t n = s[0] >= 0xf0 ? 4 : s[0] >= 0xe0 ? 3 : 2;
    if (s[0] < 0xc2 || s[0] > 0xf4)
        return 0;
    for (size_t i = 1; i < n; i++)
        if ((s[i] & 0xc0) != 0x80)
            return 0;
    bool wrong = (s[0] == 0xc2 && s[1] < 0xa0) /* C1 controls */
                 || (s[0] == 0xe0 && s[1] < 0xa0) || (s[0] == 0xed && s[1] > 0x9f) ||
                 (s[0] == 0xf0 && s[1] < 0x90) || (s[0] == 0xf4 && s[1] > 0x8f);
    return wrong ? 0 : n;
}

void sb_text_clean(const char *in, char *out, size_t size) {
    size_t used = 0;
    while (*in) {
        size_t n = printable_length((const unsigned char *)in);
        bool kept = n > 0 && !unseen((const unsigned char *)in);
        size_t takes = kept ? n : 1;
        if (used + takes + 1 > size)
            break;
        if (kept)
            memcpy(out + used, in, n);
        else
            out[used] = '?';
        used += takes;
        in += n ? n : 1;
    }
    out[used] = '\0';
}

void sb_text_markup(FILE *out, const char *clean) {
    for (const char *c = clean; *c; c++) {
        switch (*c) {
        case '&': (void)fputs("&amp;", out); break;
        case '<': (void)fputs("&lt;", out); break;
        case '>': (void)fputs("&gt;", out); break;
        case '"': (void)fputs("&quot;", out); break;
        case '\'': (void)fputs("&#39;", out); break;
        default: (void)fputc(*c, out); break;
        }
    }
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

static size_t distance(const char *a, const char *b) {
    size_t rows[3][WORD_MAX + 1]; /* the last three of the table */
    size_t n = strlen(a), m = strlen(b);
    if (n > WORD_MAX || m > WORD_MAX)
        return WORD_MAX;
    for (size_t j = 0; j <= m; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t *now = rows[i % 3], *last = rows[(i + 2) % 3], *before = rows[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t swap = last[j - 1] + (a[i - 1] != b[j - 1]);
            now[j] = least(swap, 1 + least(last[j], now[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                now[j] = least(now[j], before[j - 2] + 1);
        }
    }
    return rows[n % 3][m];
}

const char *sb_text_nearest(const char *word, const char *const names[], size_t n) {
    const char *nearest = NULL;
    size_t best = WORD_MAX;
    for (size_t i = 0; i < n; i++) {
        size_t length = strlen(names[i]), d = distance(word, names[i]);
        /* A word begun right ("meas") counts as one slip. */
        if (strlen(word) > 1 && strncmp(word, names[i], strlen(word)) == 0)
            d = 1;
        if (d < best && d <= 1 + length / 3) {
            best = d;
            nearest = names[i];
        }
    }
    return nearest;
}
