/* beam: a stiff string as a finite-element model, to check closed forms against.
 *
 * T y'' - EI y'''' + m w^2 y = 0 by cubic Hermite elements with consistent mass; the first mode
 * by inverse iteration on a banded Cholesky factor, the shape under supports that hold the string
 * aside by the same factor. Nothing of core/ is used.
 */
#ifndef SB_TESTS_BEAM_H
#define SB_TESTS_BEAM_H

#include <stdbool.h>
#include <stddef.h>

#define BEAM_NODES 6001

typedef struct {
    double tension_n, bending_nm2, mass_kg_m;
    size_t n; /* nodes */
    double x[BEAM_NODES];
    bool held[BEAM_NODES];    /* the displacement is `aside` */
    bool clamped[BEAM_NODES]; /* the slope is 0 */
    double aside[BEAM_NODES];
} beam;

/* Begins at x = 0 with a held node. */
void beam_begin(beam *b, double tension_n, double bending_nm2, double mass_kg_m);

/* Adds a length, in so many elements of one size, ending in a node that is held or free. */
void beam_add(beam *b, double length_m, size_t elements, bool held);

/* The frequency of the first mode, Hz; `aside` is taken as 0. */
double beam_first_hz(const beam *b);

/* How much longer the string is than straight, m: the integral of y'^2/2 of its shape at rest. */
double beam_growth_m(const beam *b);

#endif
