#include "audio/spectrum.h"

#include <kiss_fft.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audio/fourier.h"
#include "audio/lanes.h"
#include "core/pitch.h"

/* Samples of a band for which there are transforms, and so sizes of the long ones in steps of the
 * decimation: products of 2, 3 and 5 of which KissFFT makes short work (a high power of 2 or 3 is
 * slower than the next size). */
static const size_t SIZES[] = {32,  36,   40,   50,   60,   64,   72,   80,   90,  100,
                               120, 128,  150,  160,  180,  200,  240,  250,  270, 300,
                               320, 360,  400,  450,  500,  540,  600,  640,  720, 800,
                               900, 1000, 1080, 1200, 1350, 1440, 1600, 1800, 2000};
/* PLANS: sizes up to what the ear's longest window, continued, needs at any rate. SHORT: of bands
 * below it a finer transform costs next to nothing. */
enum { PLANS = 36, SHORT = 300, PARTS = 3, ALIGNED = 16 };

/* Width of the filter's flat part and of its Gaussian slope, as shares of the room that
 * the neighbour leaves. At 3.5 slopes the filter is down by 126 dB. */
struct filter {
    double flat_share, slope_share;
};
static const struct filter NARROW = {0.28, 0.20}, /* a short response: little to cut off */
    BROAD = {0.40, 0.16};

/* Memory is set aside for all plans, but they are made there when first needed. */
struct plan {
    size_t size, bins_kept; /* bins that a band keeps */
    size_t wide;            /* bins of a band's own transform */
    char *memory;
    size_t bytes[PARTS];
    sb_fourier forward;
    kiss_fft_cfg band_inverse, band_forward; /* NULL until they are made */
};

/* What a filter lets through, by the distance in bins from its centre. */
struct gains {
    float *at;
    size_t n;
    double pass_bins, slope_bins;
};

struct sb_spectrum {
    double rate_hz;
    size_t max_samples, size_max, decimation;
    struct plan plans[PLANS];
    size_t n_plans;
    const struct plan *plan; /* of the loaded note */
    size_t n, n_before;      /* samples of the note, and those that lead to it */
    bool continued;
    float *padded;
    kiss_fft_cpx *rows, *spare; /* of the last transform; to work in */
    kiss_fft_cpx *short_in, *short_out;
    struct gains gains, passed; /* of the last band and of its transform: most have the same room */
};

/* A band is kept at about 190 Hz, a power of two below the note's rate. */
static size_t band_decimation(double rate_hz) {
    size_t decimation = 16;
    while (rate_hz / (double)(2 * decimation) > 140.0)
        decimation *= 2;
    return decimation;
}

/* Pieces in which the note is transformed; its size is a multiple of the decimation, and so of
 * them. */
static size_t pieces_for(size_t decimation) {
    return decimation >= 128 ? 128 : decimation >= 32 ? 32 : 8;
}

/* The smallest size that holds so many. */
static size_t size_for(size_t wanted) {
    size_t i = 0;
    while (SIZES[i] < wanted)
        i++;
    return SIZES[i];
}

static sb_status reserve(struct plan *plan, size_t kept, size_t decimation) {
    size_t *bytes = plan->bytes, total = 0;
    plan->bins_kept = kept;
    plan->size = kept * decimation;
    plan->wide = size_for(kept < SHORT ? 2 * kept : kept + kept / 3);
    bytes[0] = sb_fourier_bytes(plan->size, pieces_for(decimation));
    (void)kiss_fft_alloc((int)kept, 1, NULL, &bytes[1]);
    (void)kiss_fft_alloc((int)plan->wide, 0, NULL, &bytes[2]);
    for (size_t i = 0; i < PARTS; i++) {
        bytes[i] = (bytes[i] + ALIGNED - 1) / ALIGNED * ALIGNED;
        total += bytes[i];
    }
    plan->memory = malloc(total);
    return plan->memory ? SB_OK : SB_E_MEMORY;
}

static void make_plan(struct plan *plan, size_t pieces) {
    size_t bytes[PARTS];
    char *memory = plan->memory;
    memcpy(bytes, plan->bytes, sizeof bytes);
    sb_fourier_make(&plan->forward, plan->size, pieces, memory);
    memory += plan->bytes[0];
    plan->band_inverse = kiss_fft_alloc((int)plan->bins_kept, 1, memory, &bytes[1]);
    memory += plan->bytes[1];
    plan->band_forward = kiss_fft_alloc((int)plan->wide, 0, memory, &bytes[2]);
}

sb_status sb_spectrum_new(double rate_hz, size_t max_samples, sb_spectrum **out) {
    sb_spectrum *spectrum = calloc(1, sizeof *spectrum);
    if (!spectrum)
        return SB_E_MEMORY;
    spectrum->rate_hz = rate_hz;
    spectrum->max_samples = max_samples;
    spectrum->decimation = band_decimation(rate_hz);
    size_t short_max = SIZES[0];
    sb_status status = SB_OK;
    do {
        struct plan *plan = &spectrum->plans[spectrum->n_plans];
        status = reserve(plan, SIZES[spectrum->n_plans++], spectrum->decimation);
        spectrum->size_max = plan->size;
        short_max = plan->wide > short_max ? plan->wide : short_max;
    } while (status == SB_OK && spectrum->n_plans < PLANS && spectrum->size_max < max_samples);
    if (spectrum->max_samples > spectrum->size_max)
        spectrum->max_samples = spectrum->size_max;
    spectrum->padded = malloc(spectrum->size_max * sizeof(float));
    size_t rows = sb_fourier_rows(spectrum->size_max, pieces_for(spectrum->decimation));
    spectrum->rows = malloc(rows * sizeof(kiss_fft_cpx));
    spectrum->spare = malloc(rows * sizeof(kiss_fft_cpx));
    spectrum->short_in = malloc(short_max * sizeof(kiss_fft_cpx));
    spectrum->short_out = malloc(short_max * sizeof(kiss_fft_cpx));
    spectrum->gains.at = malloc((short_max / 2 + 1) * sizeof(float));
    spectrum->passed.at = malloc((short_max / 2 + 1) * sizeof(float));
    if (status != SB_OK || !spectrum->gains.at || !spectrum->passed.at || !spectrum->padded ||
        !spectrum->rows || !spectrum->spare || !spectrum->short_in || !spectrum->short_out) {
        sb_spectrum_free(spectrum);
        return SB_E_MEMORY;
    }
    *out = spectrum;
    return SB_OK;
}

void sb_spectrum_free(sb_spectrum *spectrum) {
    if (!spectrum)
        return;
    for (size_t i = 0; i < spectrum->n_plans; i++)
        free(spectrum->plans[i].memory);
    free(spectrum->padded);
    free(spectrum->rows);
    free(spectrum->spare);
    free(spectrum->short_in);
    free(spectrum->short_out);
    free(spectrum->gains.at);
    free(spectrum->passed.at);
    free(spectrum);
}

static bool choose_plan(sb_spectrum *spectrum, size_t n) {
    size_t index = 0;
    while (index + 1 < spectrum->n_plans && spectrum->plans[index].size < n)
        index++;
    if (spectrum->plans[index].size < n)
        return false;
    if (!spectrum->plans[index].band_inverse)
        make_plan(&spectrum->plans[index], pieces_for(spectrum->decimation));
    spectrum->plan = &spectrum->plans[index];
    return true;
}

static void transform(sb_spectrum *spectrum) {
    sb_fourier_run(&spectrum->plan->forward, spectrum->padded, spectrum->spare, spectrum->rows);
}

void sb_spectrum_exchange(sb_spectrum *spectrum, const float samples[]) {
    sb_lanes_centre(samples, spectrum->n, spectrum->padded + spectrum->n_before);
}

void sb_spectrum_load(sb_spectrum *spectrum, const float samples[], size_t n) {
    if (n > spectrum->max_samples)
        n = spectrum->max_samples;
    (void)choose_plan(spectrum, n); /* no more than max_samples: there is one */
    spectrum->n = n;
    spectrum->n_before = 0;
    spectrum->continued = false;
    sb_spectrum_exchange(spectrum, samples);
    memset(spectrum->padded + n, 0, (spectrum->plan->size - n) * sizeof(float));
    transform(spectrum);
}

bool sb_spectrum_continue(sb_spectrum *spectrum, const float before[], size_t n_before,
                          const float after[], size_t n_after) {
    float *padded = spectrum->padded;
    size_t n = spectrum->n, total = n_before + n + n_after;
    if (!choose_plan(spectrum, total))
        return false;
    memmove(padded + n_before, padded + spectrum->n_before, n * sizeof *padded);
    memcpy(padded, before, n_before * sizeof *padded);
    memcpy(padded + n_before + n, after, n_after * sizeof *padded);
    memset(padded + total, 0, (spectrum->plan->size - total) * sizeof *padded);
    spectrum->n_before = n_before;
    spectrum->continued = true;
    transform(spectrum);
    return true;
}

size_t sb_spectrum_stride(const sb_spectrum *spectrum) {
    return spectrum->decimation;
}

/* Room that the filter has, for neighbours spacing_hz away. */
static double room_of(const sb_spectrum *spectrum, double spacing_hz) {
    return fmin(spacing_hz, 0.5 * spectrum->rate_hz / (double)spectrum->decimation);
}

/* The impulse response is exp(-(pi slope t)^2): 2e-3 at 2.5 / (pi slope). */
static double reach_s(const struct filter *filter, double room_hz) {
    return 2.5 / (0.5 * SB_TWO_PI * filter->slope_share * room_hz);
}

double sb_spectrum_reach_s(const sb_spectrum *spectrum, double spacing_hz) {
    return reach_s(&BROAD, room_of(spectrum, spacing_hz));
}

/* A rectangle of +-pass smoothed by a Gaussian, 1 at the centre. It must be smooth everywhere,
 * there too, or its response in time does not die. top: what makes it 1. */
static double band_gain(double offset, double pass, double slope, double top) {
    return (erf((offset + pass) / slope) - erf((offset - pass) / slope)) / top;
}

static void tabulate_gains(struct gains *gains, size_t n, double pass_bins, double slope_bins) {
    if (gains->n == n && gains->pass_bins == pass_bins && gains->slope_bins == slope_bins)
        return;
    double top = 2.0 * erf(pass_bins / slope_bins);
    for (size_t j = 0; j < n; j++)
        gains->at[j] = (float)band_gain((double)j, pass_bins, slope_bins, top);
    gains->n = n;
    gains->pass_bins = pass_bins;
    gains->slope_bins = slope_bins;
}

static void put_bin(kiss_fft_cpx *to, kiss_fft_cpx bin, float gain) {
    *to = (kiss_fft_cpx){bin.r * gain, bin.i * gain};
}

/* The bins round the centre, those above it first, as far as the transform goes: below zero its
 * mirror image, beyond its end nothing. */
static void fill_band_bins(sb_spectrum *spectrum, size_t centre) {
    const sb_fourier *fourier = &spectrum->plan->forward;
    size_t kept = spectrum->plan->bins_kept, half = kept / 2, last = spectrum->plan->size / 2;
    kiss_fft_cpx *in = spectrum->short_in;
    const float *gain = spectrum->gains.at;
    for (size_t j = 0; j < half; j++) {
        kiss_fft_cpx zero = {0, 0};
        put_bin(&in[j],
                centre + j <= last ? sb_fourier_bin(fourier, spectrum->rows, centre + j) : zero,
                gain[j]);
    }
    for (size_t j = 1; j <= half; j++) {
        size_t bin = j <= centre ? centre - j : j - centre;
        kiss_fft_cpx value = sb_fourier_bin(fourier, spectrum->rows, bin);
        value.i = j <= centre ? value.i : -value.i;
        put_bin(&in[kept - j], value, gain[j]);
    }
}

void sb_spectrum_band(sb_spectrum *spectrum, double centre_hz, double spacing_hz, sb_band *band) {
    const struct plan *plan = spectrum->plan;
    double bin_hz = spectrum->rate_hz / (double)plan->size;
    double room_hz = room_of(spectrum, spacing_hz);
    const struct filter *filter = spectrum->continued ? &BROAD : &NARROW;
    size_t centre = (size_t)lround(centre_hz / bin_hz);
    tabulate_gains(&spectrum->gains, plan->bins_kept / 2 + 1, filter->flat_share * room_hz / bin_hz,
                   filter->slope_share * room_hz / bin_hz);
    fill_band_bins(spectrum, centre);
    kiss_fft(plan->band_inverse, spectrum->short_in, spectrum->short_out);

    band->step_s = (double)spectrum->decimation / spectrum->rate_hz;
    band->centre_hz = (double)centre * bin_hz;
    band->pass_hz = filter->flat_share * room_hz;
    band->slope_hz = filter->slope_share * room_hz;
    band->decay_per_s = 0;
    size_t lead = spectrum->n_before / spectrum->decimation;
    size_t margin = spectrum->continued ? 0 : (size_t)ceil(reach_s(filter, room_hz) / band->step_s);
    size_t total = spectrum->n / spectrum->decimation;
    band->n = total > 2 * margin ? total - 2 * margin : 0;
    if (band->n > SB_BAND_MAX)
        band->n = SB_BAND_MAX;
    band->t0_s = (double)margin * band->step_s;
    /* real signal: amplitude = twice one side; phases count from the note's first sample */
    double scale = 2.0 / (double)plan->size;
    double angle = SB_TWO_PI *
                   fmod((double)centre * (double)spectrum->n_before, (double)plan->size) /
                   (double)plan->size;
    double c = scale * cos(angle), s = scale * sin(angle);
    for (size_t k = 0; k < band->n; k++) {
        kiss_fft_cpx value = spectrum->short_out[lead + margin + k];
        band->re[k] = c * (double)value.r - s * (double)value.i;
        band->im[k] = s * (double)value.r + c * (double)value.i;
    }
}

double sb_spectrum_power(const sb_spectrum *spectrum, double from_hz, double to_hz) {
    double size = (double)spectrum->plan->size, bin_hz = spectrum->rate_hz / size, sum = 0;
    size_t from = (size_t)fmax(from_hz / bin_hz, 1.0);
    size_t to = (size_t)fmin(to_hz / bin_hz, 0.5 * size);
    for (size_t j = from; j <= to; j++) {
        kiss_fft_cpx bin = sb_fourier_bin(&spectrum->plan->forward, spectrum->rows, j);
        double r = (double)bin.r, i = (double)bin.i;
        sum += r * r + i * i;
    }
    return 2.0 * sum / (size * fmax((double)spectrum->n, 1.0));
}

static const double TWO_OVER_ROOT_PI = 1.12837916709551257;

sb_band_response sb_band_respond(const sb_band *band, double offset_hz) {
    double top = 2.0 * erf(band->pass_hz / band->slope_hz), unit_s = 1.0 / band->slope_hz;
    double above = (offset_hz + band->pass_hz) * unit_s,
           below = (offset_hz - band->pass_hz) * unit_s;
    double rise = exp(-above * above), fall = exp(-below * below);
    double by_rad = unit_s / SB_TWO_PI, size = TWO_OVER_ROOT_PI * by_rad / top;
    return (sb_band_response){.gain = band_gain(offset_hz, band->pass_hz, band->slope_hz, top),
                              .slope_s = size * (rise - fall),
                              .bend_s2 = -2.0 * by_rad * size * (above * rise - below * fall)};
}

double sb_band_independent(const sb_band *band) {
    return 2.0 * band->pass_hz * band->step_s * (double)band->n;
}

double sb_band_energy(const double re[], const double im[], size_t n) {
    double sum = 0;
    for (size_t k = 0; k < n; k++)
        sum += re[k] * re[k] + im[k] * im[k];
    return sum;
}

sb_bins sb_spectrum_of_band(sb_spectrum *spectrum, const sb_band *band) {
    const struct plan *plan = spectrum->plan;
    size_t filled = band->n < plan->wide ? band->n : plan->wide;
    for (size_t k = 0; k < filled; k++)
        spectrum->short_in[k] = (kiss_fft_cpx){(float)band->re[k], (float)band->im[k]};
    memset(spectrum->short_in + filled, 0, (plan->wide - filled) * sizeof *spectrum->short_in);
    kiss_fft(plan->band_forward, spectrum->short_in, spectrum->short_out);
    double span_s = (double)plan->wide * band->step_s, pass_bins = band->pass_hz * span_s;
    size_t half = plan->wide / 2, n_flat = 1 + (size_t)fmin(pass_bins, (double)half);
    tabulate_gains(&spectrum->passed, n_flat, pass_bins, band->slope_hz * span_s);
    return (sb_bins){plan->wide, &spectrum->short_out[0].r, n_flat, spectrum->passed.at};
}
