#include "core/settle.h"

#include <math.h>
#include <string.h>

#define LEAST_PLUCKS 3

/* The first pluck since the string was tuned. */
static size_t since_tuning(const double cents[], size_t n) {
    size_t first = n > SB_SETTLE_PLUCKS ? n - SB_SETTLE_PLUCKS : 0;

    for (size_t i = first + 1; i < n; i++) {
        if (cents[i] > cents[i - 1] + SB_SETTLE_RETUNED_CENTS) {
            first = i;
        }
    }
    return first;
}

static double mean(const double values[], size_t n) {
    double sum = 0.0;

    for (size_t i = 0; i < n; i++) {
        sum += values[i];
    }
    return sum / (double)n;
}

static sb_settle_kind judge(double drift, double std_error) {
    if (drift < -SB_SETTLE_CENTS_PER_MIN && drift < -2.0 * std_error) {
        return SB_SETTLE_STRETCH;
    }
    return fabs(drift) + 2.0 * std_error <= SB_SETTLE_CENTS_PER_MIN ? SB_SETTLE_SETTLED
                                                                    : SB_SETTLE_UNKNOWN;
}

sb_settling sb_settle_judge(const double time_s[], const double cents[], size_t n) {
    const size_t first = since_tuning(cents, n), used = n - first;
    sb_settling out = {.kind = SB_SETTLE_UNKNOWN, .used = used};
    const double *t = time_s + first, *c = cents + first;
    double spread = 0.0, product = 0.0, left = 0.0;

    if (used < LEAST_PLUCKS) {
        return out;
    }
    const double t_mean = mean(t, used), c_mean = mean(c, used);
    for (size_t i = 0; i < used; i++) {
        spread += (t[i] - t_mean) * (t[i] - t_mean);
        product += (t[i] - t_mean) * (c[i] - c_mean);
    }
    if (!(spread > 0.0)) {
        return out;
    }
    const double slope = product / spread; /* cents per second */
    for (size_t i = 0; i < used; i++) {
        const double departure = c[i] - c_mean - slope * (t[i] - t_mean);
        left += departure * departure;
    }
    const double scatter = fmax(sqrt(left / (double)(used - 2)), SB_SETTLE_SCATTER_CENTS);
    out.drift_cents_per_min = 60.0 * slope;
    out.std_error = 60.0 * scatter / sqrt(spread);
    out.kind = judge(out.drift_cents_per_min, out.std_error);
    return out;
}

const char *sb_settle_text(sb_settle_kind kind) {
    switch (kind) {
    case SB_SETTLE_UNKNOWN: return "";
    case SB_SETTLE_STRETCH: return "stretch again";
    case SB_SETTLE_SETTLED: return "settled";
    }
    return "";
}

sb_settle_kind sb_settle_named(const char *text) {
    if (text && strcmp(text, sb_settle_text(SB_SETTLE_STRETCH)) == 0) {
        return SB_SETTLE_STRETCH;
    }
    return text && strcmp(text, sb_settle_text(SB_SETTLE_SETTLED)) == 0 ? SB_SETTLE_SETTLED
                                                                        : SB_SETTLE_UNKNOWN;
}
