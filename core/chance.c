#include "core/chance.h"

#include <math.h>

#define TERMS 500
#define TINY  1e-300
#define CLOSE 1e-15
#define PI    3.14159265358979323846

/* P(a, x) for x < a + 1. */
static double lower_by_series(double a, double x) {
    double term = 1.0 / a;
    double sum = term;

    for (int i = 1; i < TERMS && term > CLOSE * sum; i++) {
        term *= x / (a + i);
        sum += term;
    }
    return sum * exp(a * log(x) - x - lgamma(a));
}

/* Q(a, x) for x >= a + 1, by Lentz's method. */
static double upper_by_fraction(double a, double x) {
    double b = x + 1.0 - a;
    double c = 1.0 / TINY;
    double d = 1.0 / b;
    double product = d;

    for (int i = 1; i < TERMS; i++) {
        const double numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        product *= d * c;
        if (fabs(d * c - 1.0) < CLOSE) {
            break;
        }
    }
    return product * exp(a * log(x) - x - lgamma(a));
}

double sb_chi2_tail(double chi2, int dof) {
    const double a = 0.5 * dof;
    const double x = 0.5 * chi2;

    if (!(x > 0.0)) {
        return 1.0;
    }
    return x < a + 1.0 ? 1.0 - lower_by_series(a, x) : upper_by_fraction(a, x);
}

/* 1 + f1 c^2 + f1 f2 c^4 + ..., where f_k = (2k - 1 + odd)/(2k + odd): `terms` of them. */
static double cosine_sum(double cos2, int terms, int odd) {
    double term = terms > 0 ? 1.0 : 0.0;
    double sum = term;

    for (int k = 1; k < terms; k++) {
        term *= cos2 * (2.0 * k - 1.0 + odd) / (2.0 * k + odd);
        sum += term;
    }
    return sum;
}

double sb_student_tail(double t, int dof) {
    if (dof <= 0) {
        return sb_chi2_tail(t * t, 1);
    }
    const double angle = atan2(fabs(t), sqrt((double)dof));
    const double cos2 = cos(angle) * cos(angle);
    if (dof % 2 == 0) {
        return 1.0 - sin(angle) * cosine_sum(cos2, dof / 2, 0);
    }
    const double sum = sin(angle) * cos(angle) * cosine_sum(cos2, (dof - 1) / 2, 1);
    return 1.0 - 2.0 / PI * (angle + sum);
}

double sb_student_limit(double p, int dof) {
    double low = 0.0;
    double high = 1.0;

    while (sb_student_tail(high, dof) > p && high < 1e12) {
        low = high;
        high *= 2.0;
    }
    for (int i = 0; i < 100 && high - low > 1e-12 * high; i++) {
        const double middle = 0.5 * (low + high);
        if (sb_student_tail(middle, dof) > p) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return high;
}
