/* print: everything that people read on standard output.
 *
 * Laid out for a bench at arm's length: what to do first, then how sure that is, then what
 * it rests on. Bold marks the lines to act on, where the stream is a terminal.
 */
#ifndef SB_PRINT_H
#define SB_PRINT_H

#include <stdbool.h>
#include <stdio.h>

#include "audio/capture.h"
#include "cli/measurement.h"
#include "core/compromise.h"

#define SB_PRINT_WIDTH  78
#define SB_PRINT_INDENT 18 /* where the facts begin behind their labels */

/* Said once where a move is asked for. */
#define SB_CAUTION                                                                                 \
    "Slacken the string before moving its saddle; then tune it to pitch and measure again."
#define SB_LOOK_ELSEWHERE                                                                          \
    "So large an error is seldom the saddle's alone: look at the nut slot, the fret, the "         \
    "string's age and the action first."

typedef struct {
    FILE *out;
    bool styled;
} sb_page;

/* --- results, in print.c and print_*.c --------------------------------------------- */

/* What to do, how sure that is, and advice: all there is without sound. */
void sb_print_answer(const sb_page *page, const sb_setting *setting, const sb_answer *answer);

/* One string: the answer and the facts that it rests on. */
void sb_print_measurement(const sb_page *page, const sb_task *task, const sb_measurement *m);

/* The partials of the best pluck of each side. */
void sb_print_partials(const sb_page *page, const sb_measurement *m);

/* Several strings, one row each. The foot says what the rows ask for together. */
void sb_print_table_head(const sb_page *page, const sb_setting *setting);
void sb_print_table_row(const sb_page *page, const sb_task *task, const sb_measurement *m);
void sb_print_table_foot(const sb_page *page, bool any_move, bool any_doubtful);

/* One saddle under n strings: how to set it and what remains. needed_mm and place_mm are a
 * string's each. */
void sb_print_compromise(const sb_page *page, const sb_compromise *c, bool slant,
                         const double needed_mm[], const double place_mm[], size_t n);

/* Capture devices, a line each. */
void sb_print_inputs(const sb_page *page, const sb_device devices[], size_t n);

/* --- the pieces they are made of ------------------------------------------------------- */

/* A number with its sign and so many decimals, without a negative zero. */
void sb_format_signed(double value, int decimals, char *text, size_t size);

/* "+4.61 ± 0.05 cents"; as many decimals as the error needs, none of it where it is 0. */
void sb_format_error(double cents, double std_error_cents, char *text, size_t size);

/* "pulled, beating" for a set of sb_partial_flag; empty for none. */
void sb_format_flags(unsigned flags, char *text, size_t size);

/* The order of flags above; NULL beyond the last. */
const char *sb_flag_text(size_t index, unsigned *flag);

/* The name of the nearest note. */
void sb_format_note(double hz, double a4_hz, char *text, size_t size);

/* What the error is called: the 12th fret makes an octave. */
const char *sb_error_name(int fret);

/* Bold where the page has style. */
void sb_print_bold(const sb_page *page, const char *text);
void sb_print_label(const sb_page *page, const char *name);
void sb_print_paragraph(const sb_page *page, const char *text);

/* The lines to act on and the two figures below them; name = the string's note, or NULL. */
void sb_print_verdict(const sb_page *page, const sb_setting *setting, const sb_answer *answer,
                      const char *name);
void sb_print_advice(const sb_page *page, bool move, bool doubtful);

#endif
