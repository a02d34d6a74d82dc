#include "core/order.h"

#include <stdlib.h>

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void sb_sort_ascending(double values[], size_t n) {
    qsort(values, n, sizeof values[0], ascending);
}

double sb_median(double values[], size_t n) {
    sb_sort_ascending(values, n);
    return 0.5 * (values[(n - 1) / 2] + values[n / 2]);
}
