/* order: numbers in ascending order, and their median.
 */
#ifndef SB_ORDER_H
#define SB_ORDER_H

#include <stddef.h>

/* Sorts values[0..n-1] ascending, in place; no NaN among them. */
void sb_sort_ascending(double values[], size_t n);

/* The median, of the middle two their mean; sorts its argument. n > 0. */
double sb_median(double values[], size_t n);

#endif
