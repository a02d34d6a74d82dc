#include "audio/mains.h"

#include <math.h>

enum { SEARCHED = 10, LOW = 3 };
/* The noise of a lobe and of what lies beside it, in standard deviations over the windows: 9
 * bins of a window 2 bins wide, and the median of 10. */
static const double LOBE_SPREAD = 0.73;
static const double STANDS_OUT = 6.0, SURE = 12.0;

static double score(const sb_averaged *a, double hz) {
    double sum = 0;
    for (int k = 1; k <= SEARCHED; k++) {
        size_t bin = sb_averaged_bin(a, k * hz);
        if (sb_averaged_room(a, bin))
            sum += log1p(fmax(0, a->average[bin] / sb_averaged_noise(a, bin) - 1));
    }
    return sum;
}

static double best_near(const sb_averaged *a, double nominal_hz, double *best) {
    double best_hz = nominal_hz, step = 0.5 * a->bin_hz / SEARCHED;
    int steps = (int)ceil(2 * SB_MAINS_SPREAD * nominal_hz / step);
    *best = 0;
    for (int i = 0; i <= steps; i++) {
        double hz = nominal_hz * (1 + SB_MAINS_SPREAD * (2.0 * i / steps - 1));
        double here = score(a, hz);
        if (here > *best) {
            *best = here;
            best_hz = hz;
        }
    }
    return best_hz;
}

static sb_mains look_for(const sb_averaged *a, double hz, double top_hz) {
    sb_mains m = {.hz = hz};
    double spread = LOBE_SPREAD / sqrt((double)a->windows);
    for (size_t k = 1; k <= SB_MAINS_HARMONICS && (double)k * hz < top_hz; k++) {
        size_t bin = sb_averaged_bin(a, (double)k * hz);
        if (!sb_averaged_room(a, bin))
            break;
        m.noise[k - 1] = (2 * SB_AVERAGED_LOBE + 1) * sb_averaged_noise(a, bin);
        m.excess[k - 1] = (sb_averaged_lobe(a->average, bin) / m.noise[k - 1] - 1) / spread;
        m.found[k - 1] = m.excess[k - 1] > STANDS_OUT;
        m.n = k;
    }
    return m;
}

/* Hum has its strength low down: one of the first harmonics that is sure, or three that are
 * likely. One alone further up may well be a string's partial: F4 lies at 7 * 49.9 Hz. */
static bool is_hum(const sb_mains *m) {
    int likely = 0;
    bool sure = false;
    for (size_t k = 0; k < m->n && k < SEARCHED; k++) {
        likely += m->found[k];
        sure = sure || (k < LOW && m->excess[k] > SURE);
    }
    return sure || likely >= 3;
}

/* A string beside the range lends its skirt to the range's end, and is then found outside. */
static bool in_range(double hz) {
    double nominal_hz = hz < 55 ? 50 : 60;
    return fabs(hz / nominal_hz - 1) <= SB_MAINS_SPREAD + 0.0005;
}

/* Where a harmonic really stands: a parabola through the logarithms of three bins, which hardly
 * errs with a window that is so nearly Gaussian. */
static double summit_hz(const sb_averaged *a, double near_hz) {
    size_t top = sb_averaged_bin(a, near_hz);
    for (size_t j = top - SB_AVERAGED_LOBE / 2;
         j <= sb_averaged_bin(a, near_hz) + SB_AVERAGED_LOBE / 2; j++)
        if (a->average[j] > a->average[top])
            top = j;
    double left = log(a->average[top - 1] + 1e-30), mid = log(a->average[top] + 1e-30),
           right = log(a->average[top + 1] + 1e-30);
    double curve = left - 2 * mid + right;
    double off = curve < 0 ? 0.5 * (left - right) / curve : 0;
    return ((double)top + fmin(fmax(off, -0.5), 0.5)) * a->bin_hz;
}

static void refine(const sb_averaged *a, sb_mains *m) {
    double weights = 0, sum = 0, squares = 0;
    int n = 0;
    for (size_t k = 1; k <= m->n; k++) {
        if (!m->found[k - 1])
            continue;
        double weight = (double)(k * k) * fmin(m->excess[k - 1], 1e3);
        double hz = summit_hz(a, (double)k * m->hz) / (double)k;
        weights += weight;
        sum += weight * hz;
        squares += weight * hz * hz;
        n++;
    }
    m->hz = sum / weights;
    double scatter = sqrt(fmax(0, squares / weights - m->hz * m->hz));
    m->std_error_hz = hypot(0.01 * a->bin_hz, n > 1 ? scatter / sqrt(n - 1.0) : 0.1 * a->bin_hz);
}

bool sb_mains_find(const sb_averaged *a, double top_hz, sb_mains *out) {
    double score50, score60;
    double hz50 = best_near(a, 50, &score50), hz60 = best_near(a, 60, &score60);
    sb_mains m = look_for(a, score50 >= score60 ? hz50 : hz60, top_hz);
    if (!is_hum(&m))
        return false;
    refine(a, &m);
    m = look_for(a, m.hz, top_hz);
    if (!in_range(m.hz) || !is_hum(&m))
        return false;
    refine(a, &m);
    *out = m;
    return true;
}

double sb_mains_power(const sb_averaged *a, const sb_mains *m, const double power[], size_t k) {
    if (k < 1 || k > m->n || !m->found[k - 1])
        return 0;
    return sb_averaged_lobe(power, sb_averaged_bin(a, (double)k * m->hz)) - m->noise[k - 1];
}
