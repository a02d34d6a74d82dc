/* instrument: a fretted instrument as data: strings, scale lengths, saddles.
 *
 * String 1 is the first in the arrays, the one that players call first (the highest, as a
 * rule). Strings of one course stand close together and are played as one. A saddle carries
 * neighbouring strings. How the texts are written:
 *   strings  "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w": note, gauge in thousandths of an inch
 *            or with its unit (0.010in, 0.7mm), w = wound; a note alone has no known gauge;
 *            "+" in place of "," joins the strings of a course: "E5:11+E5:11,A4:15+A4:15";
 *   saddles  "each", "pairs" (an odd last string stands alone), "one", or the strings on
 *            each: "1-2,3-4,5-6", "1-3,4".
 * Gauges are kept to the nanometre, so that what is written parses back to the same number.
 */
#ifndef SB_INSTRUMENT_H
#define SB_INSTRUMENT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/compromise.h"
#include "core/screw.h"
#include "core/status.h"

#define SB_STRINGS_MAX      24
#define SB_FRETS_MAX        36
#define SB_STRINGS_TEXT_MAX 512 /* bytes for any formatted strings, NUL included */
#define SB_SADDLES_TEXT_MAX 160 /* the same for saddles */

typedef struct {
    int semitone;    /* the open note, numbered as in core/pitch.h */
    double gauge_mm; /* diameter, 0.05..5; 0 = not known */
    bool wound;
    int course;      /* from 1, in the order of the strings */
    double scale_mm; /* 100..2000; the same for all but on fanned frets */
} sb_string;

typedef enum {
    SB_WAY_SCREW, /* an adjustment screw */
    SB_WAY_HAND,  /* pushed, filed or shimmed */
    SB_WAY_FIXED  /* not to be moved */
} sb_saddle_way;

typedef struct {
    size_t first, last; /* the strings on it, from 1, both included */
    sb_saddle_way way;
    sb_saddle_shape shape; /* SLANT = one piece that moves at each end */
    double thread_mm;      /* pitch of the screw; 0 = not known, or no screw */
    sb_screw_action screw; /* what a clockwise turn does */
    bool limited;          /* whether the travel is known */
    double forward_mm;     /* travel left towards the nut, 0..100; 0 unless limited */
    double back_mm;        /* and away from it */
} sb_saddle;

typedef struct {
    size_t n_strings, n_saddles;
    sb_string strings[SB_STRINGS_MAX];
    sb_saddle saddles[SB_STRINGS_MAX];
    int frets;         /* 1..SB_FRETS_MAX */
    double spacing_mm; /* from string to string across the bridge, 0.1..100 */
} sb_instrument;

/* Reads strings as written above; the scale lengths are left 0. Spaces around an item are
 * allowed. Errors: SB_E_SYNTAX (a note, gauge or separator that is none), SB_E_RANGE (a gauge
 * out of range, more than SB_STRINGS_MAX). */
SB_MUST_CHECK sb_status sb_strings_parse(const char *text, sb_string strings[SB_STRINGS_MAX],
                                         size_t *n);

/* Writes them so that parsing gives the same back; notes in sharps. */
void sb_strings_format(const sb_string strings[], size_t n, char *text, size_t size);

/* One gauge as in a list of strings, "26w" or "0.7mm"; "" where it is not known. */
void sb_gauge_format(const sb_string *string, char *text, size_t size);

/* Reads which of n_strings stand on which saddle; all else of the saddles is zero.
 * Errors: SB_E_SYNTAX (not such a text), SB_E_RANGE (strings left out, twice, out of order or
 * not there). */
SB_MUST_CHECK sb_status sb_saddles_parse(const char *text, size_t n_strings,
                                         sb_saddle saddles[SB_STRINGS_MAX], size_t *n);

/* Writes them by the shortest of the forms that fits. */
void sb_saddles_format(const sb_saddle saddles[], size_t n, char *text, size_t size);

/* What is wrong with the instrument, in words of static storage; NULL where it is sound:
 * every number in its range and finite, courses in order, each string on one saddle. */
const char *sb_instrument_fault(const sb_instrument *instrument);

/* A starting point, to be corrected with a ruler: a generic kind of instrument. Scale
 * lengths, gauges and spacings are common practice, no source. */
typedef struct {
    const char *name;  /* one word for the command line */
    const char *title; /* what to call it */
    double scale_mm;
    int frets;
    const char *strings, *saddles;
    sb_saddle_way way;
    sb_saddle_shape shape;
    double spacing_mm;
} sb_kind;

/* The i-th kind, NULL behind the last. */
const sb_kind *sb_kind_at(size_t i);

/* The kind of that name, or NULL. */
const sb_kind *sb_kind_named(const char *name);

/* The instrument that a kind starts with: a sound one. */
void sb_kind_instrument(const sb_kind *kind, sb_instrument *out);

#endif
