/* measurement: from what was heard of one string to its interval error and the answer.
 *
 * Sorts the plucks into open and fretted, combines them, and notices what makes a figure
 * meaningless: a note missing, the wrong string, the wrong fret. Nothing here prints.
 */
#ifndef SB_MEASUREMENT_H
#define SB_MEASUREMENT_H

#include <stdbool.h>
#include <stddef.h>

#include "cli/answer.h"
#include "cli/take.h"
#include "core/interval.h"

#define SB_NO_NOTE     (-1000)
#define SB_REASON_TEXT 64

typedef struct {
    const sb_setting *setting;
    int note; /* of the open string, semitones; SB_NO_NOTE = not told */
    double a4_hz;
} sb_task;

typedef enum {
    SB_MEASURED,
    SB_NO_PLUCK,     /* nothing usable */
    SB_NO_OPEN,      /* only the fretted note */
    SB_NO_FRETTED,   /* only the open string */
    SB_ONE_NOTE,     /* one note, and no telling which of the two */
    SB_WRONG_STRING, /* heard_hz is not the note told */
    SB_SAME_NOTE,    /* the fretted note is the open one */
    SB_SWAPPED,      /* open and fretted the wrong way round */
    SB_WRONG_FRET,   /* heard_cents is not the fret's interval */
    SB_MIXED_NOTES   /* what should be one note is several */
} sb_outcome;

typedef enum { SB_OPEN, SB_FRETTED, SB_NEITHER } sb_side;

typedef struct {
    const sb_reading *reading; /* of the take that was measured */
    sb_side side;
    char left_out[SB_REASON_TEXT]; /* why it took no part; empty = it did */
} sb_heard;

/* The plucks of one side together. */
typedef struct {
    size_t plucks;
    double hz, std_error_cents;
    double inharmonicity, inharmonicity_std_error;
    double glide_cents, level_dbfs, snr_db; /* means */
    const sb_reading *best;                 /* the pluck with the smallest error */
} sb_summary;

/* The second estimate, from partials of both notes at the same pitch: core/paired.h. */
typedef struct {
    bool known; /* 12th fret, and enough pairs; else the rest is 0 */
    double error_cents, std_error_cents;
    size_t pairs;
    bool disagrees; /* by more than twice the errors of both: the answer's error is widened */
} sb_by_pairs;

typedef struct {
    sb_heard heard[2 * SB_TAKE_PLUCKS];
    size_t n_heard;
    double heard_hz, heard_cents; /* what spoke against it: see sb_outcome */
    sb_side fault_side;           /* whose sound it was, of a pair */
    /* The rest holds for SB_MEASURED only. */
    sb_interval interval;
    sb_summary side[2];
    bool has_harmonic; /* 12th fret: there is an octave partial to compare with */
    double harmonic_error_cents;
    sb_by_pairs by_pairs;
    sb_answer answer; /* its error the interval's, wider where by_pairs disagrees */
} sb_measurement;

/* Measures a take that holds both notes in any order. */
sb_outcome sb_measure_take(const sb_task *task, const sb_take *take, sb_measurement *out);

/* Measures one take of the open string and one of the fretted note. Times of different
 * recordings cannot be compared, so no drift is sought. */
sb_outcome sb_measure_pair(const sb_task *task, const sb_take *open, const sb_take *fretted,
                           sb_measurement *out);

/* The plucks of a side that were left out. */
size_t sb_measurement_left_out(const sb_measurement *m, sb_side side);

/* The plucks of a side that took part although they were overloaded for most of their sound. */
size_t sb_measurement_overloaded(const sb_measurement *m, sb_side side);

#endif
