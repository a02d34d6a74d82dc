/* faults: how far each fret of a string is out for a saddle, a nut or a nut slot that is.
 *
 * Geometry: fret n stands a = S (1 - 2^(-c/1200)) from where the nut should be, c the cents
 * that it stands for (100 n in equal temperament); the open string speaks over S + N + D, the
 * fretted one over S - a + D, with N and D the excess of the nut and the saddle. Exact lengths:
 *     e = K ln((S + N + D)(S - a)/(S (S - a + D))),  K = 1200/ln 2,
 * to first order (K/S)(N - (g - 1) D), g = 2^(c/1200).
 *
 * A slot too high by h stretches the string more where it is pressed: nut to fret to saddle
 * over the open string's length is 1 + Q, and the note rises by (K/2)(ln(1+Q) + ln(1+kappa Q)),
 * kappa = EA/T (Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683, 2024, Q_n and e_n;
 * their height b of the nut over the frets is the slot's here, and b + c the saddle's). With
 * b = good slot + h and H the saddle's height, to first order in Q,
 *     kappa K/(4 S^2) ((g-1) H^2 + 2 b H + b^2/(g-1)):
 * h acts mostly like a nut set too far back, by 2 h H, and differs from it by its last term
 * alone, which is large at frets 1 and 2 only. What a good slot adds is no fault and left out.
 */
#ifndef SB_FAULTS_H
#define SB_FAULTS_H

#include <stdbool.h>

#include "core/wire.h"

/* A well-cut slot's bottom over the plane of the frets, and the action at the 12th fret of an
 * electric guitar (common practice, no source). */
#define SB_GOOD_SLOT_MM 0.25
#define SB_ACTION_MM    1.8

typedef struct {
    double scale_mm;     /* S, 100..2000 */
    double good_slot_mm; /* a good slot's bottom over the frets, 0..3 */
    double saddle_mm;    /* H: the string at the saddle over the frets' plane, 0..30 */
} sb_straight_neck;

/* What is out, all of it positive where there is too much. */
typedef struct {
    double saddle_mm; /* D: the saddle too far back, away from the nut */
    double nut_mm;    /* N: the nut too far back, away from the frets */
    double slot_mm;   /* h: the slot too high; above -good_slot_mm */
    double kappa;     /* EA/T, > 0 */
} sb_faults;

/* The string's height at the saddle over the frets, for one at the nut and one over the crown of
 * a fret 1..36, no relief. */
double sb_saddle_height_mm(double slot_mm, int fret, double action_mm);

/* The error of the note at a fret that stands for `fret_cents` over the open string, sharp
 * positive; 0 without faults. NaN where the faults leave no string. */
double sb_faults_error_cents(const sb_straight_neck *neck, const sb_faults *faults,
                             double fret_cents);

/* Its derivatives by the saddle's and the nut's place, in cents a mm. */
void sb_faults_slopes(const sb_straight_neck *neck, const sb_faults *faults, double fret_cents,
                      double *by_saddle, double *by_nut);

/* What a move of the saddle (back positive) adds to that error once the string is retuned, in
 * its lengths alone. */
double sb_faults_move_cents(const sb_straight_neck *neck, const sb_faults *faults,
                            double fret_cents, double move_mm);

/* kappa with a factor for its error: the true one lies between kappa/factor and kappa*factor
 * two times in three. */
typedef struct {
    double kappa, factor;
} sb_kappa;

/* Where nothing is known of the string. Steel: 143 to 403, and so 250 within 1.5, from published
 * unit weights and cores of a set of .010 to .046 in and a modulus of 203 GPa; others: 44 to 111,
 * and so 55 within 1.35, from Anderson & Beausoleil's tables. */
sb_kappa sb_kappa_unknown(sb_material material);

/* From what is known of it (core/wire.h), at `hz` over scale_mm, with the model's errors in
 * quadrature. Errors: as sb_wire_make. */
SB_MUST_CHECK sb_status sb_kappa_of(const sb_wire_data *data, double scale_mm, double hz,
                                    sb_kappa *out);

#endif
