#include "tests/support/tally.h"

#include <math.h>

void tally_add(tally *t, double error_cents, double std_error_cents, double bound_cents) {
    const double size = fabs(error_cents);
    t->readings++;
    t->inside_1 += size <= std_error_cents;
    t->inside_2 += size <= 2.0 * std_error_cents;
    if (!(size <= TALLY_GROSS_CENTS)) {
        t->gross++;
        return;
    }
    t->squares += size * size;
    t->worst_cents = fmax(t->worst_cents, size);
    if (bound_cents > 0.0) {
        t->bound_squares += pow(size / bound_cents, 2.0);
        t->bounded++;
    }
}

void tally_merge(tally *t, const tally *more) {
    t->readings += more->readings;
    t->refused += more->refused;
    t->gross += more->gross;
    t->inside_1 += more->inside_1;
    t->inside_2 += more->inside_2;
    t->squares += more->squares;
    t->worst_cents = fmax(t->worst_cents, more->worst_cents);
    t->bound_squares += more->bound_squares;
    t->bounded += more->bounded;
}

double tally_rms(const tally *t) {
    return sqrt(t->squares / (double)(t->readings - t->gross));
}

double tally_bound_ratio(const tally *t) {
    return sqrt(t->bound_squares / (double)t->bounded);
}

double tally_inside_1(const tally *t) {
    return 100.0 * (double)t->inside_1 / (double)t->readings;
}

double tally_inside_2(const tally *t) {
    return 100.0 * (double)t->inside_2 / (double)t->readings;
}
