/* spec: what rulers, feeler gauges and meters say of an instrument, by name, and how that is
 * judged.
 *
 * Names, as they are written and kept (STRING from 1, FRET from 0, WORD of a-z, 0-9 and -):
 *   relief  radius
 *   action12-SIDE  action17-SIDE  first-fret-SIDE    SIDE: treble, bass or a STRING
 *   crown  crown-FRET
 *   pickup-treble  pickup-bass  pickup-WORD-treble  pickup-WORD-bass
 *   resistance-WORD  resistance-WORD+WORD            + joins coils that are selected together
 *   buzz  buzz-WORD  screws  screws-WORD  note  note-WORD  kind          a person's words
 *
 * Bands, plausible ranges and the errors of rulers are common practice, no source; a shop has
 * its own. Lengths in mm, resistances in ohms.
 */
#ifndef SB_SPEC_H
#define SB_SPEC_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_SPEC_NAME_MAX  48 /* bytes of a name, NUL included */
#define SB_SPEC_KEYS      3
#define SB_SPEC_KIND_WORD 32 /* bytes of a kind of instrument, NUL included */

/* In the order in which they are shown. */
typedef enum {
    SB_SPEC_RELIEF, /* by a feeler at fret 7 under a straightedge */
    SB_SPEC_FIRST_FRET,
    SB_SPEC_ACTION12,
    SB_SPEC_ACTION17,
    SB_SPEC_CROWN,
    SB_SPEC_PICKUP,
    SB_SPEC_RADIUS,
    SB_SPEC_RESISTANCE,
    SB_SPEC_BUZZ,
    SB_SPEC_SCREWS,
    SB_SPEC_NOTE,
    SB_SPEC_INSTRUMENT, /* the kind of instrument as which it is judged */
    SB_SPEC_KINDS
} sb_spec_kind;

typedef enum { SB_MEASURE_FINE, SB_MEASURE_RULER, SB_MEASURE_OHM, SB_MEASURE_TEXT } sb_measure;

typedef struct {
    const char *stem, *what, *title; /* "first-fret", "nut", "first fret" */
    sb_measure measure;              /* FINE: by feeler or calliper; RULER: by a ruler */
    double low, high;                /* the plausible range */
    double error;                    /* two readings further apart are of a changed thing */
    double slack;                    /* so far outside a band is still in it: what cannot be read */
} sb_spec_facts;

/* Static storage. */
const sb_spec_facts *sb_spec_facts_of(sb_spec_kind kind);

typedef enum { SB_SIDE_NONE, SB_SIDE_TREBLE, SB_SIDE_STRING, SB_SIDE_BASS } sb_spec_side;

typedef struct {
    char name[SB_SPEC_NAME_MAX];
    sb_spec_kind kind;
    sb_spec_side side;
    int number;                  /* the string of SIDE_STRING, or the fret of a crown; else 0 */
    char part[SB_SPEC_NAME_MAX]; /* pickup, position or word; "" for none */
    bool combined;               /* a position of several coils */
} sb_spec_id;

/* Reads a name. Errors: SB_E_SYNTAX (no such thing), SB_E_RANGE (a string or fret that there
 * cannot be). */
SB_MUST_CHECK sb_status sb_spec_named(const char *name, sb_spec_id *id);

/* The i-th pattern of names, for hints; NULL behind the last. */
const char *sb_spec_pattern(size_t i);

/* Rising in the order of showing; 0 where they are the same. */
int sb_spec_order(const sb_spec_id *a, const sb_spec_id *b);

/* "action at 17, treble"; size SB_SPEC_TITLE_MAX. */
#define SB_SPEC_TITLE_MAX 96
void sb_spec_title(const sb_spec_id *id, char *text, size_t size);

/* --- bands ------------------------------------------------------------------------------ */

/* -INFINITY and INFINITY where a side is open; of a crown it is the zone at the limit of
 * dressing, of which the far side is good. */
typedef struct {
    double low, high;
} sb_band;

typedef enum {
    SB_SPEC_NO_BAND,
    SB_SPEC_IN_BAND,
    SB_SPEC_LOW,
    SB_SPEC_HIGH,
    SB_SPEC_GOOD,     /* of crowns: high enough to be dressed */
    SB_SPEC_AT_LIMIT, /* at the limit of dressing */
    SB_SPEC_WORN,     /* below it */
    SB_SPEC_VERDICTS
} sb_spec_verdict;

/* The keys under which a band for it may stand, the nearest first: its own name, without pickup
 * or string ("pickup-treble"), without a side ("pickup"). Strings by number take the treble's or
 * the bass's key by the half in which they lie. How many. */
size_t sb_spec_band_keys(const sb_spec_id *id, size_t n_strings,
                         char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX]);

/* Whether a band may stand under the key, and of what. */
bool sb_spec_band_key(const char *key, sb_spec_kind *kind);

/* The shipped starting band under a key for a kind of instrument; false where there is none. */
bool sb_band_shipped(const char *kind, const char *key, sb_band *band);

/* The i-th shipped band; false behind the last. */
bool sb_band_shipped_at(size_t i, const char **kind, const char **key, sb_band *band);

sb_spec_verdict sb_spec_judge(sb_spec_kind kind, const sb_band *band, double value);

/* "in band", "slot suspect"; "" for no band. Static storage. */
const char *sb_spec_verdict_text(sb_spec_kind kind, sb_spec_verdict verdict);

/* Whether the value lies where such a thing may lie. */
bool sb_spec_plausible(sb_spec_kind kind, double value);

/* Whether two values differ by more than a ruler's error. */
bool sb_spec_differs(sb_spec_kind kind, double was, double is);

/* What a slip may have meant, as far as that is plausible: the point elsewhere in the unit that was
 * written, or the number in another unit. */
typedef enum { SB_SLIP_POINT, SB_SLIP_MM, SB_SLIP_INCH, SB_SLIP_THOU, SB_SLIP_KOHM } sb_slip;
typedef struct {
    double value;
    sb_slip slip;
} sb_likely;

/* `inches`: it was written in inches, and not in mm. How many, 0..SB_LIKELY_MAX. */
#define SB_LIKELY_MAX 4
size_t sb_spec_likely(sb_spec_kind kind, double value, bool inches,
                      sb_likely likely[SB_LIKELY_MAX]);

/* --- even from string to string ---------------------------------------------------------- */

/* On a long-scale electric heights may rise from treble to bass by this much in all; of other
 * kinds that is not judged. On all, a string may depart by half of it from the line between its
 * neighbours: a ruler's half 64th (common practice, no source). */
#define SB_EVEN_MM   (25.4 / 64)
#define SB_DEPART_MM (25.4 / 128)

typedef struct {
    bool judged; /* three strings at least, or two where the rise is judged */
    bool even;
    double spread_mm;    /* of the last string over the first */
    size_t string;       /* that departs most, from 1; 0 = fewer than three */
    double departure_mm; /* of it, higher than its neighbours positive */
} sb_evenness;

/* height_mm[i] of string i + 1, NAN where not measured. */
sb_evenness sb_action_evenness(const char *kind, const double height_mm[], size_t n);

#endif
