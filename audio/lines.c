#include "audio/lines.h"

#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/lanes.h"
#include "core/pitch.h"

enum { UNKNOWNS = 2 * SB_LINES_MAX, ROUNDS = 25, SHORTENINGS = 5 };

/* Turns of phase over half the band; the next step is then smaller still. */
static const double CONVERGED = 1e-4;
/* And the most in one step: half a cycle over the band, about. */
static const double MOST_TURN = 1.5;
/* A step this long that explains nothing more: astray. */
static const double STUCK = 1e-2;

static const double LEAST_APART = 0.4; /* cycles over the band */
static const double SAMPLES_PER_LINE = 4.0;

static sb_cpx cdiv(sb_cpx a, sb_cpx b) {
    double d = b.re * b.re + b.im * b.im;
    return (sb_cpx){(a.re * b.re + a.im * b.im) / d, (a.im * b.re - a.re * b.im) / d};
}

static void add_scaled(sb_cpx *sum, sb_cpx value, double factor) {
    sum->re += value.re * factor;
    sum->im += value.im * factor;
}

/* Hermitian normal equations of the columns e_j and c_j s e_j, where s runs from -1 to 1
 * over the band so that the columns have like size. */
struct normal {
    size_t n;
    sb_cpx a[UNKNOWNS][UNKNOWNS];
    sb_cpx b[UNKNOWNS];
};

/* Sums over the band that the normal equations are made of: products of two exponentials
 * with 1, s and s^2, products of each with the band with 1 and s. */
struct moments {
    sb_cpx pair[SB_LINES_MAX][SB_LINES_MAX][3];
    sb_cpx with_band[SB_LINES_MAX][2];
};

static sb_cpx conjugate(sb_cpx a) {
    return (sb_cpx){a.re, -a.im};
}

/* <e_i, s^m e_j> for any order of i and j. */
static sb_cpx pair_moment(const struct moments *m, size_t i, size_t j, size_t power) {
    return i <= j ? m->pair[i][j][power] : conjugate(m->pair[j][i][power]);
}

/* <e_i, s^m r> of the residual r that the lines leave of the band. */
static sb_cpx residual_moment(const struct moments *m, const sb_line lines[], size_t n, size_t i,
                              size_t power) {
    sb_cpx sum = m->with_band[i][power];
    for (size_t j = 0; j < n; j++) {
        sb_cpx part = sb_cpx_times((sb_cpx){lines[j].re, lines[j].im}, pair_moment(m, i, j, power));
        sum.re -= part.re;
        sum.im -= part.im;
    }
    return sum;
}

static void assemble(struct normal *eq, const struct moments *m, const sb_line lines[], size_t n) {
    eq->n = 2 * n;
    for (size_t i = 0; i < n; i++) {
        sb_cpx ci = {lines[i].re, -lines[i].im}; /* conjugate */
        eq->b[i] = residual_moment(m, lines, n, i, 0);
        eq->b[n + i] = sb_cpx_times(ci, residual_moment(m, lines, n, i, 1));
        for (size_t j = 0; j < n; j++) {
            sb_cpx cj = {lines[j].re, lines[j].im};
            eq->a[i][j] = pair_moment(m, i, j, 0);
            eq->a[i][n + j] = sb_cpx_times(cj, pair_moment(m, i, j, 1));
            eq->a[n + i][j] = sb_cpx_times(ci, pair_moment(m, i, j, 1));
            eq->a[n + i][n + j] = sb_cpx_times(sb_cpx_times(ci, cj), pair_moment(m, i, j, 2));
        }
    }
}

/* Gauss-Jordan on [a | b | inverse]: small, and the inverse is wanted anyway. */
static bool solve(struct normal *eq, sb_cpx x[], sb_cpx inverse[UNKNOWNS][UNKNOWNS]) {
    size_t n = eq->n;
    memset(inverse, 0, sizeof(sb_cpx) * UNKNOWNS * UNKNOWNS);
    for (size_t i = 0; i < n; i++)
        inverse[i][i].re = 1.0;
    for (size_t p = 0; p < n; p++) {
        double scale = eq->a[p][p].re;
        if (!(scale > 1e-300) || !isfinite(scale))
            return false;
        sb_cpx pivot = eq->a[p][p];
        for (size_t j = 0; j < n; j++) {
            eq->a[p][j] = cdiv(eq->a[p][j], pivot);
            inverse[p][j] = cdiv(inverse[p][j], pivot);
        }
        eq->b[p] = cdiv(eq->b[p], pivot);
        for (size_t i = 0; i < n; i++) {
            if (i == p)
                continue;
            sb_cpx factor = eq->a[i][p];
            for (size_t j = 0; j < n; j++) {
                sb_cpx u = sb_cpx_times(factor, eq->a[p][j]),
                       v = sb_cpx_times(factor, inverse[p][j]);
                eq->a[i][j].re -= u.re, eq->a[i][j].im -= u.im;
                inverse[i][j].re -= v.re, inverse[i][j].im -= v.im;
            }
            sb_cpx w = sb_cpx_times(factor, eq->b[p]);
            eq->b[i].re -= w.re, eq->b[i].im -= w.im;
        }
    }
    for (size_t i = 0; i < n; i++)
        x[i] = eq->b[i];
    return true;
}

sb_cpx sb_line_factor(const sb_line *line, double step_s) {
    double decay = exp(-line->decay_per_s * step_s), angle = SB_TWO_PI * line->hz * step_s;
    sb_cpx factor = {decay * cos(angle), decay * sin(angle)};
    return factor;
}

/* sum over k < n of r^k k^m, m = 0, 1, 2: the sums over twice as many terms follow from those
 * over so many, by additions only, so that nothing cancels where r is near 1. */
static void geometric_sums(sb_cpx r, size_t n, sb_cpx sums[3]) {
    sb_cpx power = {1.0, 0.0}; /* r^done */
    double done = 0;
    size_t bit = 1;
    while (2 * bit <= n)
        bit *= 2;
    memset(sums, 0, 3 * sizeof sums[0]);
    for (; bit > 0 && n > 0; bit /= 2) {
        sb_cpx second = sb_cpx_times(
            power, (sb_cpx){sums[2].re + 2 * done * sums[1].re + done * done * sums[0].re,
                            sums[2].im + 2 * done * sums[1].im + done * done * sums[0].im});
        sb_cpx first = sb_cpx_times(
            power, (sb_cpx){sums[1].re + done * sums[0].re, sums[1].im + done * sums[0].im});
        add_scaled(&sums[2], second, 1.0);
        add_scaled(&sums[1], first, 1.0);
        add_scaled(&sums[0], sb_cpx_times(power, sums[0]), 1.0);
        power = sb_cpx_times(power, power);
        done *= 2;
        if (n & bit) {
            add_scaled(&sums[0], power, 1.0);
            add_scaled(&sums[1], power, done);
            add_scaled(&sums[2], power, done * done);
            power = sb_cpx_times(power, r);
            done += 1;
        }
    }
}

/* From sums with k to sums with s = 2k/(n - 1) - 1. */
static void centre_sums(sb_cpx sums[3], size_t n) {
    double u = 2.0 / (double)(n - 1);
    sb_cpx s0 = sums[0], s1 = sums[1], s2 = sums[2];
    sums[1] = (sb_cpx){u * s1.re - s0.re, u * s1.im - s0.im};
    sums[2] =
        (sb_cpx){u * u * s2.re - 2 * u * s1.re + s0.re, u * u * s2.im - 2 * u * s1.im + s0.im};
}

enum { LANES = 4 };

/* Two neighbours' sums over the blocks of w z and, since a product costs more than a sum, of what
 * the first ones were after each block. */
struct lane_sums {
    sb_pair re, im, run_re, run_im;
};

static void add_block(struct lane_sums *sums, sb_pair w_re, sb_pair w_im, sb_pair re, sb_pair im) {
    sums->re += w_re * re - w_im * im;
    sums->im += w_re * im + w_im * re;
    sums->run_re += sums->re;
    sums->run_im += sums->im;
}

/* sum conj(e) z and sum conj(e) s z over the band. Each of LANES neighbours is summed apart
 * under a power of conj(e) that they share, so that the sums do not wait for each other. */
static void project(const sb_band *band, sb_cpx e, sb_cpx with_band[2]) {
    struct lane_sums low = {0}, high = {0};
    sb_cpx c = conjugate(e), c2 = sb_cpx_times(c, c), stride = sb_cpx_times(c2, c2), w = {1.0, 0.0};
    size_t blocks = band->n / LANES, k = 0;
    for (size_t m = 0; m < blocks; m++, k += LANES) {
        sb_pair re = {w.re, w.re}, im = {w.im, w.im};
        add_block(&low, re, im, sb_pair_load(band->re + k), sb_pair_load(band->im + k));
        add_block(&high, re, im, sb_pair_load(band->re + k + 2), sb_pair_load(band->im + k + 2));
        w = sb_cpx_times(w, stride);
    }
    sb_cpx sum = {0, 0}, moment = {0, 0}, lane = {1.0, 0.0};
    for (size_t l = 0; l < LANES; l++) {
        const struct lane_sums *of = l < 2 ? &low : &high;
        sb_cpx a = sb_cpx_times(lane, (sb_cpx){of->re[l % 2], of->im[l % 2]}),
               run = sb_cpx_times(lane, (sb_cpx){of->run_re[l % 2], of->run_im[l % 2]});
        add_scaled(&sum, a, 1.0);
        /* Block m stands in all running sums but m of them. */
        add_scaled(&moment, a, (double)l + LANES * (double)blocks);
        add_scaled(&moment, run, -(double)LANES);
        lane = sb_cpx_times(lane, c);
    }
    for (; k < band->n; k++, w = sb_cpx_times(w, c)) {
        sb_cpx p = sb_cpx_times(w, (sb_cpx){band->re[k], band->im[k]});
        add_scaled(&sum, p, 1.0);
        add_scaled(&moment, p, (double)k);
    }
    double u = 2.0 / (double)(band->n - 1);
    with_band[0] = sum;
    with_band[1] = (sb_cpx){u * moment.re - sum.re, u * moment.im - sum.im};
}

static void measure(const sb_band *band, const sb_line lines[], size_t n, struct moments *m) {
    sb_cpx e[SB_LINES_MAX];
    for (size_t i = 0; i < n; i++) {
        e[i] = sb_line_factor(&lines[i], band->step_s);
        project(band, e[i], m->with_band[i]);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = i; j < n; j++) {
            geometric_sums(sb_cpx_times(conjugate(e[i]), e[j]), band->n, m->pair[i][j]);
            centre_sums(m->pair[i][j], band->n);
        }
}

/* Moves lines along the slopes u in s = 2t/T - 1, which are u 2/T in t. Returns the largest
 * change, in radians over half the band. */
static double move(const sb_line from[], size_t n, const sb_cpx slopes[], double share,
                   double span_s, sb_line to[]) {
    double largest = 0;
    for (size_t j = 0; j < n; j++) {
        double size = sqrt(sb_cpx_power(slopes[j]));
        double part = share * (size > MOST_TURN ? MOST_TURN / size : 1.0);
        to[j] = from[j];
        to[j].decay_per_s -= part * slopes[j].re * 2.0 / span_s;
        to[j].hz += part * slopes[j].im * 2.0 / span_s / SB_TWO_PI;
        largest = fmax(largest, part * size);
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
static void note_errors(sb_line lines[], size_t n, sb_cpx inverse[UNKNOWNS][UNKNOWNS],
                        double span_s) {
    for (size_t j = 0; j < n; j++) {
        double variance = 0.5 * inverse[n + j][n + j].re;
        lines[j].hz_std_unit =
            variance > 0 ? sqrt(variance) * 2.0 / span_s / SB_TWO_PI : (double)INFINITY;
    }
}

/* A place of the search: the lines with their best amplitudes, and what they explain. */
struct place {
    sb_line lines[SB_LINES_MAX];
    struct moments moments;
    double explained;
};

static bool settle(const sb_band *band, size_t n, struct place *place) {
    struct normal eq;
    sb_cpx x[UNKNOWNS], inverse[UNKNOWNS][UNKNOWNS];
    for (size_t j = 0; j < n; j++)
        place->lines[j].re = place->lines[j].im = 0;
    measure(band, place->lines, n, &place->moments);
    assemble(&eq, &place->moments, place->lines, n);
    eq.n = n; /* the amplitudes alone */
    if (!solve(&eq, x, inverse))
        return false;
    place->explained = 0;
    for (size_t j = 0; j < n; j++) {
        sb_cpx with = place->moments.with_band[j][0];
        place->lines[j].re = x[j].re;
        place->lines[j].im = x[j].im;
        place->explained += x[j].re * with.re + x[j].im * with.im;
    }
    return isfinite(place->explained);
}

/* The first of ever shorter steps along the slopes that explains more, in *at. Returns its size,
 * or that of the last step tried, negative, where none does. */
static double step_along(const sb_band *band, const sb_cpx slopes[], const double start_hz[],
                         size_t n, struct place *at) {
    double span_s = (double)(band->n - 1) * band->step_s, share = 1.0, size = 0;
    for (int i = 0; i < SHORTENINGS; i++, share *= 0.3) {
        struct place next;
        size = move(at->lines, n, slopes, share, span_s, next.lines);
        if (!in_bounds(band, next.lines, start_hz, n, span_s) || !settle(band, n, &next) ||
            next.explained < at->explained)
            continue;
        *at = next;
        return size;
    }
    return -size;
}

double sb_line_early_energy(double re, double im, double decay_per_s) {
    return (re * re + im * im) / (1.0 + 2.0 * fmax(decay_per_s, 0.0) * SB_LINE_EARLY_S);
}

bool sb_lines_fit(const sb_band *band, sb_line lines[], size_t n) {
    if (n == 0 || n > SB_LINES_MAX || band->n < 4 * n)
        return false;
    struct normal eq;
    struct place at;
    sb_cpx x[UNKNOWNS], inverse[UNKNOWNS][UNKNOWNS];
    double start_hz[SB_LINES_MAX], span_s = (double)(band->n - 1) * band->step_s;
    for (size_t j = 0; j < n; j++) {
        at.lines[j] = lines[j];
        start_hz[j] = lines[j].hz;
    }
    if (!settle(band, n, &at))
        return false;
    double step = HUGE_VAL;
    for (int round = 0; round < ROUNDS; round++) {
        assemble(&eq, &at.moments, at.lines, n);
        if (!solve(&eq, x, inverse))
            return false;
        if (fabs(step) < CONVERGED)
            break;
        step = step_along(band, x + n, start_hz, n, &at);
        if (step < -STUCK)
            return false;
        if (step < 0) /* as good as it gets */
            step = 0;
    }
    memcpy(lines, at.lines, n * sizeof lines[0]);
    note_errors(lines, n, inverse, span_s);
    /* A lone line over a gliding partial creeps to its best place: near enough for a start,
     * and the glide is taken out before it counts. */
    return n == 1 || fabs(step) < CONVERGED;
}

bool sb_lines_have_room(const sb_band *band, size_t n) {
    return sb_band_independent(band) >= SAMPLES_PER_LINE * (double)n;
}

bool sb_lines_apart(const sb_band *band, const sb_line lines[], size_t n) {
    double span_s = (double)band->n * band->step_s, top = 0;
    for (size_t k = 0; k < band->n; k++)
        top = fmax(top, hypot(band->re[k], band->im[k]));
    for (size_t i = 0; i < n; i++) {
        if (hypot(lines[i].re, lines[i].im) > 1.5 * top)
            return false;
        for (size_t j = 0; j < i; j++)
            if (fabs(lines[i].hz - lines[j].hz) < LEAST_APART / span_s)
                return false;
    }
    return true;
}
