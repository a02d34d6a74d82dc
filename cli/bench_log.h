/* bench_log: the session's events as data of the book's log, and back. Fields:
 * cli/share/setback-book.5.
 */
#ifndef SB_BENCH_LOG_H
#define SB_BENCH_LOG_H

#include "audio/reading.h"
#include "cli/book.h"
#include "core/interval.h"
#include "core/progress.h"
#include "core/settle.h"

/* What an event of the log says, as far as the session cares. */
typedef struct {
    double cents, std_error; /* READING; std_error 0 = none, or taken back */
    double open_hz;          /* READING, PLUCK of an open string; 0 = not known */
    char round[24];
    double move_mm, end_mm, std_error_mm; /* MOVE */
    bool is_change;                       /* MEASURED: of relief, nut, action or tuning */
    bool changed;                         /* and not only measured */
    sb_change change;
    bool is_settled; /* MEASURED: whether a new string holds its pitch */
    sb_settle_kind settled;
    bool begun; /* VISIT; false = ended */
} sb_log_facts;

/* What is missing or of the wrong kind stays 0. */
sb_log_facts sb_log_read(const sb_event *event);

/* Each returns the data to be freed, NULL when out of memory. */
char *sb_log_pluck(const char *side, const sb_reading *reading, double at_s, const char *take);
char *sb_log_reading(const sb_interval *interval, const char *round, int fret);
char *sb_log_move(double move_mm, double end_mm, double std_error_mm, const char *said);
char *sb_log_change(sb_change change);
char *sb_log_settled(const sb_settling *settling);
char *sb_log_visit(void);
char *sb_log_visit_end(void);
char *sb_log_note(const char *text);

/* Adds events[0..n-1] to the log, all or none, after a visit's beginning where no visit is open. */
sb_book_status sb_log_append_in_visit(sb_book *book, int64_t instrument, const sb_event events[],
                                      size_t n);

/* The strings as they are, for a new set of the same kind. */
char *sb_log_strings(const sb_instrument *instrument);

#endif
