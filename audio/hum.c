#include "audio/hum.h"

#include <math.h>

#include "core/pitch.h"

enum { TRIALS = 9, LEAST_HARMONICS = 2, FIRST_LOOK = 8 };
static const double MAINS_SPREAD = 0.003; /* grids stay within this of nominal */
static const double STANDS_OUT = 12.0;    /* power over that between the harmonics */

/* Hann-windowed amplitude at one frequency, by a rotating phasor. */
static double amplitude_at(const float samples[], size_t n, double cycles_per_sample) {
    double re = 0, im = 0, weight = 0, a = SB_TWO_PI * cycles_per_sample,
           step = SB_TWO_PI / (double)n;
    double c = 1, s = 0, cs = cos(a), ss = sin(a), hc = 1, hs = 0, hcs = cos(step), hss = sin(step);
    for (size_t i = 0; i < n; i++) {
        double w = 0.5 - 0.5 * hc, x = w * (double)samples[i];
        re += x * c, im -= x * s, weight += w;
        double next = c * cs - s * ss;
        s = c * ss + s * cs, c = next;
        next = hc * hcs - hs * hss;
        hs = hc * hss + hs * hcs, hc = next;
    }
    return 2.0 * sqrt(re * re + im * im) / fmax(weight, 1e-9);
}

static double best_mains(const float samples[], size_t n, double rate_hz, double nominal_hz,
                         double *power) {
    double best_hz = nominal_hz;
    *power = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        double hz = nominal_hz * (1.0 + MAINS_SPREAD * (2.0 * trial / (TRIALS - 1) - 1.0)), sum = 0;
        for (int k = 1; k <= 6; k++) {
            double a = amplitude_at(samples, n, k * hz / rate_hz);
            sum += a * a;
        }
        if (sum > *power)
            *power = sum, best_hz = hz;
    }
    return best_hz;
}

sb_hum sb_hum_find(const float samples[], size_t n, double rate_hz) {
    sb_hum hum = {0};
    if ((double)n < 0.1 * rate_hz)
        return hum;
    double power50, power60;
    double hz50 = best_mains(samples, n, rate_hz, 50.0, &power50);
    double hz60 = best_mains(samples, n, rate_hz, 60.0, &power60);
    double mains = power50 >= power60 ? hz50 : hz60;
    int found = 0, looked = SB_HUM_HARMONICS;
    for (int k = 1; k <= looked && (k + 0.5) * mains < 0.45 * rate_hz; k++) {
        double on = amplitude_at(samples, n, k * mains / rate_hz);
        double below = amplitude_at(samples, n, (k - 0.4) * mains / rate_hz);
        double above = amplitude_at(samples, n, (k + 0.4) * mains / rate_hz);
        double between = 0.5 * (below * below + above * above);
        if (on * on > STANDS_OUT * between && on > 1e-6)
            hum.amplitude[k - 1] = on, found++;
        if (k == FIRST_LOOK && found == 0)
            looked = k; /* hum has its strength low down */
    }
    if (found >= LEAST_HARMONICS || hum.amplitude[0] > 0)
        hum.mains_hz = mains;
    return hum;
}

int sb_hum_at(const sb_hum *hum, double hz, double reach_hz) {
    if (hum->mains_hz <= 0)
        return 0;
    int k = (int)lround(hz / hum->mains_hz);
    if (k < 1 || k > SB_HUM_HARMONICS || hum->amplitude[k - 1] <= 0)
        return 0;
    return fabs(hz - k * hum->mains_hz) <= reach_hz ? k : 0;
}
