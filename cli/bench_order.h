/* bench_order: what can be said to a session, in words: on the command line (--moved 3=1.7mm),
 * on standard input, and in the view.
 *
 *   moved [WHERE] [AMOUNT]       the saddle was moved; no AMOUNT: as asked
 *     WHERE   3 (a string), 5-6 (the strings of a saddle), all (every move that is due)
 *     AMOUNT  1.7 back, 0.5mm forward, -0.5, 1/64in back: back is positive, mm without a unit
 *             2 1/4 turns clockwise, 0.5 turns anticlockwise
 *             1.2,0.4 back: of a slanted saddle, at its first and its last string
 *   changed relief|nut|action|strings|tuning [N]
 *   string N | string any        only this string is plucked | any
 *   visit                        another visit begins
 *   note WORDS
 *   take FILE
 *   show | help | quit
 *
 * "=" may stand for a space. Pure: nothing here prints.
 */
#ifndef SB_BENCH_ORDER_H
#define SB_BENCH_ORDER_H

#include <stdbool.h>
#include <stddef.h>

#include "core/progress.h"
#include "core/screw.h"

#define SB_ORDER_TEXT_MAX 1024

typedef enum {
    SB_ORDER_MOVED,
    SB_ORDER_CHANGED,
    SB_ORDER_STRING,
    SB_ORDER_VISIT,
    SB_ORDER_NOTE,
    SB_ORDER_TAKE,
    SB_ORDER_SHOW,
    SB_ORDER_HELP,
    SB_ORDER_QUIT
} sb_order_kind;

typedef struct {
    sb_order_kind kind;
    size_t string; /* from 1; 0 = not said, or any */
    bool all;      /* MOVED: every saddle that is due */
    bool as_asked; /* MOVED: by as much as was asked for */
    bool in_turns; /* MOVED: `turns` and `turn` count */
    double turns;
    sb_turn turn;
    double move_mm, end_mm; /* back positive */
    sb_change change;
    char text[SB_ORDER_TEXT_MAX]; /* NOTE, TAKE */
} sb_order;

/* NULL, or what is wrong in words of static storage. */
const char *sb_order_parse(const char *line, sb_order *out);

/* The list above for people, lines ending in '\n'. */
const char *sb_order_help(void);

#endif
