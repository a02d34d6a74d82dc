/* lump: a false string, as one with a small lump of mass on it: dirt, a loose winding, a flaw.
 *
 * By Rayleigh's principle a mass M m at x of a string of mass M and length l lowers partial n by
 * m sin^2(n pi x / l) of its frequency, to first order (Rayleigh, The Theory of Sound, vol. 1,
 * ch. 6, from memory). It then fits no stiff string's series, and lies elsewhere on the fretted
 * half.
 */
#ifndef SB_TESTS_LUMP_H
#define SB_TESTS_LUMP_H

#include <stdbool.h>

/* By how many cents a lump of `mass` of the open string's mass, `at` of its length from the saddle
 * (under a half), pulls partial n, open or at fret 12: zero or less. */
double lump_cents(double mass, double at, bool fretted, int n);

#endif
