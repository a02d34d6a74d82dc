#include "tests/support/bound.h"

#include <math.h>

#include "tests/support/cents.h"

#define PI 3.14159265358979323846

double bound_information(const bound_partial *p, const bound_window *w) {
    const double step = exp(-2.0 * p->decay_per_s / w->rate_hz);
    double weight = 1.0, sum = 0.0, sum_t = 0.0, sum_tt = 0.0;
    for (size_t k = 0; k < w->n; k++, weight *= step) {
        const double t = (double)k / w->rate_hz;
        sum += weight;
        sum_t += weight * t;
        sum_tt += weight * t * t;
    }
    const double spread = sum_tt - sum_t * sum_t / sum;
    const double omega = p->amplitude * 2.0 * PI / w->sigma;
    return 0.5 * omega * omega * spread;
}

/* df_l/df0 and df_l/dB. */
static void slopes(int l, double f0_hz, double b, double *by_f0, double *by_b) {
    const double root = sqrt(1.0 + b * l * l);
    *by_f0 = l * root;
    *by_b = (double)l * l * l * f0_hz / (2.0 * root);
}

double bound_f0_hz(const bound_partial partials[], size_t count, double f0_hz, double b,
                   const bound_window *w) {
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        double by_f0, by_b;
        slopes(partials[i].number, f0_hz, b, &by_f0, &by_b);
        sum += by_f0 * by_f0 * bound_information(&partials[i], w);
    }
    return 1.0 / sqrt(sum);
}

bool bound_of_stiff(const bound_partial partials[], size_t count, double f0_hz, double b,
                    const bound_window *w, bound_stiff *out) {
    double ff = 0.0, fb = 0.0, bb = 0.0;
    for (size_t i = 0; i < count; i++) {
        double by_f0, by_b;
        slopes(partials[i].number, f0_hz, b, &by_f0, &by_b);
        const double info = bound_information(&partials[i], w);
        ff += by_f0 * by_f0 * info;
        fb += by_f0 * by_b * info;
        bb += by_b * by_b * info;
    }
    const double det = ff * bb - fb * fb;
    if (!(det > 1e-12 * ff * bb))
        return false;
    const double var_f0 = bb / det, var_b = ff / det, cov = -fb / det;
    /* ln(f0 sqrt(1+B)): slopes 1/f0 and 1/(2 (1+B)) */
    const double gf = 1.0 / f0_hz, gb = 0.5 / (1.0 + b);
    out->f0_hz = sqrt(var_f0);
    out->b = sqrt(var_b);
    out->sounding_cents =
        CENTS_PER_LN * sqrt(gf * gf * var_f0 + 2.0 * gf * gb * cov + gb * gb * var_b);
    return true;
}
