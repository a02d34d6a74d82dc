/* handover: what one visit found and did, gathered from an instrument's log for the sheet that
 * goes home with it, and the three forms of that sheet.
 *
 * A visit is what the log holds since the last `visit` event that began one, or all of it where
 * there is none; that it ended, or that the sheet was written before, changes nothing, and what was
 * heard after its end is none of it. The day is that of the visit's last event before its end, so
 * that a sheet written again is the same.
 * States and readings are the bench's (cli/bench.h); nothing is folded anew.
 *
 * All text in here is clean (sb_text_clean), sentences are UTF-8 and whole.
 */
#ifndef SB_HANDOVER_H
#define SB_HANDOVER_H

#include "cli/bench.h"
#include "cli/err.h"
#include "core/pitch.h"

#define SB_HANDOVER_TEXT_MAX 64
#define SB_HANDOVER_ROWS_MAX 96

typedef struct {
    char **item;
    size_t n;
    bool failed; /* out of memory: what is there is not all */
} sb_sayings;

typedef struct {
    char note[SB_NOTE_TEXT_MAX], gauge[SB_HANDOVER_TEXT_MAX]; /* ".026w", "" where not known */
    sb_string_state state;
    bool before_known, after_known; /* read in this visit; read, and nothing changed since */
    bool again;                     /* what was left is another round than what was found */
    sb_error_reading before, after; /* cents, sharp positive */
    size_t saddle;                  /* a position in the instrument's saddles[] */
    double moved_mm;                /* of its place on the saddle, in this visit; back positive */
    const char *wants; /* why there is no reading to hand over; static, NULL = there is */
} sb_handover_string;

/* A line of what rulers, meters and ears say; each text may be "". */
typedef struct {
    char *what, *before, *now, *usual, *remark;
    bool heard; /* by ear, and not by a ruler or a meter */
} sb_handover_row;

/* The same before it is copied; NULL for "". */
typedef struct {
    const char *what, *before, *now, *usual, *remark;
    bool heard;
} sb_handover_shown;

typedef struct {
    char name[SB_NAME_MAX], owner[SB_NAME_MAX];
    int64_t at_ms;
    char day[11], day_in_words[40]; /* "2026-11-25", "25 November 2026", local */
    double tolerance_cents;
    sb_compromise_fit fit;
    int fret;
    bool draft;
    sb_instrument instrument;
    sb_handover_string strings[SB_STRINGS_MAX];
    bool fitted[SB_STRINGS_MAX]; /* new strings in this visit */
    bool changed[SB_CHANGES];    /* in this visit */
    char *result;                /* how the strings stand now, a sentence */
    sb_sayings found, done, remains, notes, expect, cautions, wanting;
    sb_handover_row rows[SB_HANDOVER_ROWS_MAX];
    size_t n_rows;
    sb_sayings events; /* the log's data behind the rows, JSON objects */
} sb_handover;

/* Gathers; the bench may stand aside. On success free with sb_handover_free. */
sb_book_status sb_handover_gather(const sb_bench *bench, bool draft, sb_handover **out);

/* NULL is allowed. */
void sb_handover_free(sb_handover *sheet);

/* The sheet as lines for people, as one object setback.handover/1 and as a page of its own.
 * JSON: false when out of memory. */
void sb_print_handover(FILE *out, const sb_handover *sheet);
bool sb_json_handover(FILE *out, const sb_handover *sheet);
void sb_html_handover(FILE *out, const sb_handover *sheet);

/* The chart of the page, as SVG in HTML. */
void sb_html_handover_chart(FILE *out, const sb_handover *sheet);

/* --- for the files that gather and print it ------------------------------------------------ */

/* Adds a sentence. */
void sb_say(sb_sayings *sayings, const char *format, ...) SB_PRINTF(2, 3);

/* The text to be freed; NULL when out of memory. */
char *sb_phrase(const char *format, ...) SB_PRINTF(1, 2);

/* What of the visit's events goes on the sheet. */
sb_book_status sb_handover_read_log(const sb_bench *bench, sb_handover *sheet);

/* Adds a row for every length, resistance and word that rulers and meters gave. */
sb_book_status sb_handover_read_specs(const sb_bench *bench, sb_handover *sheet);

/* Writes the sentences, once all else is gathered. */
void sb_handover_word(const sb_bench *bench, sb_handover *sheet);

/* "+2.1", with a true minus; bounded for any number. */
void sb_handover_signed(double value, char *text, size_t size);

/* A standard error to be shown to one decimal: never as 0.0, since what it belongs to is rounded to
 * as much; bounded. */
double sb_handover_error(double std_error);

/* "0.78 mm back (2/64 in)", "" for no move. */
void sb_handover_move_text(double move_mm, char *text, size_t size);

/* Adds a row with copies of the texts; what does not fit in the table is left out. */
void sb_handover_add_row(sb_handover *sheet, const sb_handover_shown *row);

#endif
