/* balance: how loud each string is through one pickup, and whether the pickup stands straight.
 */
#ifndef SB_BALANCE_H
#define SB_BALANCE_H

#include "cli/print.h"
#include "cli/session.h"
#include "cli/signal.h"
#include "core/levels.h"
#include "core/tilt.h"
#include "core/whose.h"

#define SB_BALANCE_POSITIONS 12
#define SB_BALANCE_PLUCKS    3 /* of each string, at least */

typedef struct {
    char position[SB_SIGNAL_NAME_MAX]; /* "" = not told */
    const char *path;                  /* of the last recording; NULL = live */
    const sb_instrument *instrument;
    double a4_hz, tolerance_db;
    double height_mm[2]; /* of the pickup, at the side of the first string and of the last; 0 = not
                            known */
    double height_error_mm;

    sb_level_pluck pluck[SB_LEVELS_MAX]; /* that count; the group is the string, from 0 */
    size_t n;
    size_t fretted, unknown, unusable; /* plucks that do not count, and why */

    /* By sb_balance_judge. */
    sb_level level[SB_STRINGS_MAX];
    sb_level_scatter scatter;
    bool has_tilt; /* three strings or more were heard */
    sb_tilt tilt;
    size_t heard[SB_STRINGS_MAX]; /* strings that the tilt is of, from 0 */
    size_t n_heard;
    sb_tilt_move move; /* where the tilt says that one side stands high */
} sb_balance;

/* Heights that the book holds, `pickup-POSITION-treble` or `pickup-treble` and so for bass: how far
 * the pickup of this position is from the outer strings; 0 where there is none. */
sb_book_status sb_balance_read_heights(sb_balance *b, sb_book *book, int64_t id);

/* The height that counts where a side stands high; 0 = not known. */
double sb_balance_height_mm(const sb_balance *b);

/* Adds the plucks of a recording, told by their pitch. */
int sb_balance_add(sb_balance *b, const sb_signal_heard *heard);

/* The same, where string order[0] was plucked `plucks` times, then order[1], ...: 0, or EX_DATAERR
 * with the failure reported where their number does not fit. */
int sb_balance_add_in_order(sb_balance *b, const sb_signal_heard *heard, const size_t order[],
                            size_t n_order, size_t plucks);

/* Adds one pluck of `string`, from 1 or 0 = none, as sb_whose says. */
void sb_balance_pluck(sb_balance *b, const sb_signal_heard *heard, size_t i,
                      const sb_whose_answer *whose);

/* How many plucks of a string, from 0, count so far. */
size_t sb_balance_count(const sb_balance *b, size_t string);

/* 0, or EX_DATAERR with the failure reported. */
int sb_balance_judge(sb_balance *b);

/* Listens until each string was plucked so often. 0, or the exit code with the failure reported. */
int sb_balance_listen(const sb_session_options *options, sb_balance *b);

/* Whether a string stands off the line by more than the tolerance and its own error: heard[i]. */
bool sb_balance_stands_off(const sb_balance *b, size_t i);

/* "treble", "bass" or, where the strings do not run so, "string 1's". */
void sb_balance_side(const sb_balance *b, bool first, char *text, size_t size);

/* The data of one string's event (heard[i]), and the object of setback.balance/1. */
json_t *sb_balance_data(const sb_balance *b, size_t i);
json_t *sb_balance_json(const sb_balance *b, const char *name);

void sb_balance_print(const sb_page *page, const sb_balance *b);

#endif
