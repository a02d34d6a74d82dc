/* specs: what rulers and meters said of an instrument, from its log: the latest value of each
 * name and the first of this visit, judged.
 *
 * Names, judgement and their sources are in core/spec.h. Nothing here prints.
 */
#ifndef SB_SPECS_H
#define SB_SPECS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cli/book.h"
#include "core/coils.h"
#include "core/spec.h"

#define SB_SPECS_MAX       128 /* names of one instrument; later ones are left out */
#define SB_SPEC_TEXT_MAX   401 /* bytes of a person's words, NUL included */
#define SB_SPEC_REMARK_MAX 200
#define SB_SPEC_SHOWN_MAX  64 /* bytes of any value or band as it is shown, NUL included */

/* The unit that lengths are shown in. 64THS are a ruler's; what is measured by feeler or calliper
 * is then in thousandths of an inch. */
typedef enum { SB_UNIT_MM, SB_UNIT_64THS, SB_UNIT_THOU, SB_UNITS } sb_spec_unit;

/* "mm", "64ths", "thou"; static storage. */
const char *sb_spec_unit_text(sb_spec_unit unit);

typedef struct {
    bool known;
    double value;                /* mm or ohm; INFINITY: an open circuit; 0 for words */
    char text[SB_SPEC_TEXT_MAX]; /* a person's words: clean before printing */
    int64_t at_ms, event;        /* when, and its place in the log */
    sb_spec_verdict verdict;
} sb_spec_value;

typedef struct {
    sb_spec_id id;
    sb_spec_value latest;
    sb_spec_value first; /* of the latest visit; not known where it has none of that visit */
    bool outdated;       /* changed since, and not measured again */
    bool banded, own;    /* whether it has a band, and whether that is the shop's own */
    sb_band band;
    double base;                     /* what the next value is compared with for a change */
    char remark[SB_SPEC_REMARK_MAX]; /* of coils: what the reading says, in words; else "" */
    bool fault;                      /* the remark is of something wrong */
    sb_coils coils;                  /* of positions of several coils that were all measured */
    bool coils_known;
} sb_spec;

typedef struct sb_specs {
    sb_description description;
    char kind[SB_SPEC_KIND_WORD]; /* as which it is judged; "" = of no kind: without bands */
    sb_spec_unit unit;            /* the shop's own, or mm */
    bool in_visit;
    size_t n;
    sb_spec spec[SB_SPECS_MAX]; /* in the order of showing */
    sb_evenness even12, even17;
    char uneven12[SB_SPEC_REMARK_MAX], uneven17[SB_SPEC_REMARK_MAX]; /* "" = even, or not known */
    bool worn; /* a crown is at the limit of dressing or below: say SB_WORN_CAUTION once */
} sb_specs;

#define SB_WORN_CAUTION                                                                            \
    "Worn crowns: no saddle cures them. A flattened crown sounds from its edge, at each fret "     \
    "by another amount; dress or replace the frets first."

#define SB_UNPLUG_CAUTION                                                                          \
    "A dead coil or switch: unplug the instrument from everything before it is opened."

#define SB_BANDS_SOURCE "Bands are common practice, no source; a shop sets its own (--band)."

/* Reads an instrument's log and judges it by its kind. Large: to be allocated by the caller, and
 * freed with free. */
sb_book_status sb_specs_read(sb_book *book, int64_t instrument, sb_specs *out);

/* The one of that name; NULL where it was never measured. */
const sb_spec *sb_specs_find(const sb_specs *specs, const char *name);

/* A length at a string (from 1) from action12, action17 or first-fret: its own, or by a straight
 * line between its measured neighbours, or the nearest's. False where none was measured. */
bool sb_specs_at_string(const sb_specs *specs, sb_spec_kind kind, size_t string, double *mm);

/* "4½/64 in", "0.010 in", "6.87 kΩ", "open", or the words, cleaned. UTF-8. */
void sb_spec_show(const sb_spec_id *id, const sb_spec_value *value, sb_spec_unit unit, char *text,
                  size_t size);

/* "0.010–0.012 in", "under 0.022 in", "about 3/32 in"; "" without a band. UTF-8. */
void sb_spec_show_band(const sb_spec *spec, sb_spec_unit unit, char *text, size_t size);

/* "in band", "slot suspect", or a coil's remark; "" for nothing to say. */
const char *sb_spec_words(const sb_spec *spec, const sb_spec_value *value);

#endif
