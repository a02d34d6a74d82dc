#include "audio/lines.h"

#include <math.h>
#include <string.h>

#include "core/pitch.h"

enum { UNKNOWNS = 2 * SB_LINES_MAX, ROUNDS = 25 };

/* Turns of phase over half the band; the next step is then smaller still. */
static const double CONVERGED = 1e-4;

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

/* Sums over the band that the normal equations are made of: products of two exponentials
 * with 1, s and s^2, products of each with the residual with 1 and s. */
struct moments {
    cpx pair[SB_LINES_MAX][SB_LINES_MAX][3];
    cpx with_residual[SB_LINES_MAX][2];
};

static void add_scaled(cpx *sum, cpx value, double factor) {
    sum->re += value.re * factor;
    sum->im += value.im * factor;
}

static void accumulate(struct moments *m, size_t n, const cpx e[], cpx residual, double s) {
    for (size_t i = 0; i < n; i++) {
        cpx conj_i = {e[i].re, -e[i].im};
        for (size_t j = i; j < n; j++) {
            cpx p = cmul(conj_i, e[j]);
            add_scaled(&m->pair[i][j][0], p, 1.0);
            add_scaled(&m->pair[i][j][1], p, s);
            add_scaled(&m->pair[i][j][2], p, s * s);
        }
        cpx q = cmul(conj_i, residual);
        add_scaled(&m->with_residual[i][0], q, 1.0);
        add_scaled(&m->with_residual[i][1], q, s);
    }
}

static cpx conjugate(cpx a) {
    return (cpx){a.re, -a.im};
}

/* <e_i, s^m e_j> for any order of i and j. */
static cpx pair_moment(const struct moments *m, size_t i, size_t j, size_t power) {
    return i <= j ? m->pair[i][j][power] : conjugate(m->pair[j][i][power]);
}

static void assemble(struct normal *eq, const struct moments *m, const sb_line lines[], size_t n) {
    eq->n = 2 * n;
    for (size_t i = 0; i < n; i++) {
        cpx ci = {lines[i].re, -lines[i].im}; /* conjugate */
        eq->b[i] = m->with_residual[i][0];
        eq->b[n + i] = cmul(ci, m->with_residual[i][1]);
        for (size_t j = 0; j < n; j++) {
            cpx cj = {lines[j].re, lines[j].im};
            eq->a[i][j] = pair_moment(m, i, j, 0);
            eq->a[i][n + j] = cmul(cj, pair_moment(m, i, j, 1));
            eq->a[n + i][j] = cmul(ci, pair_moment(m, i, j, 1));
            eq->a[n + i][n + j] = cmul(cmul(ci, cj), pair_moment(m, i, j, 2));
        }
    }
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
    double decay = exp(-line->decay_per_s * step_s), angle = SB_TWO_PI * line->hz * step_s;
    return (struct walker){{1.0, 0.0}, {decay * cos(angle), decay * sin(angle)}};
}

static double centred(size_t k, size_t n) {
    return n > 1 ? 2.0 * (double)k / (double)(n - 1) - 1.0 : 0.0;
}

/* One pass: residual of the present model, and the normal equations round it. */
static void linearise(const sb_band *band, const sb_line lines[], size_t n, struct normal *eq,
                      double res_re[], double res_im[]) {
    struct walker walkers[SB_LINES_MAX];
    struct moments moments = {0};
    for (size_t j = 0; j < n; j++)
        walkers[j] = walk(&lines[j], band->step_s);
    for (size_t k = 0; k < band->n; k++) {
        cpx e[SB_LINES_MAX], residual = {band->re[k], band->im[k]};
        for (size_t j = 0; j < n; j++) {
            e[j] = walkers[j].value;
            cpx part = cmul((cpx){lines[j].re, lines[j].im}, e[j]);
            residual.re -= part.re;
            residual.im -= part.im;
            walkers[j].value = cmul(e[j], walkers[j].factor);
        }
        accumulate(&moments, n, e, residual, centred(k, band->n));
        res_re[k] = residual.re;
        res_im[k] = residual.im;
    }
    assemble(eq, &moments, lines, n);
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
            lines[j].hz += u.im * 2.0 / span_s / SB_TWO_PI;
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

/* Half of a complex variance falls to the imaginary part, the frequency. Lines that cannot
 * be told apart make the inverse worthless: then nothing is known. */
static void note_errors(sb_line lines[], size_t n, cpx inverse[UNKNOWNS][UNKNOWNS], double span_s) {
    for (size_t j = 0; j < n; j++) {
        double variance = 0.5 * inverse[n + j][n + j].re;
        lines[j].hz_std_unit =
            variance > 0 ? sqrt(variance) * 2.0 / span_s / SB_TWO_PI : (double)INFINITY;
    }
}

bool sb_lines_fit(const sb_band *band, sb_line lines[], size_t n, double res_re[],
                  double res_im[]) {
    if (n == 0 || n > SB_LINES_MAX || band->n < 4 * n)
        return false;
    struct normal eq = {0};
    cpx x[UNKNOWNS] = {{0}}, inverse[UNKNOWNS][UNKNOWNS];
    double start_hz[SB_LINES_MAX], span_s = (double)(band->n - 1) * band->step_s;
    for (size_t j = 0; j < n; j++) {
        start_hz[j] = lines[j].hz;
        lines[j].re = lines[j].im = 0;
    }
    linearise(band, lines, n, &eq, res_re, res_im);
    eq.n = n; /* the amplitudes alone, to begin with */
    if (!solve(&eq, x, inverse))
        return false;
    apply(lines, n, x, span_s, false);
    double step = HUGE_VAL;
    for (int round = 0; round < ROUNDS; round++) {
        linearise(band, lines, n, &eq, res_re, res_im);
        if (!solve(&eq, x, inverse))
            return false;
        if (step < CONVERGED) {
            note_errors(lines, n, inverse, span_s);
            return true;
        }
        step = apply(lines, n, x, span_s, true);
        if (!in_bounds(band, lines, start_hz, n, span_s))
            return false;
    }
    /* A lone line over a gliding partial circles its best place: near enough for a start,
     * and the glide is taken out before it counts. */
    note_errors(lines, n, inverse, span_s);
    return n == 1;
}
