/* compensate: where saddle and nut have to stand so that the fretted notes come true.
 *
 * Least squares of the cents over the frets that count, by Gauss-Newton on the exact model of
 * core/fretted.h (Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683, 2024, solve its first
 * order; theirs differs by up to 0.04 mm on the strings of their tables). The open string is at
 * pitch throughout.
 *
 * Errors come by moving each unsure figure by its standard error either way and solving again.
 */
#ifndef SB_COMPENSATE_H
#define SB_COMPENSATE_H

#include <stdbool.h>
#include <stddef.h>

#include "core/fretted.h"
#include "core/instrument.h"

typedef struct {
    sb_neck neck;
    double hz;             /* of the open string */
    double behind_mm;      /* string behind nut and saddle that slides over them and so shares the
                              stretch: EA counts as EA S/(S + behind); 0..1000, 0 = it is held */
    double ends;           /* a of core/fretted.h */
    double ends_std_error; /* SB_ENDS_STD_ERROR */
    int frets[SB_FRETS_MAX];
    size_t n_frets; /* at least 1; 2 for the nut */
    bool nut;       /* the nut may move too */
} sb_compensation_task;

typedef struct {
    sb_wire wire;
    double tension_std_error_n, inharmonicity_std_error;
    double saddle_mm, saddle_std_error_mm; /* from the nominal place, back positive */
    double nut_mm, nut_std_error_mm;       /* away from the frets positive; 0 unless it may move */
    double saddle_by_mm[SB_UNSURES];       /* how far a standard error of each moves the saddle,
                                              signed */
    double before_cents[SB_FRETS_MAX], cents[SB_FRETS_MAX]; /* in the order of the task's frets */
    double rms_before_cents, rms_cents;
} sb_compensation;

/* Errors: as sb_wire_make and sb_fretted_error; SB_E_TOO_SHORT (too few frets),
 * SB_E_UNDETERMINED (the frets do not tell saddle from nut, or no solution is near). */
SB_MUST_CHECK sb_status sb_compensate(const sb_compensation_task *task, const sb_wire_data *data,
                                      sb_compensation *out);

/* The standard error of the difference of two strings' saddles, b less a: what both are unsure of
 * in the same way cancels. `alike` = of one material, both plain or both wound, and by one maker:
 * they share the modulus, and of what the core is unsure of, all but the 5 % that the cores of one
 * set scatter by about the law of core/wire.h. `same` = one and the same string. */
double sb_compensation_shift_error(const sb_compensation *a, const sb_compensation *b, bool alike,
                                   bool same);

#endif
