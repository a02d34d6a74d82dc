#include "tests/support/synth_wave.h"

#include <math.h>
#include <stdbool.h>

#define PI           3.14159265358979323846
#define INAUDIBLE_LN (-26.0) /* natural log of amplitude below which a partial has ended */

enum { BLOCK = 32 }; /* samples between exact evaluations of a partial */

double synth_damping_ln(const synth_course *c, double t) {
    return t > c->damp_from_s ? -(t - c->damp_from_s) * c->damp_per_s : 0.0;
}

typedef struct {
    double ln, angle;
} polar;

static polar wave_at(const synth_wave *w, const synth_course *c, size_t k) {
    const double t = (double)k / c->rate_hz;
    return (polar){.ln = w->ln_amplitude - w->decay_per_s * t + synth_damping_ln(c, t),
                   .angle = 2.0 * PI * w->hz * c->time[k] + w->phase};
}

/* Within a block log amplitude and phase are parabolas to well below 1e-9 (but where the
 * palm falls), so two complex products a sample replace exp and cos. */
static void add_block(const synth_wave *w, const synth_course *c, size_t k, double out[]) {
    const polar a = wave_at(w, c, k), b = wave_at(w, c, k + BLOCK / 2),
                e = wave_at(w, c, k + BLOCK);
    const double h = 0.5 * BLOCK;
    const double ln2 = (e.ln - 2.0 * b.ln + a.ln) / (2.0 * h * h);
    const double angle2 = (e.angle - 2.0 * b.angle + a.angle) / (2.0 * h * h);
    const double ln1 = (b.ln - a.ln) / h - h * ln2, angle1 = (b.angle - a.angle) / h - h * angle2;
    double zr = exp(a.ln) * cos(a.angle), zi = exp(a.ln) * sin(a.angle);
    double ur = exp(ln1 + ln2) * cos(angle1 + angle2), ui = exp(ln1 + ln2) * sin(angle1 + angle2);
    const double vr = exp(2.0 * ln2) * cos(2.0 * angle2), vi = exp(2.0 * ln2) * sin(2.0 * angle2);
    for (size_t i = 0; i < BLOCK; i++) {
        out[i] += zr;
        const double z = zr * ur - zi * ui, u = ur * vr - ui * vi;
        zi = zr * ui + zi * ur;
        ui = ur * vi + ui * vr;
        zr = z;
        ur = u;
    }
}

static bool has_kink(const synth_course *c, size_t k) {
    const double from = (double)k / c->rate_hz, to = (double)(k + BLOCK) / c->rate_hz;
    return c->damp_from_s > from && c->damp_from_s < to;
}

void synth_add_wave(const synth_wave *w, const synth_course *c, double out[]) {
    size_t k = 0;
    while (k < c->n && wave_at(w, c, k).ln > INAUDIBLE_LN) {
        if (k + BLOCK < c->n && !has_kink(c, k)) {
            add_block(w, c, k, out + k);
            k += BLOCK;
            continue;
        }
        for (size_t end = k + BLOCK; k < end && k < c->n; k++) {
            const polar p = wave_at(w, c, k);
            out[k] += exp(p.ln) * cos(p.angle);
        }
    }
}
