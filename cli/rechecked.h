/* rechecked: an instrument heard again, against what the book keeps of it.
 *
 * What was kept is its state at the end of the last visit or, where none was ended, its latest
 * readings; the past of a string's sound are its plucks since it was fitted. A recheck is written
 * as `measured` events and takes no reading's place.
 */
#ifndef SB_RECHECKED_H
#define SB_RECHECKED_H

#include "cli/bench_front.h"
#include "cli/print.h"
#include "core/recheck.h"
#include "core/suspect.h"

typedef struct {
    sb_error_reading now, was; /* std_error 0 = none */
    const char *since; /* what was changed after that reading: static storage; NULL = nothing */
    bool compromise;
    size_t plucks[2]; /* open, fretted */
    sb_string_signs signs;
    sb_recheck result;
    sb_suspicion suspicion;
    bool slipped; /* its error changed with those of all strings on its saddle */
} sb_rechecked_string;

typedef struct {
    const char *name;
    double tolerance_cents, a4_hz;
    int fret;
    sb_description d;
    bool ended;      /* a visit was */
    int64_t kept_ms; /* when it was, or the latest reading; 0 = nothing is kept at all */
    sb_rechecked_string strings[SB_STRINGS_MAX];
    size_t heard, inside; /* strings */
    bool any_suspect;
} sb_rechecked;

/* Fills in all that the book says. BAD_DATA where no reading of its strings is kept. */
sb_book_status sb_rechecked_begin(sb_book *book, int64_t id, const char *name,
                                  const sb_bench_options *options, sb_rechecked *out);

/* What the log says a string should sound like by its gauge, and did sound like since it was
 * fitted; in rechecked_past.c. */
sb_book_status sb_rechecked_past(sb_book *book, int64_t id, sb_rechecked *out);

/* Judges what was heard. */
void sb_rechecked_judge(sb_rechecked *r);

/* Writes it to the log, all strings that were heard or none. */
sb_book_status sb_rechecked_write(sb_book *book, int64_t id, const sb_rechecked *r);

/* For people: a row a string, then what to make of it. */
void sb_print_rechecked(const sb_page *page, const sb_rechecked *r);

/* setback.recheck/1; false when out of memory. */
bool sb_json_rechecked(FILE *out, const sb_rechecked *r);

#endif
