#include "core/instrument.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/length.h"
#include "core/pitch.h"

#define NM_PER_MM            1e6
#define NM_PER_100TH_OF_THOU 254 /* 25.4 mm / 1000 / 100 */
#define MM_PER_THOU          (SB_MM_PER_INCH / 1000.0)
#define MIN_GAUGE_MM         0.05
#define MAX_GAUGE_MM         5.0
#define MIN_SCALE_MM         100.0
#define MAX_SCALE_MM         2000.0
#define MAX_TRAVEL_MM        100.0
#define ITEM_MAX             40 /* bytes of one written string */

/* --- strings ------------------------------------------------------------------------- */

static bool within(double value, double least, double most) {
    return value >= least && value <= most; /* false for NaN */
}

/* Copies text[0..n-1] without the spaces around it; false when it is too long or empty. */
static bool copy_item(const char *text, size_t n, char item[ITEM_MAX]) {
    while (n > 0 && *text == ' ') {
        text++;
        n--;
    }
    while (n > 0 && text[n - 1] == ' ')
        n--;
    if (n == 0 || n >= ITEM_MAX)
        return false;
    memcpy(item, text, n);
    item[n] = '\0';
    return true;
}

static sb_status parse_gauge(char *text, sb_string *string) {
    size_t n = strlen(text);
    double mm = 0;
    string->wound = n > 0 && (text[n - 1] == 'w' || text[n - 1] == 'W');
    if (string->wound)
        text[n - 1] = '\0';
    sb_status status = sb_length_parse(text, MM_PER_THOU, &mm);
    if (status != SB_OK)
        return status;
    string->gauge_mm = round(mm * NM_PER_MM) / NM_PER_MM;
    return within(string->gauge_mm, MIN_GAUGE_MM, MAX_GAUGE_MM) ? SB_OK : SB_E_RANGE;
}

static sb_status parse_string(const char *text, size_t n, sb_string *string) {
    char item[ITEM_MAX];
    if (!copy_item(text, n, item))
        return SB_E_SYNTAX;
    *string = (sb_string){.semitone = 0};
    char *colon = strchr(item, ':');
    if (colon)
        *colon = '\0';
    sb_status status = sb_note_parse(item, &string->semitone);
    return status == SB_OK && colon ? parse_gauge(colon + 1, string) : status;
}

sb_status sb_strings_parse(const char *text, sb_string strings[SB_STRINGS_MAX], size_t *n) {
    sb_string read[SB_STRINGS_MAX];
    size_t count = 0;
    int course = 1;
    for (bool more = true; more; count++) {
        if (count == SB_STRINGS_MAX)
            return SB_E_RANGE;
        size_t length = strcspn(text, ",+");
        sb_status status = parse_string(text, length, &read[count]);
        if (status != SB_OK)
            return status;
        read[count].course = course;
        course += text[length] == ',';
        more = text[length] != '\0';
        text += length + (more ? 1 : 0);
    }
    memcpy(strings, read, count * sizeof *read);
    *n = count;
    return SB_OK;
}

/* "10", "9.5", "0.7": an integer over a power of ten without its idle zeros. */
static void format_decimal(long value, long unit, int places, char *text, size_t size) {
    (void)snprintf(text, size, "%ld.%0*ld", value / unit, places, value % unit);
    size_t n = strlen(text);
    while (n > 0 && text[n - 1] == '0')
        text[--n] = '\0';
    if (n > 0 && text[n - 1] == '.')
        text[n - 1] = '\0';
}

void sb_gauge_format(const sb_string *string, char *text, size_t size) {
    char number[40];
    const char *unit = "";
    if (!within(string->gauge_mm, MIN_GAUGE_MM, MAX_GAUGE_MM)) {
        text[0] = '\0';
        return;
    }
    long nm = lround(string->gauge_mm * NM_PER_MM);
    if (nm % NM_PER_100TH_OF_THOU == 0) {
        format_decimal(nm / NM_PER_100TH_OF_THOU, 100, 2, number, sizeof number);
    } else {
        format_decimal(nm, (long)NM_PER_MM, 6, number, sizeof number);
        unit = "mm";
    }
    (void)snprintf(text, size, "%s%s%s", number, unit, string->wound ? "w" : "");
}

void sb_strings_format(const sb_string strings[], size_t n, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < n && used < size; i++) {
        char note[SB_NOTE_TEXT_MAX], gauge[48];
        sb_note_format(strings[i].semitone, note, sizeof note);
        sb_gauge_format(&strings[i], gauge, sizeof gauge);
        const char *joint = i == 0 ? "" : strings[i].course == strings[i - 1].course ? "+" : ",";
        (void)snprintf(text + used, size - used, "%s%s%s%s", joint, note, gauge[0] ? ":" : "",
                       gauge);
        used += strlen(text + used);
    }
}

/* --- saddles ------------------------------------------------------------------------- */

static size_t divide(size_t n_strings, size_t strings_each, sb_saddle saddles[]) {
    size_t n = 0;
    for (size_t first = 1; first <= n_strings; first += strings_each) {
        size_t last = first + strings_each - 1;
        saddles[n++] = (sb_saddle){.first = first, .last = last < n_strings ? last : n_strings};
    }
    return n;
}

/* Strings a saddle that a word stands for, 0 for no such word. */
static size_t strings_each(const char *text, size_t n_strings) {
    if (strcmp(text, "each") == 0)
        return 1;
    if (strcmp(text, "pairs") == 0)
        return 2;
    return strcmp(text, "one") == 0 ? n_strings : 0;
}

static bool take_index(const char **text, size_t *index) {
    size_t digits = strspn(*text, "0123456789");
    *index = 0;
    if (digits == 0 || digits > 2)
        return false;
    for (; digits > 0; digits--)
        *index = 10 * *index + (size_t)(*(*text)++ - '0');
    return true;
}

static bool take_range(const char **text, sb_saddle *saddle) {
    *saddle = (sb_saddle){.first = 0};
    if (!take_index(text, &saddle->first))
        return false;
    saddle->last = saddle->first;
    if (**text != '-')
        return true;
    (*text)++;
    return take_index(text, &saddle->last);
}

static sb_status parse_ranges(const char *text, size_t n_strings, sb_saddle saddles[], size_t *n) {
    size_t next = 1;
    for (*n = 0;; text++) {
        sb_saddle saddle;
        if (!take_range(&text, &saddle) || (*text != ',' && *text != '\0'))
            return SB_E_SYNTAX;
        if (saddle.first != next || saddle.last < saddle.first || saddle.last > n_strings)
            return SB_E_RANGE;
        saddles[(*n)++] = saddle;
        next = saddle.last + 1;
        if (*text == '\0')
            return next == n_strings + 1 ? SB_OK : SB_E_RANGE;
    }
}

sb_status sb_saddles_parse(const char *text, size_t n_strings, sb_saddle saddles[SB_STRINGS_MAX],
                           size_t *n) {
    sb_saddle read[SB_STRINGS_MAX];
    size_t count = 0;
    if (n_strings == 0 || n_strings > SB_STRINGS_MAX)
        return SB_E_RANGE;
    size_t each = strings_each(text, n_strings);
    sb_status status = SB_OK;
    if (each > 0)
        count = divide(n_strings, each, read);
    else
        status = parse_ranges(text, n_strings, read, &count);
    if (status != SB_OK)
        return status;
    memcpy(saddles, read, count * sizeof *read);
    *n = count;
    return SB_OK;
}

static bool same_division(const char *word, const sb_saddle saddles[], size_t n) {
    sb_saddle wanted[SB_STRINGS_MAX];
    size_t count = 0;
    if (sb_saddles_parse(word, saddles[n - 1].last, wanted, &count) != SB_OK || count != n)
        return false;
    for (size_t i = 0; i < n; i++)
        if (wanted[i].first != saddles[i].first || wanted[i].last != saddles[i].last)
            return false;
    return true;
}

void sb_saddles_format(const sb_saddle saddles[], size_t n, char *text, size_t size) {
    static const char words[][6] = {"each", "one", "pairs"};
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; n > 0 && i < sizeof words / sizeof *words; i++)
        if (same_division(words[i], saddles, n)) {
            (void)snprintf(text, size, "%s", words[i]);
            return;
        }
    for (size_t i = 0; i < n && used < size; i++) {
        const char *comma = i > 0 ? "," : "";
        if (saddles[i].first == saddles[i].last)
            (void)snprintf(text + used, size - used, "%s%zu", comma, saddles[i].first);
        else
            (void)snprintf(text + used, size - used, "%s%zu-%zu", comma, saddles[i].first,
                           saddles[i].last);
        used += strlen(text + used);
    }
}

/* --- the whole ----------------------------------------------------------------------- */

static const char *string_fault(const sb_string *s, int last_course) {
    if (s->semitone < 0 || s->semitone > 131)
        return "a string's note is none";
    if (s->gauge_mm != 0 && !within(s->gauge_mm, MIN_GAUGE_MM, MAX_GAUGE_MM))
        return "a string's gauge is out of range";
    if (!within(s->scale_mm, MIN_SCALE_MM, MAX_SCALE_MM))
        return "a scale length is out of range";
    if (s->course != last_course && s->course != last_course + 1)
        return "the courses are out of order";
    return NULL;
}

static const char *saddle_fault(const sb_saddle *s) {
    if (s->thread_mm != 0 && !within(s->thread_mm, 0.1, 3))
        return "a screw's thread is out of range";
    if (!within(s->forward_mm, 0, MAX_TRAVEL_MM) || !within(s->back_mm, 0, MAX_TRAVEL_MM))
        return "a saddle's travel is out of range";
    return NULL;
}

static const char *strings_fault(const sb_instrument *it) {
    const char *fault = NULL;
    int course = 0;
    for (size_t i = 0; i < it->n_strings && !fault; i++) {
        fault = string_fault(&it->strings[i], course);
        course = it->strings[i].course;
    }
    return fault;
}

static const char *saddles_fault(const sb_instrument *it) {
    const char *fault = NULL;
    size_t next = 1;
    for (size_t i = 0; i < it->n_saddles && !fault; i++) {
        const sb_saddle *s = &it->saddles[i];
        if (s->first != next || s->last < s->first)
            return "the saddles do not fit the strings";
        fault = saddle_fault(s);
        next = s->last + 1;
    }
    return fault || next == it->n_strings + 1 ? fault : "the saddles do not fit the strings";
}

const char *sb_instrument_fault(const sb_instrument *instrument) {
    if (instrument->n_strings == 0 || instrument->n_strings > SB_STRINGS_MAX)
        return "there are no strings, or too many";
    if (instrument->n_saddles == 0 || instrument->n_saddles > SB_STRINGS_MAX)
        return "there are no saddles, or too many";
    if (instrument->frets < 1 || instrument->frets > SB_FRETS_MAX)
        return "the number of frets is out of range";
    if (!within(instrument->spacing_mm, 0.1, 100))
        return "the spacing of the strings is out of range";
    const char *fault = strings_fault(instrument);
    return fault ? fault : saddles_fault(instrument);
}
