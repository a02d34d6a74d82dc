#include "core/coils.h"

#include <math.h>

static double together(const double single_ohm[], size_t n, unsigned on, bool series) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        if (on >> i & 1U)
            sum += series ? single_ohm[i] : 1 / single_ohm[i];
    return series ? sum : 1 / sum;
}

typedef struct {
    unsigned on;
    bool series;
    double off; /* of the reading, as a part */
} way;

/* The two ways of connecting coils that come nearest to the reading. */
static void nearest(const double single_ohm[], size_t n, double meter_ohm, way best[2]) {
    unsigned open = 0;
    best[0] = best[1] = (way){.off = (double)INFINITY};
    for (size_t i = 0; i < n; i++)
        open |= isinf(single_ohm[i]) ? 1U << i : 0;
    for (unsigned on = 1; on < 1U << n; on++)
        for (int series = 0; series < 2; series++) {
            bool alone = (on & (on - 1)) == 0;
            if (on & open || (alone && series))
                continue;
            way w = {on, series, 0};
            w.off = fabs(meter_ohm / together(single_ohm, n, on, series) - 1);
            if (w.off < best[0].off) {
                best[1] = best[0];
                best[0] = w;
            } else if (w.off < best[1].off) {
                best[1] = w;
            }
        }
}

static sb_coils_verdict verdict_of(const way best[2], unsigned all, double meter_ohm) {
    if (isinf(meter_ohm))
        return SB_COILS_OPEN;
    if (meter_ohm < SB_SHORT_OHM)
        return SB_COILS_SHORT;
    if (best[0].off > SB_METER_PART)
        return SB_COILS_NEITHER;
    if (best[1].off <= SB_METER_PART)
        return SB_COILS_UNCLEAR;
    if (best[0].on == all)
        return best[0].series ? SB_COILS_SERIES : SB_COILS_PARALLEL;
    return best[0].series ? SB_COILS_FEWER_SERIES : SB_COILS_FEWER;
}

sb_status sb_coils_judge(const double single_ohm[], size_t n, double meter_ohm, sb_coils *out) {
    way best[2];
    bool good = n >= 2 && n <= SB_COILS_MAX && meter_ohm >= 0;
    for (size_t i = 0; good && i < n; i++)
        good = single_ohm[i] > 0;
    if (!good)
        return SB_E_RANGE;
    unsigned all = (1U << n) - 1;
    nearest(single_ohm, n, meter_ohm, best);
    *out = (sb_coils){.parallel_ohm = together(single_ohm, n, all, false),
                      .series_ohm = together(single_ohm, n, all, true),
                      .verdict = verdict_of(best, all, meter_ohm),
                      .on = best[0].on,
                      .other = best[1].on,
                      .on_series = best[0].series,
                      .other_series = best[1].series};
    return SB_OK;
}
