#include "tests/support/periodogram.h"

#include <math.h>

#define PI 3.14159265358979323846

/* Squared modulus at hz; a phasor steps along, set right again every 512 samples. */
static double power(const float x[], size_t n, double rate_hz, double hz) {
    const double step = 2.0 * PI * hz / rate_hz, sc = cos(step), ss = sin(step);
    const double window = 2.0 * PI / (double)n;
    const double vc = cos(window), vs = sin(window);
    double re = 0.0, im = 0.0, c = 1.0, s = 0.0, wc = 1.0, ws = 0.0;
    for (size_t k = 0; k < n; k++) {
        if (k % 512 == 0) {
            c = cos(step * (double)k);
            s = sin(step * (double)k);
            wc = cos(window * ((double)k + 0.5));
            ws = sin(window * ((double)k + 0.5));
        }
        const double weighted = (1.0 - wc) * (double)x[k];
        re += weighted * c;
        im += weighted * s;
        const double c_next = c * sc - s * ss, w_next = wc * vc - ws * vs;
        s = c * ss + s * sc;
        ws = wc * vs + ws * vc;
        c = c_next;
        wc = w_next;
    }
    return re * re + im * im;
}

static double golden_section(const float x[], size_t n, double rate_hz, double low, double high) {
    const double part = 0.3819660112501051;
    double a = low + part * (high - low), b = high - part * (high - low);
    double pa = power(x, n, rate_hz, a), pb = power(x, n, rate_hz, b);
    while (high - low > 1e-7 * low) { /* 0.0002 cent */
        if (pa > pb) {
            high = b;
            b = a;
            pb = pa;
            a = low + part * (high - low);
            pa = power(x, n, rate_hz, a);
        } else {
            low = a;
            a = b;
            pa = pb;
            b = high - part * (high - low);
            pb = power(x, n, rate_hz, b);
        }
    }
    return 0.5 * (low + high);
}

double periodogram_peak_hz(const float samples[], size_t n, double rate_hz, double near_hz,
                           double range_cents) {
    const double low = near_hz * pow(2.0, -range_cents / 1200.0);
    const double high = near_hz * pow(2.0, range_cents / 1200.0);
    const double step = rate_hz / (4.0 * (double)n); /* the peak is four bins wide */
    double best_hz = near_hz, best = -1.0;
    for (size_t i = 0; low + (double)i * step <= high; i++) {
        const double hz = low + (double)i * step, p = power(samples, n, rate_hz, hz);
        if (p > best) {
            best = p;
            best_hz = hz;
        }
    }
    return golden_section(samples, n, rate_hz, best_hz - step, best_hz + step);
}
