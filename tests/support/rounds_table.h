/* rounds_table: what came out of rounds, as lines of a table for the benches. */
#ifndef SB_TESTS_ROUNDS_TABLE_H
#define SB_TESTS_ROUNDS_TABLE_H

#include "tests/support/rounds.h"

/* Strings with a saddle of their own: how many, percent true before and after moves, moves
 * and notes a string, rms and largest true error in the end. */
void rounds_head_single(void);
void rounds_print_single(const char *name, const rounds_result *r);

/* Shared saddles: how many, cents beyond the best before, then after one move and after two
 * (mean, largest, percent within ROUNDS_NEAR_CENTS), moves a saddle, notes a string. */
void rounds_head_shared(void);
void rounds_print_shared(const char *name, const rounds_result *r);

#endif
