#include "core/order.h"

#include <stdlib.h>

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void sb_sort_ascending(double values[], size_t n) {
    qsort(values, n, sizeof values[0], ascending);
}

static void swap(double *a, double *b) {
    double kept = *a;
    *a = *b;
    *b = kept;
}

/* The pivot of a part: the middle one of its first, middle and last, so that sorted numbers
 * are no bad case. */
static double pivot_of(const double values[], ptrdiff_t first, ptrdiff_t last) {
    double a = values[first], b = values[first + (last - first) / 2], c = values[last];
    if ((a <= b && b <= c) || (c <= b && b <= a))
        return b;
    return (b <= a && a <= c) || (c <= a && a <= b) ? a : c;
}

double sb_kth_smallest(double values[], size_t n, size_t k) {
    ptrdiff_t first = 0, last = (ptrdiff_t)n - 1, wanted = (ptrdiff_t)k;
    while (first < last) {
        double pivot = pivot_of(values, first, last);
        ptrdiff_t i = first, j = last;
        while (i <= j) {
            while (values[i] < pivot)
                i++;
            while (pivot < values[j])
                j--;
            if (i <= j)
                swap(&values[i++], &values[j--]);
        }
        if (wanted <= j)
            last = j;
        else if (wanted >= i)
            first = i;
        else
            break;
    }
    return values[k];
}

double sb_median(double values[], size_t n) {
    double upper = sb_kth_smallest(values, n, n / 2);
    if (n % 2)
        return upper;
    double lower = values[0];
    for (size_t i = 1; i < n / 2; i++)
        lower = values[i] > lower ? values[i] : lower;
    return 0.5 * (lower + upper);
}
