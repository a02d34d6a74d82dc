/* paired: a second estimate of the octave error, from partials at the same pitch.
 *
 * The open string's partial 2k and the 12th fret's partial k lie at the same frequency, so a
 * resonance of body or neck shifts both the same way. With
 *     d_k = 1200 log2(f_fretted,k / f_open,2k)
 * and f_n = n f0 sqrt(1 + B n^2) on each side (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964) the
 * error of the sounding fundamentals f0 sqrt(1 + B) against the octave is, for every k (derived),
 *     e_k = d_k - 600 log2((1 + B_f k^2)/(1 + 4 B_o k^2)) + 600 log2((1 + B_f)/(1 + B_o)).
 *
 * What it does and does not do: a pull of as many cents on both notes drops out. One at the
 * bridge shifts a string's partial by (c/L) Z Im Y(f), c the wave's speed, Z the string's
 * impedance, Y the bridge's admittance (from the reflection's phase, derived; weak coupling of
 * C. E. Gough, Acustica 49, 124, 1981, from memory), so the half as long fretted string by twice
 * as many cents: e_k keeps half of what the fretted partial has. It does so in one pair or two,
 * which the scatter then bears or which are left out. The nut and the fret differ, and nothing of
 * a pull there is shared. It is a check on the series, not a better series.
 *
 * Method: the e_k weighted by 1/(sigma_k^2 + scatter^2), sigma_k of both partials and of what the
 * errors of B do to e_k. The scatter is the one that brings chi-squared to its expectation
 * (R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87, 377, 1982). Pairs beyond four of
 * their standard errors, and 0.05 cents, of the rest are left out, at first by median and median
 * deviation. B's errors are common to all pairs and go into the mean's error as such. Where there
 * is scatter, known from n pairs only, it is widened (and the four with it) until two standard
 * errors hold as much of Student's distribution as of the normal one.
 */
#ifndef SB_PAIRED_H
#define SB_PAIRED_H

#include <stddef.h>

#include "core/status.h"

#define SB_PAIRS_MAX   64
#define SB_PAIRS_LEAST 3

typedef struct {
    int number;             /* n, 1 = fundamental */
    double hz;              /* > 0 */
    double std_error_cents; /* > 0; a partial where it is not finite is no use */
} sb_paired_partial;

typedef struct {
    const sb_paired_partial *partials; /* in any order, each number once */
    size_t n;
    double inharmonicity, inharmonicity_std_error; /* B of the note's own series, >= 0 */
} sb_paired_note;

typedef struct {
    double error_cents;     /* of the sounding fundamentals against the octave, sharp positive */
    double std_error_cents; /* scatter and the errors of B included */
    double scatter_cents;   /* of the pairs beyond their own errors */
    size_t pairs, left_out; /* used; too far from the others */
} sb_paired;

/* The octave error of the 12th-fret note over the open string by pairs of partials. Pairs beyond
 * SB_PAIRS_MAX are not looked at.
 * Errors: SB_E_TOO_SHORT (fewer than SB_PAIRS_LEAST pairs, or so few are left), SB_E_RANGE (a
 * number below 1, a frequency or an inharmonicity outside its domain or not finite). */
SB_MUST_CHECK sb_status sb_paired_error(const sb_paired_note *open, const sb_paired_note *fretted,
                                        sb_paired *out);

#endif
