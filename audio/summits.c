#include "audio/summits.h"

#include <math.h>
#include <string.h>

#include "core/order.h"

static const double SEARCHED_SHARE = 1.2; /* in flat widths */

void sb_summits_open(struct sb_summits *view, sb_spectrum *spectrum, const sb_band *band,
                     double reach_hz) {
    view->bins = sb_spectrum_of_band(spectrum, band);
    view->bin_hz = 1.0 / ((double)view->bins.size * band->step_s);
    view->searched_hz = SEARCHED_SHARE * band->pass_hz;
    size_t most = (view->bins.size < 2 * SB_BAND_MAX ? view->bins.size : 2 * SB_BAND_MAX) / 2 - 1;
    view->reach =
        (size_t)fmin(fmax(reach_hz, view->searched_hz) / view->bin_hz + 1.0, (double)most);
    view->n_flat = view->bins.n_flat < most ? view->bins.n_flat : most;
}

void sb_summits_look(struct sb_summits *view, const sb_band *band, const sb_line lines[],
                     size_t n) {
    sb_lines_periodogram(band, lines, n, view->bins, view->reach, view->power);
}

double sb_summits_at(const struct sb_summits *view, long bin, double *power) {
    const double *at = view->power + view->reach + bin;
    double left = at[-1], right = at[1], curve = left - 2.0 * at[0] + right;
    bool summit = left < at[0] && right < at[0];
    double shift = summit ? 0.5 * (left - right) / curve : 0.0;
    *power = at[0] - 0.25 * (left - right) * shift;
    return ((double)bin + shift) * view->bin_hz;
}

double sb_summits_strongest(const struct sb_summits *view, double hz, double reach_hz,
                            double *top) {
    double last = (double)view->reach - 1.0;
    long from = (long)fmax(ceil((hz - reach_hz) / view->bin_hz), -last);
    long to = (long)fmin(floor((hz + reach_hz) / view->bin_hz), last), best = from;
    const double *at = view->power + view->reach;
    *top = 0;
    if (from > to)
        return hz;
    for (long j = from; j <= to; j++)
        best = at[j] > at[best] ? j : best;
    return sb_summits_at(view, best, top);
}

double sb_summits_noise(const struct sb_summits *view) {
    double levels[2 * SB_BAND_MAX];
    const double *at = view->power + view->reach;
    size_t n = 0;
    for (size_t j = 0; j < view->n_flat; j++) {
        double gain = (double)view->bins.gain[j], unfiltered = 1.0 / (gain * gain);
        levels[n++] = unfiltered * at[j];
        if (j > 0)
            levels[n++] = unfiltered * *(at - j);
    }
    return sb_kth_smallest(levels, n, n / 2) / 0.6931471805599453;
}
