#include "audio/spectrum.h"

#include <kiss_fft.h>
#include <kiss_fftr.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { PLANS = 8, SMALLEST = 4096 };

/* Width of the filter's flat part and of its Gaussian slope, as shares of the room that
 * the neighbour leaves. At 3.5 slopes the filter is down by 126 dB. */
static const double FLAT_SHARE = 0.28, SLOPE_SHARE = 0.20, SLOPES_TO_STOP = 3.5;

struct plan {
    size_t size, bins_kept; /* bins a band keeps = length of the short transforms */
    kiss_fftr_cfg forward;
    kiss_fft_cfg band_inverse, band_forward, fine_forward;
};

struct sb_spectrum {
    double rate_hz;
    size_t max_samples, size_max, decimation;
    struct plan plans[PLANS]; /* made when first needed: sizes double from SMALLEST */
    size_t n_plans;
    const struct plan *plan; /* of the loaded note */
    size_t n;
    float *padded;
    kiss_fft_cpx *bins;
    kiss_fft_cpx *short_in, *short_out;
    double *periodogram;
};

static size_t plan_size(size_t index) {
    return (size_t)SMALLEST << index;
}

/* A band is kept at about 190 Hz, a power of two below the note's rate. */
static size_t band_decimation(double rate_hz) {
    size_t decimation = 16;
    while (rate_hz / (double)(2 * decimation) > 140.0)
        decimation *= 2;
    return decimation;
}

static sb_status make_plan(struct plan *plan, size_t size, size_t decimation) {
    plan->size = size;
    plan->bins_kept = size / decimation;
    plan->forward = kiss_fftr_alloc((int)size, 0, NULL, NULL);
    plan->band_inverse = kiss_fft_alloc((int)plan->bins_kept, 1, NULL, NULL);
    plan->band_forward = kiss_fft_alloc((int)plan->bins_kept, 0, NULL, NULL);
    plan->fine_forward = kiss_fft_alloc((int)plan->bins_kept * 2, 0, NULL, NULL);
    return plan->forward && plan->band_inverse && plan->band_forward && plan->fine_forward
               ? SB_OK
               : SB_E_MEMORY;
}

sb_status sb_spectrum_new(double rate_hz, size_t max_samples, sb_spectrum **out) {
    sb_spectrum *spectrum = calloc(1, sizeof *spectrum);
    if (!spectrum)
        return SB_E_MEMORY;
    spectrum->rate_hz = rate_hz;
    spectrum->max_samples = max_samples;
    spectrum->decimation = band_decimation(rate_hz);
    sb_status status = SB_OK;
    do {
        size_t size = plan_size(spectrum->n_plans);
        status = make_plan(&spectrum->plans[spectrum->n_plans++], size, spectrum->decimation);
        spectrum->size_max = size;
    } while (status == SB_OK && spectrum->n_plans < PLANS && spectrum->size_max < max_samples);
    size_t short_max = 2 * spectrum->size_max / spectrum->decimation;
    spectrum->padded = malloc(spectrum->size_max * sizeof(float));
    spectrum->bins = malloc((spectrum->size_max / 2 + 1) * sizeof(kiss_fft_cpx));
    spectrum->short_in = malloc(short_max * sizeof(kiss_fft_cpx));
    spectrum->short_out = malloc(short_max * sizeof(kiss_fft_cpx));
    spectrum->periodogram = malloc(short_max * sizeof(double));
    if (status != SB_OK || !spectrum->padded || !spectrum->bins || !spectrum->short_in ||
        !spectrum->short_out || !spectrum->periodogram) {
        sb_spectrum_free(spectrum);
        return SB_E_MEMORY;
    }
    *out = spectrum;
    return SB_OK;
}

void sb_spectrum_free(sb_spectrum *spectrum) {
    if (!spectrum)
        return;
    for (size_t i = 0; i < spectrum->n_plans; i++) {
        kiss_fftr_free(spectrum->plans[i].forward);
        kiss_fft_free(spectrum->plans[i].band_inverse);
        kiss_fft_free(spectrum->plans[i].band_forward);
        kiss_fft_free(spectrum->plans[i].fine_forward);
    }
    free(spectrum->padded);
    free(spectrum->bins);
    free(spectrum->short_in);
    free(spectrum->short_out);
    free(spectrum->periodogram);
    free(spectrum);
}

void sb_spectrum_load(sb_spectrum *spectrum, const float samples[], size_t n) {
    if (n > spectrum->max_samples)
        n = spectrum->max_samples;
    size_t index = 0;
    while (index + 1 < spectrum->n_plans && spectrum->plans[index].size < n)
        index++;
    spectrum->plan = &spectrum->plans[index];
    if (n > spectrum->plan->size)
        n = spectrum->plan->size;
    spectrum->n = n;
    double mean = 0;
    for (size_t i = 0; i < n; i++)
        mean += (double)samples[i];
    mean /= n ? (double)n : 1.0;
    for (size_t i = 0; i < n; i++)
        spectrum->padded[i] = (float)((double)samples[i] - mean);
    memset(spectrum->padded + n, 0, (spectrum->plan->size - n) * sizeof(float));
    kiss_fftr(spectrum->plan->forward, spectrum->padded, spectrum->bins);
}

/* Flat to `pass`, then falling over `slope`: a rectangle smoothed by a Gaussian. */
static double band_gain(double offset_hz, double pass_hz, double slope_hz) {
    double beyond = fabs(offset_hz) - pass_hz;
    if (beyond < -SLOPES_TO_STOP * slope_hz)
        return 1.0;
    return 0.5 * erfc(beyond / slope_hz);
}

static kiss_fft_cpx bin_at(const sb_spectrum *spectrum, long bin) {
    long last = (long)(spectrum->plan->size / 2);
    kiss_fft_cpx zero = {0, 0};
    if (bin > last)
        return zero;
    if (bin >= 0)
        return spectrum->bins[bin];
    kiss_fft_cpx mirrored = spectrum->bins[-bin];
    mirrored.i = -mirrored.i;
    return mirrored;
}

static void fill_band_bins(sb_spectrum *spectrum, long centre, double bin_hz, double pass_hz,
                           double slope_hz) {
    long kept = (long)spectrum->plan->bins_kept;
    for (long j = 0; j < kept; j++) {
        long offset = j < kept / 2 ? j : j - kept;
        float gain = (float)band_gain((double)offset * bin_hz, pass_hz, slope_hz);
        kiss_fft_cpx value = bin_at(spectrum, centre + offset);
        spectrum->short_in[j].r = value.r * gain;
        spectrum->short_in[j].i = value.i * gain;
    }
}

void sb_spectrum_band(sb_spectrum *spectrum, double centre_hz, double spacing_hz, sb_band *band) {
    const struct plan *plan = spectrum->plan;
    double bin_hz = spectrum->rate_hz / (double)plan->size;
    double room_hz = fmin(spacing_hz, 0.5 * (double)plan->bins_kept * bin_hz);
    double slope_hz = SLOPE_SHARE * room_hz;
    long centre = lround(centre_hz / bin_hz);
    fill_band_bins(spectrum, centre, bin_hz, FLAT_SHARE * room_hz, slope_hz);
    kiss_fft(plan->band_inverse, spectrum->short_in, spectrum->short_out);

    band->step_s = (double)spectrum->decimation / spectrum->rate_hz;
    band->centre_hz = (double)centre * bin_hz;
    band->pass_hz = FLAT_SHARE * room_hz;
    /* The impulse response is exp(-(pi slope t)^2): 2e-3 at 2.5 / (pi slope). */
    size_t margin = (size_t)ceil(2.5 / (3.14159265358979 * slope_hz) / band->step_s);
    size_t total = spectrum->n / spectrum->decimation;
    band->n = total > 2 * margin ? total - 2 * margin : 0;
    if (band->n > SB_BAND_MAX)
        band->n = SB_BAND_MAX;
    band->t0_s = (double)margin * band->step_s;
    double scale = 2.0 / (double)plan->size; /* real signal: amplitude = twice one side */
    for (size_t k = 0; k < band->n; k++) {
        band->re[k] = scale * (double)spectrum->short_out[margin + k].r;
        band->im[k] = scale * (double)spectrum->short_out[margin + k].i;
    }
}

double sb_spectrum_power(const sb_spectrum *spectrum, double from_hz, double to_hz) {
    double size = (double)spectrum->plan->size, bin_hz = spectrum->rate_hz / size, sum = 0;
    size_t from = (size_t)fmax(from_hz / bin_hz, 1.0);
    size_t to = (size_t)fmin(to_hz / bin_hz, 0.5 * size);
    for (size_t j = from; j <= to; j++) {
        double r = (double)spectrum->bins[j].r, i = (double)spectrum->bins[j].i;
        sum += r * r + i * i;
    }
    return 2.0 * sum / (size * fmax((double)spectrum->n, 1.0));
}

const double *sb_spectrum_periodogram(sb_spectrum *spectrum, const double re[], const double im[],
                                      size_t n, bool fine, size_t *size) {
    const struct plan *plan = spectrum->plan;
    *size = fine ? plan->bins_kept * 2 : plan->bins_kept;
    for (size_t k = 0; k < *size; k++) {
        spectrum->short_in[k].r = k < n ? (float)re[k] : 0.0f;
        spectrum->short_in[k].i = k < n ? (float)im[k] : 0.0f;
    }
    kiss_fft(fine ? plan->fine_forward : plan->band_forward, spectrum->short_in,
             spectrum->short_out);
    for (size_t j = 0; j < *size; j++) {
        double r = (double)spectrum->short_out[j].r, i = (double)spectrum->short_out[j].i;
        spectrum->periodogram[j] = (r * r + i * i) / (double)(n ? n : 1);
    }
    return spectrum->periodogram;
}
