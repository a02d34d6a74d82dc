#include "audio/lines.h"

#include <math.h>
#include <string.h>

#define TWO_PI 6.283185307179586

enum { UNKNOWNS = 2 * SB_LINES_MAX, ROUNDS = 12 };

typedef struct {
    double re, im;
} cpx;

static cpx cmul(cpx a, cpx b) {
    return (cpx){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

static cpx cdiv(cpx a, cpx b) {
    double d = b.re * b.re + b.im * b.im;
    return (cpx){(a.re * b.re + a.im * b.im) / d, (a.im * b.re - a.re * b.im) / d};
}

static double abs2(cpx a) {
    return a.re * a.re + a.im * a.im;
}

/* Hermitian normal equations of the columns e_j and c_j s e_j, where s runs from -1 to 1
 * over the band so that the columns have like size. */
struct normal {
    size_t n;
    cpx a[UNKNOWNS][UNKNOWNS];
    cpx b[UNKNOWNS];
};

static void accumulate(struct normal *eq, const cpx columns[], cpx residual) {
    for (size_t i = 0; i < eq->n; i++) {
        cpx conj_i = {columns[i].re, -columns[i].im};
        for (size_t j = i; j < eq->n; j++) {
            cpx p = cmul(conj_i, columns[j]);
            eq->a[i][j].re += p.re;
            eq->a[i][j].im += p.im;
        }
        cpx q = cmul(conj_i, residual);
        eq->b[i].re += q.re;
        eq->b[i].im += q.im;
    }
}

static void mirror(struct normal *eq) {
    for (size_t i = 0; i < eq->n; i++)
        for (size_t j = 0; j < i; j++)
            eq->a[i][j] = (cpx){eq->a[j][i].re, -eq->a[j][i].im};
}

/* Gauss-Jordan on [a | b | inverse]: small, and the inverse is wanted anyway. */
static bool solve(struct normal *eq, cpx x[], cpx inverse[UNKNOWNS][UNKNOWNS]) {
    size_t n = eq->n;
    memset(inverse, 0, sizeof(cpx) * UNKNOWNS * UNKNOWNS);
    for (size_t i = 0; i < n; i++)
        inverse[i][i].re = 1.0;
    for (size_t p = 0; p < n; p++) {
        double scale = eq->a[p][p].re;
        if (!(scale > 1e-300) || !isfinite(scale))
            return false;
        cpx pivot = eq->a[p][p];
        for (size_t j = 0; j < n; j++) {
            eq->a[p][j] = cdiv(eq->a[p][j], pivot);
            inverse[p][j] = cdiv(inverse[p][j], pivot);
        }
        eq->b[p] = cdiv(eq->b[p], pivot);
        for (size_t i = 0; i < n; i++) {
            if (i == p)
                continue;
            cpx factor = eq->a[i][p];
            for (size_t j = 0; j < n; j++) {
                cpx u = cmul(factor, eq->a[p][j]), v = cmul(factor, inverse[p][j]);
                eq->a[i][j].re -= u.re, eq->a[i][j].im -= u.im;
                inverse[i][j].re -= v.re, inverse[i][j].im -= v.im;
            }
            cpx w = cmul(factor, eq->b[p]);
            eq->b[i].re -= w.re, eq->b[i].im -= w.im;
        }
    }
    for (size_t i = 0; i < n; i++)
        x[i] = eq->b[i];
    return true;
}

/* Walks exp(lambda t) along the band by repeated multiplication. */
struct walker {
    cpx value, factor;
};

static struct walker walk(const sb_line *line, double step_s) {
    double decay = exp(-line->decay_per_s * step_s), angle = TWO_PI * line->hz * step_s;
    return (struct walker){{1.0, 0.0}, {decay * cos(angle), decay * sin(angle)}};
}

static double centred(size_t k, size_t n) {
    return n > 1 ? 2.0 * (double)k / (double)(n - 1) - 1.0 : 0.0;
}

/* One pass: residual of the present model, and the normal equations round it. With
 * slopes == false only the amplitudes are unknown. */
static void linearise(const sb_band *band, const sb_line lines[], size_t n, bool slopes,
                      struct normal *eq, double res_re[], double res_im[]) {
    struct walker walkers[SB_LINES_MAX];
    memset(eq, 0, sizeof *eq);
    eq->n = slopes ? 2 * n : n;
    for (size_t j = 0; j < n; j++)
        walkers[j] = walk(&lines[j], band->step_s);
    for (size_t k = 0; k < band->n; k++) {
        cpx columns[UNKNOWNS], residual = {band->re[k], band->im[k]};
        double s = centred(k, band->n);
        for (size_t j = 0; j < n; j++) {
            cpx c = {lines[j].re, lines[j].im};
            cpx part = cmul(c, walkers[j].value);
            residual.re -= part.re;
            residual.im -= part.im;
            columns[j] = walkers[j].value;
            columns[n + j] = (cpx){part.re * s, part.im * s};
            walkers[j].value = cmul(walkers[j].value, walkers[j].factor);
        }
        accumulate(eq, columns, residual);
        res_re[k] = residual.re;
        res_im[k] = residual.im;
    }
    mirror(eq);
}

/* Applies a step. s = 2t/T - 1, so a slope u in s is u 2/T in t and turns the amplitude
 * at t = 0 by -u. Returns the largest frequency change, in cycles over the band. */
static double apply(sb_line lines[], size_t n, const cpx x[], double span_s, bool slopes) {
    double largest = 0;
    for (size_t j = 0; j < n; j++) {
        cpx c = {lines[j].re + x[j].re, lines[j].im + x[j].im};
        if (slopes) {
            cpx u = x[n + j];
            double size = sqrt(abs2(u));
            if (size > 1.5) /* half a cycle over the band: no further in one step */
                u.re *= 1.5 / size, u.im *= 1.5 / size;
            lines[j].decay_per_s -= u.re * 2.0 / span_s;
            lines[j].hz += u.im * 2.0 / span_s / TWO_PI;
            double grow = exp(-u.re);
            c = cmul(c, (cpx){grow * cos(-u.im), grow * sin(-u.im)});
            largest = fmax(largest, size);
        }
        lines[j].re = c.re;
        lines[j].im = c.im;
    }
    return largest;
}

static bool in_bounds(const sb_band *band, const sb_line lines[], const double start_hz[], size_t n,
                      double span_s) {
    for (size_t j = 0; j < n; j++) {
        double leash_hz = fmax(3.0 / span_s, 0.25 * band->pass_hz);
        bool sane = isfinite(lines[j].re) && isfinite(lines[j].im) && isfinite(lines[j].hz) &&
                    fabs(lines[j].hz - start_hz[j]) < leash_hz &&
                    lines[j].decay_per_s > -6.0 / span_s && lines[j].decay_per_s < 200.0;
        if (!sane)
            return false;
    }
    return true;
}

bool sb_lines_fit(const sb_band *band, sb_line lines[], size_t n, double res_re[],
                  double res_im[]) {
    if (n == 0 || n > SB_LINES_MAX || band->n < 4 * n)
        return false;
    struct normal eq;
    cpx x[UNKNOWNS], inverse[UNKNOWNS][UNKNOWNS];
    double start_hz[SB_LINES_MAX], span_s = (double)(band->n - 1) * band->step_s;
    for (size_t j = 0; j < n; j++) {
        start_hz[j] = lines[j].hz;
        lines[j].re = lines[j].im = 0;
    }
    linearise(band, lines, n, false, &eq, res_re, res_im);
    if (!solve(&eq, x, inverse))
        return false;
    apply(lines, n, x, span_s, false);
    for (int round = 0; round < ROUNDS; round++) {
        linearise(band, lines, n, true, &eq, res_re, res_im);
        if (!solve(&eq, x, inverse))
            return false;
        double step = apply(lines, n, x, span_s, true);
        if (!in_bounds(band, lines, start_hz, n, span_s))
            return false;
        if (step < 1e-7)
            break;
    }
    linearise(band, lines, n, true, &eq, res_re, res_im);
    return true;
}

void sb_lines_errors(const sb_band *band, sb_line lines[], size_t n, double noise) {
    struct normal eq;
    cpx x[UNKNOWNS], inverse[UNKNOWNS][UNKNOWNS];
    double res_re[SB_BAND_MAX], res_im[SB_BAND_MAX];
    double span_s = (double)(band->n - 1) * band->step_s;
    linearise(band, lines, n, true, &eq, res_re, res_im);
    bool solved = solve(&eq, x, inverse);
    for (size_t j = 0; j < n; j++) {
        /* Half of a complex variance falls to the imaginary part, the frequency. */
        double variance = 0.5 * noise * inverse[n + j][n + j].re;
        lines[j].hz_std =
            solved && variance >= 0 ? sqrt(variance) * 2.0 / span_s / TWO_PI : (double)INFINITY;
    }
}
