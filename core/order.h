/* order: numbers in ascending order, and their median.
 */
#ifndef SB_ORDER_H
#define SB_ORDER_H

#include <stddef.h>

/* Sorts values[0..n-1] ascending, in place; no NaN among them. */
void sb_sort_ascending(double values[], size_t n);

/* The k-th smallest of values[0..n-1], k < n, from 0, in a time that grows as n; rearranges
 * its argument; no NaN among them. Method: C. A. R. Hoare, Algorithm 65: Find, Commun. ACM 4,
 * 321 (1961). */
double sb_kth_smallest(double values[], size_t n, size_t k);

/* The median, of the middle two their mean; rearranges its argument. n > 0. */
double sb_median(double values[], size_t n);

/* From the median distance to the standard deviation, of a normal distribution. */
#define SB_MAD_TO_STD 1.4826

#endif
