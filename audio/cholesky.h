/* cholesky: the normal equations of few unknowns, solved by Cholesky's factors (Golub & Van Loan,
 * Matrix Computations, section 4.2, from memory). Of a matrix of n rows, each `stride` numbers
 * after the one before, only the lower half is read or written.
 *
 * Internal to audio/. Pure computation; inline, for it is the inner loop of every fit.
 */
#ifndef SB_CHOLESKY_H
#define SB_CHOLESKY_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

/* a becomes the L of L L' = a, each diagonal of a first grown by 1 + damping. False where that is
 * not positive definite; a is spoilt then. */
static inline bool sb_cholesky_factor(double *a, size_t n, size_t stride, double damping) {
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q <= p; q++) {
            double sum = a[p * stride + q] * (p == q ? 1.0 + damping : 1.0);
            for (size_t r = 0; r < q; r++)
                sum -= a[p * stride + r] * a[q * stride + r];
            if (p == q && !(sum > 0 && isfinite(sum)))
                return false;
            a[p * stride + q] = p == q ? sqrt(sum) : sum / a[q * stride + q];
        }
    }
    return true;
}

/* x becomes L^-1 x. */
static inline void sb_cholesky_forward(const double *l, size_t n, size_t stride, double x[]) {
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q < p; q++)
            x[p] -= l[p * stride + q] * x[q];
        x[p] /= l[p * stride + p];
    }
}

/* x becomes L'^-1 x. */
static inline void sb_cholesky_backward(const double *l, size_t n, size_t stride, double x[]) {
    for (size_t p = n; p-- > 0;) {
        for (size_t q = p + 1; q < n; q++)
            x[p] -= l[q * stride + p] * x[q];
        x[p] /= l[p * stride + p];
    }
}

/* x becomes a^-1 x, of the a that l is the factor of. */
static inline void sb_cholesky_solve(const double *l, size_t n, size_t stride, double x[]) {
    sb_cholesky_forward(l, n, stride, x);
    sb_cholesky_backward(l, n, stride, x);
}

#endif
