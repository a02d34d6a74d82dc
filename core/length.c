#include "core/length.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define MAX_MM       10000.0
#define MAX_DECIMALS 6

typedef struct {
    const char *text;
    double value;
} symbol;

/* Longest first where one is the start of another: they are matched by prefix. */
static const symbol vulgar_fractions[] = {
    {"\u00bd", 1.0 / 2.0}, {"\u00bc", 1.0 / 4.0}, {"\u00be", 3.0 / 4.0},
    {"\u2153", 1.0 / 3.0}, {"\u2154", 2.0 / 3.0}, {"\u215b", 1.0 / 8.0},
    {"\u215c", 3.0 / 8.0}, {"\u215d", 5.0 / 8.0}, {"\u215e", 7.0 / 8.0},
};

/* "mil" is left out on purpose: it means 0.001 in to some and a millimetre to others. */
static const symbol units[] = {
    {"mm", 1.0},
    {"cm", 10.0},
    {"m", 1000.0},
    {"in", SB_MM_PER_INCH},
    {"inch", SB_MM_PER_INCH},
    {"inches", SB_MM_PER_INCH},
    {"\"", SB_MM_PER_INCH},
    {"\u2033", SB_MM_PER_INCH}, /* double prime */
    {"\u201d", SB_MM_PER_INCH}, /* what a word processor makes of a straight quote */
    {"''", SB_MM_PER_INCH},
    {"thou", SB_MM_PER_INCH / 1000.0},
};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* One part of a length's number: "25", "4.5", "½", "4½", "41/64", "4½/64". */
typedef struct {
    double value;
    bool whole;    /* digits only, so that a fraction may follow */
    bool fraction; /* written as a fraction */
} part;

static bool take(const char **text, const char *token) {
    const size_t length = strlen(token);

    if (strncmp(*text, token, length) != 0) {
        return false;
    }
    *text += length;
    return true;
}

static size_t skip_spaces(const char **text) {
    size_t n = 0;

    while (take(text, " ") || take(text, "\t") || take(text, "\u00a0")) {
        n++;
    }
    return n;
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

static double power_of_ten(size_t exponent) {
    double power = 1.0; /* exact up to 10^22 */

    for (size_t i = 0; i < exponent && isfinite(power); i++) {
        power *= 10.0;
    }
    return power;
}

/* Decimal digits gathered so far: value = mantissa * 10^dropped / 10^decimals. */
typedef struct {
    uint64_t mantissa;
    size_t digits, dropped, decimals;
} digit_run;

static void add_digit(digit_run *run, char c, bool after_point) {
    const bool fits = run->mantissa < 100000000000000000U; /* 10^17: a double has no more */

    run->digits++;
    if (fits) {
        run->mantissa = 10U * run->mantissa + (uint64_t)(c - '0');
        run->decimals += after_point ? 1U : 0U;
    } else {
        run->dropped += after_point ? 0U : 1U;
    }
}

/* Not strtod, which reads the locale's decimal point, hexadecimal, "inf" and "nan". With
 * up to 15 digits the one division of two exact numbers rounds correctly. */
static bool take_decimal(const char **text, double *value, bool *whole) {
    digit_run run = {0};
    bool point = false;

    for (;; (*text)++) {
        if (is_digit(**text)) {
            add_digit(&run, **text, point);
        } else if (**text == '.' && !point) {
            point = true;
        } else {
            break;
        }
    }
    *value = (double)run.mantissa * power_of_ten(run.dropped) / power_of_ten(run.decimals);
    *whole = !point;
    return run.digits > 0;
}

static bool take_vulgar(const char **text, double *value) {
    for (size_t i = 0; i < COUNT(vulgar_fractions); i++) {
        if (take(text, vulgar_fractions[i].text)) {
            *value = vulgar_fractions[i].value;
            return true;
        }
    }
    return false;
}

/* Takes "/64" and divides by it; true when there is none. */
static bool take_denominator(const char **text, part *p) {
    double denominator = 0.0;
    bool whole = false;

    if (!take(text, "/") && !take(text, "\u2044")) {
        return true;
    }
    if (!take_decimal(text, &denominator, &whole) || !whole || !(denominator > 0.0)) {
        return false;
    }
    p->value /= denominator;
    p->fraction = true;
    p->whole = false;
    return true;
}

static bool take_part(const char **text, part *p) {
    const char *start = *text;
    double vulgar = 0.0;

    *p = (part){.value = 0.0, .whole = true, .fraction = false};
    const bool decimal = is_digit(*start) || *start == '.';
    if (decimal && !take_decimal(text, &p->value, &p->whole)) {
        return false;
    }
    if (take_vulgar(text, &vulgar)) {
        if (!p->whole) { /* "4.5½" */
            return false;
        }
        p->value += vulgar;
        p->fraction = true;
        p->whole = false;
    }
    return *text != start && take_denominator(text, p);
}

/* Takes the gap of a mixed number, a hyphen or spaces with a number behind them, and
 * leaves the spaces before a unit alone. */
static bool take_gap(const char **text) {
    const char *ahead = *text;
    double ignored = 0.0;

    if (!take(&ahead, "-") && skip_spaces(&ahead) == 0) {
        return false;
    }
    const char *number = ahead;
    if (!is_digit(*ahead) && *ahead != '.' && !take_vulgar(&ahead, &ignored)) {
        return false;
    }
    *text = number;
    return true;
}

/* A whole number may be followed by a proper fraction: "25 1/2", "25-1/2", "25 ½". */
static bool take_number(const char **text, double *value) {
    part first = {0};
    part second = {0};

    if (!take_part(text, &first)) {
        return false;
    }
    if (first.whole && take_gap(text)) {
        if (!take_part(text, &second) || !second.fraction || !(second.value < 1.0)) {
            return false;
        }
    }
    *value = first.value + second.value;
    return true;
}

static bool take_sign(const char **text) {
    if (take(text, "-") || take(text, "\u2212")) {
        return true;
    }
    (void)take(text, "+");
    return false;
}

/* Whether `text` is `word`, ASCII letters in either case, and spaces at most after it.
 * By hand, because strcasecmp follows the locale. */
static bool is_word(const char *text, const char *word) {
    for (; *word != '\0'; text++, word++) {
        const bool upper = *text >= 'A' && *text <= 'Z';
        if ((upper ? *text - 'A' + 'a' : *text) != *word) {
            return false;
        }
    }
    (void)skip_spaces(&text);
    return *text == '\0';
}

static bool read_unit(const char *text, double bare_unit_mm, double *unit_mm) {
    if (*text == '\0') {
        *unit_mm = bare_unit_mm;
        return bare_unit_mm > 0.0;
    }
    for (size_t i = 0; i < COUNT(units); i++) {
        if (is_word(text, units[i].text)) {
            *unit_mm = units[i].value;
            return true;
        }
    }
    return false;
}

sb_status sb_length_parse(const char *text, double bare_unit_mm, double *mm) {
    double number = 0.0;
    double unit_mm = 0.0;

    (void)skip_spaces(&text);
    const bool negative = take_sign(&text);
    if (!take_number(&text, &number)) {
        return SB_E_SYNTAX;
    }
    (void)skip_spaces(&text);
    if (!read_unit(text, bare_unit_mm, &unit_mm)) {
        return SB_E_SYNTAX;
    }
    const double magnitude = number * unit_mm;
    if (!(magnitude <= MAX_MM)) {
        return SB_E_RANGE;
    }
    *mm = negative && magnitude > 0.0 ? -magnitude : magnitude;
    return SB_OK;
}

/* "n/a" for what no ruler can show; false when the length may be written. */
static bool format_unshowable(double mm, char *text, size_t size) {
    if (fabs(mm) <= MAX_MM) {
        return false;
    }
    (void)snprintf(text, size, "n/a");
    return true;
}

/* Through integers, because "%f" writes the locale's decimal point; and no "-0.00". */
void sb_length_format_mm(double mm, int decimals, char *text, size_t size) {
    const int places = decimals < 0 ? 0 : decimals > MAX_DECIMALS ? MAX_DECIMALS : decimals;

    if (format_unshowable(mm, text, size)) {
        return;
    }
    const long long unit = (long long)power_of_ten((size_t)places);
    const long long scaled = llround(fabs(mm) * (double)unit);
    const char *sign = mm < 0.0 && scaled > 0 ? "-" : "";
    if (places == 0) {
        (void)snprintf(text, size, "%s%lld mm", sign, scaled);
    } else {
        (void)snprintf(text, size, "%s%lld.%0*lld mm", sign, scaled / unit, places, scaled % unit);
    }
}

void sb_length_format_64ths(double mm, char *text, size_t size) {
    if (format_unshowable(mm, text, size)) {
        return;
    }
    const long long halves = llround(2.0 * fabs(mm) / SB_MM_PER_64TH);
    const char *sign = mm < 0.0 && halves > 0 ? "-" : "";
    const char *half = halves % 2 != 0 ? "\u00bd" : "";
    if (halves == 1) {
        (void)snprintf(text, size, "%s%s/64 in", sign, half);
    } else {
        (void)snprintf(text, size, "%s%lld%s/64 in", sign, halves / 2, half);
    }
}
