/* survey: from a string's errors at several frets to what is at fault.
 *
 * Fitted by weighted least squares on exact lengths (core/faults.h): how far the saddle and the
 * nut are out, and how much too high the nut slot is. Saddle and nut are always fitted
 * together: dropping the one that is not significant would bias the other, with which it is
 * correlated by 0.8. The slot takes the nut's place, or joins it, where the readings ask for
 * it. So long as a slot is fitted, kappa = EA/T is fitted with it under a log-normal prior
 * (sb_kappa); a slot that was measured with a feeler gauge enters as one more reading. There is
 * no other prior: what the readings cannot tell is reported as such, not filled in.
 *
 * Open string: a reading of fret 0 says how well the open note is known; its error is common
 * to all frets and is carried as one more unknown. Without one the errors are taken to be
 * against an open note known exactly.
 *
 * Single frets: a fret is named bad where leaving it out lowers chi-squared by more than
 * chance does in SB_SURVEY_ALARM of necks, over all frets together (Bonferroni on externally
 * studentized residuals: Cook & Weisberg, Residuals and Influence in Regression, 1982,
 * sec. 2.2.2; R. D. Cook's mean-shift test). Where the readings' errors are not known, or the
 * others scatter beyond them, the scatter is learned from the others and Student's t used. A
 * high slot also makes fret 1 stand out: bad frets and a slot compete on equal terms.
 *
 * Adequacy: chi-squared of the fit against the readings' errors, those of bad frets left out.
 *
 * Verdict: of the sets of faults {}, {saddle}, {nut}, ... {saddle, nut, slot}, the one with the
 * least chi-squared plus what chance gains per fault in 1 of 100 (a slot pays SB_SURVEY_RIVAL
 * besides); another set within SB_SURVEY_RIVAL of it that puts the blame elsewhere makes it
 * undecided.
 */
#ifndef SB_SURVEY_H
#define SB_SURVEY_H

#include <stdbool.h>
#include <stddef.h>

#include "core/faults.h"
#include "core/status.h"

#define SB_SURVEY_MAX 37 /* frets 0 to 36 */

#define SB_SURVEY_ALARM 0.001 /* chance of a false bad fret, a neck */
#define SB_SURVEY_RIVAL 4.0   /* chi-squared: a likelihood ratio of 7 */

/* Scatter assumed of a reading where neither its error is told nor enough frets are there to
 * learn it from: a careful hand's (common practice, no source). */
#define SB_SURVEY_HAND_CENTS 0.3

typedef struct {
    int fret;               /* 0 = the open string, else 1..36; none twice */
    double fret_cents;      /* what it stands for over the open string: 100 a fret in equal
                               temperament; rising with the fret, to 4800; 0 at fret 0 */
    double error_cents;     /* what is heard less that, sharp positive; within 100 */
    double std_error_cents; /* 1e-4..100, or 0 = not known; then none is taken as known */
    double weight;          /* how much the player uses the fret, >= 0 */
} sb_survey_reading;

typedef struct {
    sb_straight_neck neck;
    sb_kappa kappa;
    double slot_mm, slot_std_error_mm; /* excess, measured; an error of 0 = not measured */
    double tolerance_cents;            /* an error that may stay, > 0 */
} sb_survey_options;

enum { SB_PART_SADDLE, SB_PART_NUT, SB_PART_SLOT, SB_PARTS };

typedef enum {
    SB_SURVEY_TRUE, /* no fret read is out by more than the tolerance */
    SB_SURVEY_SADDLE,
    SB_SURVEY_NUT,
    SB_SURVEY_SLOT,
    SB_SURVEY_FRET, /* a single fret, or several */
    SB_SURVEY_UNDECIDED
} sb_survey_verdict;

typedef enum {
    SB_DOUBT_NONE,
    SB_DOUBT_FEW,    /* too few frets for any of it */
    SB_DOUBT_LOOSE,  /* the readings' errors leave open whether anything is out */
    SB_DOUBT_RIVAL,  /* between two parts, those of `between` */
    SB_DOUBT_MISFIT, /* neither the parts nor single frets explain the readings */
} sb_survey_doubt;

typedef struct {
    bool fitted[SB_PARTS];         /* what the estimate has free */
    double excess_mm[SB_PARTS];    /* too far back, too high; 0 where not fitted */
    double std_error_mm[SB_PARTS]; /* where not fitted, what it would be known to beside the
                                      others; NaN where the readings do not tell */
    double correlation[SB_PARTS][SB_PARTS]; /* of those fitted; else 0 */
    sb_kappa kappa;                         /* after the fit */

    double chi2;
    int dof;              /* 0 = the fit is exact whatever was read */
    double probability;   /* of so large a chi-squared by chance; 1 for dof 0 */
    bool errors_known;    /* else scatter_cents stood in for them */
    double scatter_cents; /* root mean square about the fit, per degree of freedom;
                             NaN for dof 0 */
    bool adequate;
    double used_std_error_cents[SB_SURVEY_MAX]; /* of each reading, as told or as learned */
    bool bad[SB_SURVEY_MAX];                    /* of the i-th reading: its fret stands out */
    double fitted_cents[SB_SURVEY_MAX];
    double fit_std_error_cents[SB_SURVEY_MAX];

    double saddle_only_mm; /* the move, back positive, that makes the weighted sum of
                              squares least while the nut stays; bad frets left out */
    double saddle_only_std_error_mm;
    double saddle_only_cents[SB_SURVEY_MAX]; /* what each reading would be after it */
    double saddle_only_rms_cents;            /* of those, weighted */
    double cured_cents[SB_SURVEY_MAX];       /* after all that is fitted were put right */

    sb_survey_verdict verdict;
    sb_survey_doubt doubt;
    bool fault[SB_PARTS];         /* what surely makes more than the tolerance at some fret */
    int between[2];               /* parts (SB_PARTS a fret) that cannot be told apart, whatever the
                                     verdict; -1 = none */
    double worst_cents[SB_PARTS]; /* the largest error that each makes at a fret read */
} sb_survey;

/* Surveys a string from readings[0..n-1] in any order.
 * Errors: SB_E_TOO_SHORT (no fretted reading), SB_E_RANGE (a value outside its domain, a fret
 * twice, n > SB_SURVEY_MAX), SB_E_UNDETERMINED (no fit, which for sound readings is not seen). */
SB_MUST_CHECK sb_status sb_survey_string(const sb_survey_reading readings[], size_t n,
                                         const sb_survey_options *options, sb_survey *out);

/* How well each part could be known from frets that are yet to be played, each read to
 * `std_error_cents`, with the faults given: the Cramer-Rao bound from the Fisher matrix, kappa's
 * prior and a measured slot included. free: a set of 1 << SB_PART_...; std_error_mm is 0 for the
 * others, NaN for those that cannot be told. Errors: as above. */
SB_MUST_CHECK sb_status sb_survey_bound(const sb_survey_reading readings[], size_t n,
                                        const sb_survey_options *options, const sb_faults *faults,
                                        unsigned free, double std_error_mm[SB_PARTS]);

#endif
