/* whose_cost: how unlikely an answer is for a note. Internal to whose.
 */
#ifndef SB_WHOSE_COST_H
#define SB_WHOSE_COST_H

#include "core/whose.h"

/* Spread of a string that was not retuned; chosen with those in whose_cost.c. */
#define SB_WHOSE_KEPT_CENTS 5.0

/* Minus the logarithm of the likelihood, but for a constant, that a note of `cents` above whose's
 * reference is the answer after what the path holds: the string's number, from 1, its negative for
 * that string fretted, 0 for none. Infinite where it cannot be. */
double sb_whose_cost(const sb_whose *whose, const sb_whose_path *path, int answer, double cents);

#endif
