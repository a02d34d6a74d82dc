/* bench: the session at the bench, without a screen: what is heard and said goes into the
 * book's log, and what the log says is the state of the instrument.
 *
 *   note heard -> whose (core/whose.h) -> round of plucks -> interval (core/interval.h)
 *              -> `pluck` and `reading` in the log -> progress (core/progress.h)
 *
 * The state is read from the log alone: after each change, and before it, so that two
 * sessions on one instrument see each other's work. News are told after the commit: what was
 * told as saved is saved. Nothing here prints.
 *
 * A round is the plucks of one string that are compared with each other. It ends when the
 * saddle was moved or anything else changed, when the string is left alone for a while, and
 * when its pitch has moved away (it was retuned): readings of different rounds are only joined
 * as readings.
 */
#ifndef SB_BENCH_H
#define SB_BENCH_H

#include "audio/reading.h"
#include "cli/bench_order.h"
#include "cli/book.h"
#include "core/interval.h"
#include "core/progress.h"
#include "core/settle.h"
#include "core/whose.h"

typedef struct sb_bench sb_bench;

typedef enum {
    SB_NEWS_SOUNDING,  /* a note rings; `string` is a guess, 0 = no idea */
    SB_NEWS_NOTE,      /* a note of `string` was heard and saved */
    SB_NEWS_UNDECIDED, /* a note may be of several strings: it waits for others to tell */
    SB_NEWS_LEFT_OUT,  /* one that was not: `text` says why */
    SB_NEWS_READING,   /* `string` was measured and that saved */
    SB_NEWS_MOVED,     /* a saddle was moved, as said or, `inferred`, as the readings say */
    SB_NEWS_CHANGED,   /* something else was changed */
    SB_NEWS_NOTED,     /* a person's words were saved */
    SB_NEWS_SETTLING,  /* a new string settles, or has */
    SB_NEWS_ELSEWHERE  /* another session wrote to the log */
} sb_news_kind;

typedef struct {
    sb_news_kind kind;
    size_t string; /* from 1; 0 = none */
    bool fretted;
    const sb_reading *reading;   /* of notes; else NULL */
    const sb_interval *interval; /* of readings; else NULL */
    double at_s;                 /* of notes */
    const char *take;            /* the recording they are of, NULL = live */
    double move_mm, end_mm;
    bool inferred;
    sb_change change;
    sb_settling settling;
    const char *text;
} sb_news;

typedef struct {
    sb_progress_options progress;
    double a4_hz;
    bool aside;    /* what is heard is told but not written, and no visit is begun: the state of
                      the instrument stays what the log says */
    int64_t until; /* the log as it was after this event; 0 = all of it */
    void (*tell)(void *context, const sb_bench *bench, const sb_news *news);
    void *context;
} sb_bench_options;

#define SB_BENCH_OPENS SB_SETTLE_PLUCKS

/* The plucks of a string that belong together. */
typedef struct {
    char id[24]; /* in the log: readings of the same round replace each other */
    sb_pluck plucks[SB_MAX_PLUCKS];
    int take[SB_MAX_PLUCKS]; /* the recording of each */
    size_t n;
    bool ended;
} sb_round;

typedef struct {
    sb_reading reading;
    size_t note;
    double at_s;
    int take;
    bool used;
} sb_waiting_note;

/* Of a new string: its open plucks in this session, of one clock. */
typedef struct {
    bool fitted;            /* in this visit */
    sb_settle_kind verdict; /* the last one in the log */
    bool measured;          /* since that */
    int take;               /* the recording that the plucks are of */
    double time_s[SB_BENCH_OPENS], cents[SB_BENCH_OPENS];
    size_t n;
    sb_settling settling;
} sb_new_string;

/* To be read, not written. */
struct sb_bench {
    sb_bench_options options;
    sb_book *book;
    int64_t id;
    char name[SB_NAME_MAX];
    sb_description description;
    sb_progress progress;
    size_t last_string; /* that was heard or moved; 0 = none yet */
    size_t only;        /* the string that alone is plucked, 0 = any */
    int notes;          /* good ones in this session */

    /* Its own. */
    int64_t seen; /* the last event of the log that the state contains */
    bool begun;
    bool trying;                         /* nothing is written or told */
    char last_round[SB_STRINGS_MAX][24]; /* of the latest reading in the log */
    int64_t session;
    unsigned rounds_begun;
    sb_whose whose;
    sb_waiting_note waiting[SB_WHOSE_WAITING + 1];
    sb_round rounds[SB_STRINGS_MAX];
    sb_new_string new_strings[SB_STRINGS_MAX];
    double last_way[SB_STRINGS_MAX]; /* of a saddle: the sign of its last move */
    const char *take;                /* what plays now, NULL = live */
    int take_number;
};

/* Begins on an instrument of an open book; a visit is begun in the log where none is. The
 * book and `name` must outlive it. Free with sb_bench_free. */
sb_book_status sb_bench_new(const sb_bench_options *options, sb_book *book, int64_t id,
                            const char *name, sb_bench **out);
void sb_bench_free(sb_bench *bench);

/* Ends the visit in the log, where one is begun. */
sb_book_status sb_bench_leave(sb_bench *bench);

/* From now on notes come from this recording; NULL = live. */
void sb_bench_take(sb_bench *bench, const char *take);

/* A reading of the ear, at_s on a clock of the recording's or of the live input's. */
sb_book_status sb_bench_hear(sb_bench *bench, const sb_reading *reading, double at_s);

/* No further note is to be waited for: those that could not be decided are, as far as may be. */
sb_book_status sb_bench_settle(sb_bench *bench);

/* Takes in what other sessions wrote. */
sb_book_status sb_bench_refresh(sb_bench *bench);

/* Carries out an order other than TAKE, SHOW, HELP and QUIT. SB_BOOK_BAD_DATA: it cannot be,
 * and *fault says why (static storage). */
sb_book_status sb_bench_do(sb_bench *bench, const sb_order *order, const char **fault);

/* The same without doing it: whether it could be done now. */
sb_book_status sb_bench_try(sb_bench *bench, const sb_order *order, const char **fault);

/* A new set of strings is on, as many as before. SB_BOOK_BAD_DATA: it cannot be, and *fault says
 * why (static storage); `trial`: only whether it could. */
sb_book_status sb_bench_restring(sb_bench *bench, const sb_string strings[], bool trial,
                                 const char **fault);

/* Whether every new string is settled, and measured to half the tolerance since. */
bool sb_bench_strings_in(const sb_bench *bench);

/* What to do about a string now, in a few words: "move 1.71 mm back (2¾ turns clockwise)",
 * "stale: the relief was changed". UTF-8. */
void sb_bench_advice(const sb_bench *bench, size_t string, char *text, size_t size);

/* A move with its direction, and its turns where they are known: "1.71 mm back (...)"; of a
 * slant, at both ends. */
void sb_bench_move_text(const sb_bench *bench, size_t saddle, double move_mm, double end_mm,
                        char *text, size_t size);

/* The turns that make the saddle's move at one of its ends; false without a known thread. */
bool sb_bench_turns(const sb_bench *bench, size_t saddle, double move_mm, double *turns,
                    sb_turn *turn);

/* What a string's reading speaks of beyond its error, in words; NULL for nothing. */
const char *sb_bench_remark(const sb_bench *bench, size_t string);

/* What to do about a string that is out of travel, in the order in which to try. */
const char *sb_bench_beyond_travel(const sb_bench *bench, size_t string);

/* The open and fretted plucks of a string's present round. */
void sb_bench_plucks(const sb_bench *bench, size_t string, size_t *open, size_t *fretted);

/* How sharp the string was when last heard open, against its note; false: not heard yet. */
bool sb_bench_detune(const sb_bench *bench, size_t string, double *cents);

#endif
