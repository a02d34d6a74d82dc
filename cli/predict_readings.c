/* Measured inharmonicities, from measurements on file or in the book. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/prediction.h"
#include "core/pitch.h"

#define LINE_BYTES  65536
#define UNSAID_PART 0.1 /* the standard error taken where a reading does not say its own */

/* The readings of each string together, weighted by inverse variance. */
typedef struct {
    double weight[SB_STRINGS_MAX], sum[SB_STRINGS_MAX], squares[SB_STRINGS_MAX];
    size_t n[SB_STRINGS_MAX];
    sb_string_set *set;
} heard;

static double number(const json_t *object, const char *key) {
    return json_number_value(json_object_get(object, key));
}

/* A side of setback.measure/1, or what is laid out like one. */
static bool read_open(const json_t *object, double *value, double *std_error) {
    const json_t *open = json_object_get(object, "open");
    if (!open)
        open = object;
    *value = number(open, "inharmonicity");
    *std_error = number(open, "inharmonicity_std_error");
    if (!(*value > 0 && *value < 0.1))
        return false;
    if (!(*std_error > 0))
        *std_error = UNSAID_PART * *value;
    return true;
}

static void add(heard *h, size_t string, double value, double std_error) {
    double weight = 1 / (std_error * std_error);
    h->weight[string] += weight;
    h->sum[string] += weight * value;
    h->squares[string] += weight * value * value;
    h->n[string]++;
}

/* Means; where the readings scatter beyond their errors (Birge ratio over 1), that widens it. */
static size_t settle(const heard *h) {
    size_t known = 0;
    for (size_t i = 0; i < h->set->n; i++) {
        if (h->n[i] == 0)
            continue;
        double mean = h->sum[i] / h->weight[i];
        double chi_square = fmax(h->squares[i] - mean * h->sum[i], 0);
        double free = (double)h->n[i] - 1, ratio = free > 0 ? chi_square / free : 1;
        h->set->data[i].inharmonicity = mean;
        h->set->data[i].inharmonicity_std_error = sqrt(fmax(ratio, 1) / h->weight[i]);
        known++;
    }
    return known;
}

/* --- a file ----------------------------------------------------------------------------- */

static bool take_line(heard *h, const json_t *object) {
    const char *note = json_string_value(json_object_get(json_object_get(object, "open"), "note"));
    int semitone = 0;
    double value = 0, std_error = 0;
    if (!note || sb_note_parse(note, &semitone) != SB_OK || !read_open(object, &value, &std_error))
        return false;
    for (size_t i = 0; i < h->set->n; i++)
        if (h->set->strings[i].semitone == semitone)
            add(h, i, value, std_error);
    return true;
}

static int read_lines(heard *h, FILE *in, const char *path, char *line) {
    for (size_t number = 1; fgets(line, LINE_BYTES, in); number++) {
        if (line[strspn(line, " \t\r\n")] == '\0')
            continue;
        json_t *object = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
        bool good = take_line(h, object);
        json_decref(object);
        if (!good)
            return sb_fail(EX_DATAERR, "give what setback measure --json printed", path,
                           "line %zu is no measurement with an open note and its inharmonicity",
                           number);
    }
    if (ferror(in))
        return sb_complain_read(path);
    if (settle(h) == 0)
        return sb_fail(EX_DATAERR, "compare the notes of both", path,
                       "none of the measurements is of one of these strings");
    return EX_OK;
}

static int from_file(sb_string_set *set, const char *path) {
    heard h = {.set = set};
    FILE *in = strcmp(path, "-") == 0 ? stdin : fopen(path, "r");
    if (!in)
        return sb_complain_open(path);
    char *line = malloc(LINE_BYTES);
    int code = line ? read_lines(&h, in, path, line) : sb_complain_memory();
    free(line);
    if (in != stdin)
        (void)fclose(in);
    return code;
}

/* --- the book --------------------------------------------------------------------------- */

static void forget(heard *h, int string) {
    for (size_t i = 0; i < SB_STRINGS_MAX; i++)
        if (string == 0 || (size_t)string == i + 1)
            h->weight[i] = h->sum[i] = h->squares[i] = 0, h->n[i] = 0;
}

static bool take_event(void *context, const sb_event *event) {
    heard *h = context;
    double value = 0, std_error = 0;
    if (event->kind == SB_EVENT_STRINGS)
        forget(h, event->string); /* what was heard before was of other strings */
    bool heard_one = event->kind == SB_EVENT_READING || event->kind == SB_EVENT_PLUCK;
    if (!heard_one || event->string < 1 || (size_t)event->string > h->set->n)
        return true;
    json_t *object = json_loads(event->data, 0, NULL);
    const char *side = json_string_value(json_object_get(object, "side"));
    bool fretted = side && strcmp(side, "fretted") == 0; /* of a shorter string */
    if (!fretted && read_open(object, &value, &std_error))
        add(h, (size_t)event->string - 1, value, std_error);
    json_decref(object);
    return true;
}

bool sb_heard_in_book(sb_string_set *set, sb_book *book, int64_t id, sb_book_status *status) {
    heard h = {.set = set};
    *status = sb_book_read(book, id, 0, take_event, &h);
    return *status == SB_BOOK_OK && settle(&h) > 0;
}

static int from_book(sb_string_set *set, sb_book *book, int64_t id, const char *name) {
    sb_book_status status = SB_BOOK_OK;
    if (sb_heard_in_book(set, book, id, &status))
        return EX_OK;
    if (status != SB_BOOK_OK)
        return sb_book_complain(status, NULL, name);
    return sb_fail(EX_DATAERR, "measure its strings first, or leave --from-readings away", name,
                   "no reading of these strings with an inharmonicity is in the log");
}

int sb_set_heard(sb_string_set *set, const char *from, sb_book *book, int64_t id,
                 const char *name) {
    if (!from)
        return EX_OK;
    if (strcmp(from, "book") != 0)
        return from_file(set, from);
    if (!book)
        return sb_fail(EX_USAGE, "name the instrument, or give the file with the measurements",
                       NULL, "--from-readings book needs an instrument of the book");
    return from_book(set, book, id, name);
}
