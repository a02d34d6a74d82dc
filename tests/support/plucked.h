/* plucked: readings made up for tests of what is done with them.
 */
#ifndef SB_TESTS_PLUCKED_H
#define SB_TESTS_PLUCKED_H

#include "cli/take.h"

/* A good reading; the octave partial stands 0.26 cents above twice hz. */
sb_reading plucked_good(double start_s, double hz, double std_error_cents);

/* A rejected one; hz 0 = not known. */
sb_reading plucked_bad(double start_s, sb_pluck_fault fault, double hz);

/* hz raised by so many cents. */
double plucked_raised(double hz, double cents);

/* An empty take of 48 kHz sound; the caller frees. Fails the test when out of memory. */
sb_take *plucked_take(void);

#endif
