#include "audio/hum.h"

#include <math.h>

enum { TRIALS = 9, LEAST_HARMONICS = 2, FIRST_LOOK = 8 };
static const double MAINS_SPREAD = 0.003; /* grids stay within this of nominal */
static const double STANDS_OUT = 12.0;    /* power over that between the harmonics */
static const double LEAST_POWER = 1e-12;

struct spectrum {
    const double *power;
    size_t bins;
    double bin_hz;
};

static double power_at(const struct spectrum *spectrum, double hz) {
    size_t j = (size_t)lround(hz / spectrum->bin_hz);
    return j < spectrum->bins ? spectrum->power[j] : 0.0;
}

static double best_mains(const struct spectrum *spectrum, double nominal_hz, double *power) {
    double best_hz = nominal_hz;
    *power = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        double hz = nominal_hz * (1.0 + MAINS_SPREAD * (2.0 * trial / (TRIALS - 1) - 1.0)), sum = 0;
        for (int k = 1; k <= 6; k++)
            sum += power_at(spectrum, k * hz);
        if (sum > *power)
            *power = sum, best_hz = hz;
    }
    return best_hz;
}

sb_hum sb_hum_find(const double power[], size_t bins, double bin_hz) {
    const struct spectrum spectrum = {power, bins, bin_hz};
    sb_hum hum = {0};
    double power50, power60;
    double hz50 = best_mains(&spectrum, 50.0, &power50);
    double hz60 = best_mains(&spectrum, 60.0, &power60);
    double mains = power50 >= power60 ? hz50 : hz60;
    int found = 0, looked = SB_HUM_HARMONICS;
    for (int k = 1; k <= looked && (k + 0.5) * mains < 0.9 * (double)bins * bin_hz; k++) {
        double on = power_at(&spectrum, k * mains);
        double between =
            0.5 * (power_at(&spectrum, (k - 0.4) * mains) + power_at(&spectrum, (k + 0.4) * mains));
        if (on > STANDS_OUT * between && on > LEAST_POWER)
            hum.amplitude[k - 1] = sqrt(on), found++;
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
