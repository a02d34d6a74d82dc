#include "core/order.h"

#include <stdbool.h>
#include <stdlib.h>

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void sb_sort_ascending(double values[], size_t n) {
    qsort(values, n, sizeof values[0], ascending);
}

/* Brings those of values[from..to-1] that lie below the pivot, or are equal to it if asked, to the
 * front, and returns where the others begin. Without a branch, which on numbers in no order would
 * be guessed wrong half the time. */
static size_t divide(double values[], size_t from, size_t to, double pivot, bool equal) {
    size_t end = from;
    for (size_t i = from; i < to; i++) {
        double x = values[i];
        values[i] = values[end];
        values[end] = x;
        end += equal ? x <= pivot : x < pivot;
    }
    return end;
}

/* The pivot of a part: the middle one of its first, middle and last, so that sorted numbers
 * are no bad case. */
static double pivot_of(const double values[], size_t first, size_t last) {
    double a = values[first], b = values[first + (last - first) / 2], c = values[last];
    if ((a <= b && b <= c) || (c <= b && b <= a))
        return b;
    return (b <= a && a <= c) || (c <= a && a <= b) ? a : c;
}

double sb_kth_smallest(double values[], size_t n, size_t k) {
    size_t from = 0, to = n;
    while (to - from > 1) {
        double pivot = pivot_of(values, from, to - 1);
        size_t below = divide(values, from, to, pivot, false);
        if (k < below) {
            to = below;
            continue;
        }
        from = divide(values, below, to, pivot, true);
        if (k < from || from == below) /* the latter of what is not a number alone */
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
