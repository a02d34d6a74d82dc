/* saddle: from an interval's error to the saddle move that cures it.
 *
 * Geometry: nominal scale length S; fret n lies a = S (1 - 2^(-n/12)) from the nut;
 * the open string speaks over L. The fretted note stands at g 2^(e/1200) times the
 * open one, g = 2^(n/12), e the error in cents, positive = fretted note sharp.
 *
 * Method. After a saddle move the repairer retunes the open string, so tension grows
 * as (L'/L)^2. The sharpening by stretch (EA/T times the stretch h^2/(2a(L-a)) of
 * pressing down) and by stiffness (sqrt(EI/T) a/(L(L-a))) then both scale by
 * L^2(L-a)/(L'^2(L'-a)); with ln G = ln(g 2^(e/1200) (L-a)/L) the new length solves
 *     ln(L'/(g(L'-a))) + ln G . L^2(L-a)/(L'^2(L'-a)) = 0.
 * Derived from the string model of Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1),
 * 683 (2024), eqs. for e_n with T = mu (2 L f)^2; solved by Newton. Freezing the
 * tension instead is worse than the bench rule S ln2/1200 a cent.
 *
 * Valid for |e| <= SB_MAX_ERROR_CENTS; a larger error is no saddle's fault.
 */
#ifndef SB_SADDLE_H
#define SB_SADDLE_H

#include <stdbool.h>

#include "core/status.h"

#define SB_MAX_ERROR_CENTS 100.0

/* Justification of the default tolerance: pure-tone difference limens of about 0.2 %
 * (3.5 cents) between 500 and 2000 Hz and thresholds of about 2.6 cents (figure from
 * memory) for trained listeners on complex tones (Micheyl et al., Hear. Res. 219, 36, 2006)
 * put 1 cent well below hearing; and 1 cent is 0.37 mm of saddle, about the least that can be set.
 */
#define SB_TOLERANCE_CENTS 1.0

typedef struct {
    double scale_mm;    /* S, nominal scale length; 100..2000 */
    double speaking_mm; /* L, nut to saddle now; 0 = taken as S; at most 2 S */
    int fret;           /* 1..36 */
} sb_geometry;

typedef enum { SB_VERDICT_LEAVE, SB_VERDICT_MOVE, SB_VERDICT_MEASURE_AGAIN } sb_verdict;

typedef struct {
    double move_mm;          /* positive = back, away from the nut */
    double std_error_mm;     /* propagated from the error's */
    double rule_of_thumb_mm; /* first-order cross-check, S e ln2/(1200 (g-1)) */
    double cents_per_mm;     /* how fast the error falls per mm of move, at the move's start */
} sb_move;

/* The move that makes the interval true once the open string is retuned.
 * error_cents: signed, fretted sharp = positive; std_error_cents >= 0.
 * An error of 0 gives a move of exactly 0.
 * Errors: SB_E_RANGE (geometry outside its ranges, speaking length not beyond the fret,
 * error not finite or beyond SB_MAX_ERROR_CENTS, standard error not finite or negative, or
 * no solution short of the fret). */
SB_MUST_CHECK sb_status sb_saddle_move(const sb_geometry *geometry, double error_cents,
                                       double std_error_cents, sb_move *out);

/* The error that remains after a move of `move_mm` and a retune: the forward model that
 * sb_saddle_move inverts, to rounding. Errors: SB_E_RANGE, as sb_saddle_move, or the moved
 * saddle not beyond the fret. */
SB_MUST_CHECK sb_status sb_saddle_error_after(const sb_geometry *geometry, double error_cents,
                                              double move_mm, double *remaining_cents);

/* The move that takes `taken_cents` of the error away, which an error of another size than the
 * whole does. Errors: SB_E_RANGE, as sb_saddle_error_after. */
SB_MUST_CHECK sb_status sb_saddle_move_taking(const sb_geometry *geometry, double error_cents,
                                              double taken_cents, double *move_mm);

/* Beyond this standard error an answer is no guide to the saddle: 5 cents is what the
 * trade calls noticeable (common practice, no source). */
#define SB_TRUSTED_STD_ERROR_CENTS 5.0

/* What to do about an error: MEASURE_AGAIN when its standard error is not finite or above
 * SB_TRUSTED_STD_ERROR_CENTS, or the error is beyond SB_MAX_ERROR_CENTS; LEAVE inside the
 * tolerance or inside its own standard error; else MOVE. */
sb_verdict sb_verdict_for(double error_cents, double std_error_cents, double tolerance_cents);

/* Nut to fret distance S (1 - 2^(-n/12)) in mm. */
double sb_fret_position_mm(double scale_mm, int fret);

#endif
