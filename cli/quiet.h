/* quiet: noise and hum in one position of the selector, against a pluck and against before.
 */
#ifndef SB_QUIET_H
#define SB_QUIET_H

#include "audio/silence.h"
#include "cli/print.h"
#include "cli/session.h"
#include "cli/signal.h"

#define SB_QUIET_POSITIONS 12

/* How much one pluck's level scatters by hand, standard deviation: common practice, no source. */
#define SB_QUIET_PLUCK_DB 2.0
/* The same of one from the book: its level is of the whole note, and the input may have been turned
 * since. */
#define SB_QUIET_BOOK_DB 4.0

typedef struct {
    double noise_dbfs, noise_std_error_db;
    double hum_dbfs, hum_std_error_db; /* SB_LEVEL_NONE: no hum */
    double below_db;                   /* NaN: not known */
} sb_quiet_earlier;

typedef struct {
    char position[SB_SIGNAL_NAME_MAX]; /* "" = not told */
    const char *path;                  /* NULL = live */
    sb_silence silence;
    bool has_pluck, pluck_from_book;
    double pluck_dbfs;
    bool after; /* kept as `after`, else `before` */
    bool compared;
    sb_quiet_earlier earlier; /* the `before` of this visit, where `compared` */
} sb_quiet;

/* What the book says beforehand: the last pluck's level, and what was measured since the last
 * visit ended. */
typedef struct {
    bool has_pluck;
    double pluck_dbfs;
    size_t n;
    char position[SB_QUIET_POSITIONS][SB_SIGNAL_NAME_MAX];
    sb_quiet_earlier before[SB_QUIET_POSITIONS];
} sb_quiet_log;

sb_book_status sb_quiet_read_log(sb_book *book, int64_t id, sb_quiet_log *log);

/* Measures what was heard; position and path are set. 0, or the exit code with the failure
 * reported. */
int sb_quiet_measure(const sb_signal_heard *heard, const sb_quiet_log *log, sb_quiet *quiet);

/* Sets `after`, and what to compare with. when: 0 before, 1 after, otherwise before where the
 * log has none of this position. */
void sb_quiet_place(const sb_quiet_log *log, int when, sb_quiet *quiet);

/* The total of noise and hum below the pluck, dB; NaN where no pluck is known. */
double sb_quiet_below_db(const sb_quiet *quiet);

/* The standard error of the pluck's level. */
double sb_quiet_pluck_error_db(const sb_quiet *quiet);

/* Listens to one position after another: silence, then a pluck. `quiet` has room for n, whose
 * positions are set; *measured receives how many were. 0, or the exit code with the failure
 * reported. */
int sb_quiet_listen(const sb_session_options *options, const sb_quiet_log *log, sb_quiet quiet[],
                    size_t n, size_t *measured);

/* The event's data, and with `name` the object of setback.quiet/1; NULL when out of memory. */
json_t *sb_quiet_data(const sb_quiet *quiet, const char *name);

void sb_quiet_print(const sb_page *page, const sb_quiet *quiet);

#endif
