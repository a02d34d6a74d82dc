/* tally: figures over many readings whose truth is known. */
#ifndef SB_TESTS_TALLY_H
#define SB_TESTS_TALLY_H

#include <stddef.h>

#define TALLY_GROSS_CENTS 20.0 /* beyond: a gross error, counted apart and not in the RMS */

typedef struct {
    size_t readings; /* pitches given, gross ones too */
    size_t refused;  /* notes for which none was given */
    size_t gross;
    size_t inside_1, inside_2; /* of all readings, error within 1 and 2 standard errors */
    double squares;            /* sums over the readings that are not gross */
    double worst_cents;
    double bound_squares; /* of error over bound, where there is a bound */
    size_t bounded;
} tally;

/* Counts one reading; std_error_cents 0 = none given, bound_cents 0 = none known. */
void tally_add(tally *t, double error_cents, double std_error_cents, double bound_cents);

/* Adds the counts of `more`. */
void tally_merge(tally *t, const tally *more);

/* RMS error over the readings that are not gross; NaN without any. */
double tally_rms(const tally *t);

/* RMS of error over bound; NaN without any bound. */
double tally_bound_ratio(const tally *t);

/* Percentages of all readings. */
double tally_inside_1(const tally *t);
double tally_inside_2(const tally *t);

#endif
