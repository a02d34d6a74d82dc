#include "core/scl.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define MAX_WHOLE 9007199254740992.0 /* 2^53: beyond, ratios are not exact */

typedef struct {
    const char *at, *end;
    size_t number;
} lines;

/* One line without its end. */
typedef struct {
    const char *at, *end;
} span;

/* The next line that is no comment. A last line without its end counts, an empty rest does not. */
static bool next_line(lines *l, span *line) {
    while (l->at < l->end) {
        const char *stop = memchr(l->at, '\n', (size_t)(l->end - l->at));
        const char *end = stop ? stop : l->end;
        *line = (span){l->at, end > l->at && end[-1] == '\r' ? end - 1 : end};
        l->at = stop ? stop + 1 : l->end;
        l->number++;
        if (line->at == line->end || *line->at != '!') {
            return true;
        }
    }
    l->number++;
    return false;
}

static void skip_blanks(span *s) {
    while (s->at < s->end && (*s->at == ' ' || *s->at == '\t')) {
        s->at++;
    }
}

static bool take(span *s, char c) {
    const bool there = s->at < s->end && *s->at == c;

    s->at += there ? 1 : 0;
    return there;
}

/* Whether nothing more belongs to the number. */
static bool at_end(const span *s) {
    return s->at == s->end || *s->at == ' ' || *s->at == '\t' || *s->at == '!';
}

/* Digits as a number, times *unit, which is a tenth lower with each where `fraction`. Returns
 * how many there were. */
static size_t take_digits(span *s, bool fraction, double *value) {
    double unit = 1.0;
    size_t n = 0;

    for (; s->at < s->end && *s->at >= '0' && *s->at <= '9'; s->at++, n++) {
        if (!fraction) {
            *value = *value * 10.0 + (*s->at - '0');
        } else if (n < 15) { /* what lies behind is nothing */
            unit *= 10.0;
            *value = *value * 10.0 + (*s->at - '0');
        }
    }
    if (fraction) {
        *value /= unit;
    }
    return n;
}

static sb_status take_ratio(span *s, double above, double *cents) {
    double below = 1.0;

    if (take(s, '/')) {
        below = 0.0;
        if (take_digits(s, false, &below) == 0) {
            return SB_E_SYNTAX;
        }
    }
    if (!at_end(s) || !(above > 0.0) || !(below > 0.0)) {
        return SB_E_SYNTAX;
    }
    *cents = 1200.0 * log2(above / below);
    return above <= MAX_WHOLE && below <= MAX_WHOLE ? SB_OK : SB_E_RANGE;
}

static sb_status take_pitch(span s, double *cents) {
    double whole = 0.0;
    double fraction = 0.0;

    skip_blanks(&s);
    const bool negative = take(&s, '-');
    const size_t digits = take_digits(&s, false, &whole);
    if (!take(&s, '.')) {
        return negative || digits == 0 ? SB_E_SYNTAX : take_ratio(&s, whole, cents);
    }
    if (digits + take_digits(&s, true, &fraction) == 0 || !at_end(&s)) {
        return SB_E_SYNTAX;
    }
    *cents = negative ? -(whole + fraction) : whole + fraction;
    return SB_OK;
}

static sb_status take_count(span s, size_t *n) {
    double count = 0.0;

    skip_blanks(&s);
    if (take_digits(&s, false, &count) == 0 || !at_end(&s)) {
        return SB_E_SYNTAX;
    }
    if (count > (double)SB_SCL_NOTES_MAX) {
        return SB_E_RANGE;
    }
    *n = (size_t)count;
    return SB_OK;
}

static void keep_description(span s, char text[SB_SCL_TEXT_MAX]) {
    const size_t length = (size_t)(s.end - s.at);
    const size_t n = length < SB_SCL_TEXT_MAX ? length : SB_SCL_TEXT_MAX - 1;

    memcpy(text, s.at, n);
    text[n] = '\0';
}

static sb_status parse(lines *l, sb_scl *scale) {
    span line;

    if (!next_line(l, &line)) {
        return SB_E_SYNTAX;
    }
    keep_description(line, scale->description);
    if (!next_line(l, &line)) {
        return SB_E_SYNTAX;
    }
    sb_status status = take_count(line, &scale->n);
    for (size_t i = 0; status == SB_OK && i < scale->n; i++) {
        if (!next_line(l, &line)) {
            return SB_E_SYNTAX;
        }
        status = take_pitch(line, &scale->cents[i]);
        if (status == SB_OK && !(fabs(scale->cents[i]) <= SB_SCL_CENTS_MAX)) {
            status = SB_E_RANGE;
        }
    }
    return status;
}

sb_status sb_scl_parse(const char *text, size_t size, sb_scl *out, size_t *line) {
    lines l = {.at = text, .end = text + size};
    sb_scl scale = {.n = 0};

    const sb_status status = memchr(text, '\0', size) ? SB_E_SYNTAX : parse(&l, &scale);
    if (status == SB_OK) {
        *out = scale;
    } else if (line) {
        *line = l.number > 0 ? l.number : 1;
    }
    return status;
}

/* Appends; `used` counts what does not fit as well. */
static void append(char *text, size_t size, size_t *used, const char *more) {
    const size_t at = *used < size ? *used : size;

    (void)snprintf(size > 0 ? text + (at < size ? at : size - 1) : NULL, at < size ? size - at : 0,
                   "%s", more);
    *used += strlen(more);
}

/* Through integers, because "%f" writes the locale's decimal point. */
static void append_cents(char *text, size_t size, size_t *used, double cents) {
    char line[48];
    const long long scaled = llround(fabs(cents) * 1e9);

    (void)snprintf(line, sizeof line, " %s%lld.%09lld\n", cents < 0.0 && scaled > 0 ? "-" : "",
                   scaled / 1000000000, scaled % 1000000000);
    append(text, size, used, line);
}

size_t sb_scl_format(const sb_scl *scale, char *text, size_t size) {
    char count[32];
    size_t used = 0;

    /* A description that looks like a comment would be one. */
    append(text, size, &used, scale->description[0] == '!' ? " " : "");
    append(text, size, &used, scale->description);
    (void)snprintf(count, sizeof count, "\n %zu\n", scale->n);
    append(text, size, &used, count);
    for (size_t i = 0; i < scale->n; i++) {
        append_cents(text, size, &used, scale->cents[i]);
    }
    return used;
}

double sb_scl_degree_cents(const sb_scl *scale, int degree) {
    if (degree == 0) {
        return 0.0;
    }
    if (scale->n == 0 || degree < 0) {
        return (double)NAN;
    }
    const int n = (int)scale->n;
    const int rest = degree % n, repeats = degree / n;
    return repeats * scale->cents[n - 1] + (rest > 0 ? scale->cents[rest - 1] : 0.0);
}
