#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/joint_parts.h"
#include "audio/lanes.h"
#include "core/pitch.h"

/* ---- the glide ---- */

/* By how much a glide of unit amount and the given scale has the string ahead, and the
 * derivative of that by the logarithm of the scale. */
static void unit_ahead(const sb_glide_shape *shape, int number, double scale, double t,
                       double *ahead, double *slope) {
    *ahead = *slope = 0;
    for (size_t m = 0; m < shape->terms; m++) {
        double rate = shape->rate_per_s[m] / scale, left = exp(-rate * t);
        double weight = sb_glide_weight(shape, m, number);
        *ahead += weight * (1.0 - left) / rate;
        *slope += weight * ((1.0 - left) / rate - t * left);
    }
}

static void glide_once(const struct sb_joint_fit *fit, struct sb_joint_strand *strand,
                       double scale) {
    for (size_t m = 0; m < strand->n; m++)
        unit_ahead(&fit->unit.shape, strand->of->number, scale,
                   strand->t0_s + (double)m * strand->step_s, &strand->unit[0][m],
                   &strand->unit[1][m]);
}

static void turn_back(const struct sb_joint_fit *fit, struct sb_joint_strand *strand) {
    for (size_t m = 0; m < strand->n; m++) {
        double glide = fit->shared[GAMMA] * strand->unit[0][m] - strand->ahead_s[m];
        double angle = -SB_TWO_PI * strand->hz * glide;
        sb_cpx z = sb_cpx_times(strand->z[m], (sb_cpx){cos(angle), sin(angle)});
        strand->still.re[m] = z.re;
        strand->still.im[m] = z.im;
    }
}

/* Nearly all strands begin together, and but for what is their own their glides then run alike. */
void sb_joint_tabulate(struct sb_joint_fit *fit) {
    double scale = exp(fit->shared[SCALE]);
    bool moved = scale != fit->tabled;
    if (!moved && fit->shared[GAMMA] == fit->stilled)
        return;
    for (size_t i = 0; i < fit->n; i++) {
        struct sb_joint_strand *strand = &fit->strands[i];
        const struct sb_joint_strand *last = i > 0 ? strand - 1 : NULL;
        bool alike = last && fit->unit.shape.own == 0 && last->t0_s == strand->t0_s &&
                     last->step_s == strand->step_s && last->n >= strand->n;
        if (moved && alike)
            memcpy(strand->unit, last->unit, sizeof strand->unit);
        else if (moved)
            glide_once(fit, strand, scale);
        turn_back(fit, strand);
    }
    fit->tabled = scale;
    fit->stilled = fit->shared[GAMMA];
}

/* ---- the lines ---- */

/* A line of unit amplitude: each two samples are the last two, turned and shrunk. */
static void draw_line(const struct sb_joint_strand *strand, double decay_per_s, double rad_per_s,
                      struct sb_joint_wave *line) {
    double size = exp(-decay_per_s * strand->step_s), angle = rad_per_s * strand->step_s;
    sb_cpx one = {size * cos(angle), size * sin(angle)}, two = sb_cpx_times(one, one);
    sb_pair re = {1.0, one.re}, im = {0.0, one.im};
    for (size_t m = 0; m < strand->n; m += 2) {
        sb_pair_store(re, &line->re[m]);
        sb_pair_store(im, &line->im[m]);
        sb_pair next = re * two.re - im * two.im;
        im = re * two.im + im * two.re;
        re = next;
    }
    if (strand->n % 2)
        line->re[strand->n] = line->im[strand->n] = 0;
}

void sb_joint_expand(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                     struct sb_joint_columns *column) {
    const double *x = strand->x;
    draw_line(strand, x[D1], x[W], &column->e1);
    bool alone = fit->locals < LOCAL;
    if (alone)
        memset(&column->e2, 0, sizeof column->e2);
    else
        draw_line(strand, x[D2], x[W] + SB_TWO_PI * strand->hz * fit->shared[DETUNE], &column->e2);
    double a2 = alone ? 0.0 : x[A2], b2 = alone ? 0.0 : x[B2];
    for (size_t m = 0; m < strand->n; m += 2) {
        sb_pair re1 = sb_pair_load(&column->e1.re[m]), im1 = sb_pair_load(&column->e1.im[m]),
                re2 = sb_pair_load(&column->e2.re[m]), im2 = sb_pair_load(&column->e2.im[m]);
        sb_pair_store(sb_pair_load(&strand->still.re[m]) - (x[A1] * re1 - x[B1] * im1) -
                          (a2 * re2 - b2 * im2),
                      &column->rest.re[m]);
        sb_pair_store(sb_pair_load(&strand->still.im[m]) - (x[A1] * im1 + x[B1] * re1) -
                          (a2 * im2 + b2 * re2),
                      &column->rest.im[m]);
    }
    if (strand->n % 2)
        column->rest.re[strand->n] = column->rest.im[strand->n] = 0;
}

/* ---- the sums ---- */

static double whole(sb_pair sum) {
    return sum[0] + sum[1];
}

/* Real part of <a, b>, of n samples or one more that is 0. */
static double across(const struct sb_joint_wave *a, const struct sb_joint_wave *b, size_t n) {
    sb_pair sum = {0, 0};
    for (size_t m = 0; m < n; m += 2)
        sum += sb_pair_load(&a->re[m]) * sb_pair_load(&b->re[m]) +
               sb_pair_load(&a->im[m]) * sb_pair_load(&b->im[m]);
    return whole(sum);
}

double sb_joint_rest_power(const struct sb_joint_columns *column, size_t n) {
    return across(&column->rest, &column->rest, n);
}

/* A line's power times the time to the powers 0 to 2. */
static void power_sums(const struct sb_joint_wave *line, const struct sb_joint_strand *strand,
                       double out[3]) {
    sb_pair sum[3] = {{0}}, since = {0.0, strand->step_s};
    for (size_t m = 0; m < strand->n; m += 2) {
        sb_pair re = sb_pair_load(&line->re[m]), im = sb_pair_load(&line->im[m]);
        sb_pair power = re * re + im * im, rise = power * since;
        sum[0] += power;
        sum[1] += rise;
        sum[2] += rise * since;
        since += 2.0 * strand->step_s;
    }
    for (size_t k = 0; k < 3; k++)
        out[k] = whole(sum[k]);
}

/* <a, b> times the time to the powers 0 to 2. */
static void product_sums(const struct sb_joint_wave *a, const struct sb_joint_wave *b,
                         const struct sb_joint_strand *strand, sb_cpx out[3]) {
    sb_pair re[3] = {{0}}, im[3] = {{0}}, since = {0.0, strand->step_s};
    for (size_t m = 0; m < strand->n; m += 2) {
        sb_pair are = sb_pair_load(&a->re[m]), aim = sb_pair_load(&a->im[m]),
                bre = sb_pair_load(&b->re[m]), bim = sb_pair_load(&b->im[m]);
        sb_pair x = are * bre + aim * bim, y = are * bim - aim * bre;
        re[0] += x, im[0] += y;
        x *= since, y *= since;
        re[1] += x, im[1] += y;
        re[2] += x * since, im[2] += y * since;
        since += 2.0 * strand->step_s;
    }
    for (size_t k = 0; k < 3; k++)
        out[k] = (sb_cpx){whole(re[k]), whole(im[k])};
}

static void multiply_out(const struct sb_joint_strand *strand,
                         const struct sb_joint_columns *column, sb_cpx gram[SPAN][SPAN]) {
    double one[3], two[3];
    sb_cpx both[3];
    power_sums(&column->e1, strand, one);
    power_sums(&column->e2, strand, two);
    product_sums(&column->e1, &column->e2, strand, both);
    for (size_t p = 0; p < 2; p++) {
        for (size_t q = 0; q < 2; q++) {
            gram[LINE1 + p][LINE1 + q] = (sb_cpx){one[p + q], 0};
            gram[LINE2 + p][LINE2 + q] = (sb_cpx){two[p + q], 0};
            gram[LINE1 + p][LINE2 + q] = both[p + q];
            gram[LINE2 + p][LINE1 + q] = (sb_cpx){both[p + q].re, -both[p + q].im};
        }
    }
}

/* A line's product with a wave, and that of the line times the time. */
static void put_line_on(const struct sb_joint_strand *strand, const struct sb_joint_wave *line,
                        const struct sb_joint_wave *with, sb_cpx on[2]) {
    sb_pair re = {0}, im = {0}, rise_re = {0}, rise_im = {0}, since = {0.0, strand->step_s};
    for (size_t m = 0; m < strand->n; m += 2) {
        sb_pair are = sb_pair_load(&line->re[m]), aim = sb_pair_load(&line->im[m]),
                bre = sb_pair_load(&with->re[m]), bim = sb_pair_load(&with->im[m]);
        sb_pair x = are * bre + aim * bim, y = are * bim - aim * bre;
        re += x, im += y;
        rise_re += x * since, rise_im += y * since;
        since += 2.0 * strand->step_s;
    }
    on[0] = (sb_cpx){whole(re), whole(im)};
    on[1] = (sb_cpx){whole(rise_re), whole(rise_im)};
}

/* The four's products with a wave. */
static void put_on(const struct sb_joint_strand *strand, const struct sb_joint_columns *column,
                   const struct sb_joint_wave *with, sb_cpx on[SPAN]) {
    put_line_on(strand, &column->e1, with, &on[LINE1]);
    put_line_on(strand, &column->e2, with, &on[LINE2]);
}

double sb_joint_product(const sb_cpx of[SPAN], const sb_cpx on[SPAN]) {
    double sum = 0;
    for (size_t k = 0; k < SPAN; k++)
        sum += of[k].re * on[k].re + of[k].im * on[k].im;
    return sum;
}

/* The model's derivatives by the own unknowns. */
static void combine(const double x[LOCAL], sb_cpx by[LOCAL][SPAN]) {
    memset(by, 0, LOCAL * sizeof by[0]);
    by[A1][LINE1].re = by[B1][LINE1].im = 1.0;
    by[A2][LINE2].re = by[B2][LINE2].im = 1.0;
    by[D1][RISE1] = (sb_cpx){-x[A1], -x[B1]};
    by[D2][RISE2] = (sb_cpx){-x[A2], -x[B2]};
    by[W][RISE1] = (sb_cpx){-x[B1], x[A1]};
    by[W][RISE2] = (sb_cpx){-x[B2], x[A2]};
}

double sb_joint_sum(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                    const struct sb_joint_columns *column, struct sb_joint_sums *sums) {
    combine(strand->x, sums->by);
    multiply_out(strand, column, sums->gram);
    put_on(strand, column, &column->rest, sums->on_rest);
    for (size_t p = 0; p < fit->locals; p++) {
        for (size_t k = 0; k < SPAN; k++) {
            sb_cpx sum = {0, 0};
            for (size_t j = 0; j < SPAN; j++) {
                if (sums->by[p][j].re == 0 && sums->by[p][j].im == 0)
                    continue;
                sb_cpx part = sb_cpx_times(sums->gram[k][j], sums->by[p][j]);
                sum.re += part.re, sum.im += part.im;
            }
            sums->on[p][k] = sum;
        }
    }
    return sb_joint_rest_power(column, strand->n);
}

/* Derivatives by the glide's amount and scale: both lines, turned by what either adds. */
static void bend(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                 const struct sb_joint_columns *column, struct sb_joint_wave bent[2]) {
    double turn = SB_TWO_PI * strand->hz;
    const double by[2] = {turn, turn * fit->shared[GAMMA]};
    for (size_t m = 0; m < strand->n; m++) {
        double re = strand->still.re[m] - column->rest.re[m],
               im = strand->still.im[m] - column->rest.im[m];
        for (size_t s = 0; s < 2; s++) {
            bent[s].re[m] = -by[s] * strand->unit[s][m] * im;
            bent[s].im[m] = by[s] * strand->unit[s][m] * re;
        }
    }
    for (size_t s = 0; s < 2 && strand->n % 2; s++)
        bent[s].re[strand->n] = bent[s].im[strand->n] = 0;
}

void sb_joint_sum_shared(const struct sb_joint_fit *fit, const struct sb_joint_strand *strand,
                         const struct sb_joint_columns *column, const struct sb_joint_sums *sums,
                         struct sb_joint_shared_sums *shared) {
    struct sb_joint_wave bent[2];
    memset(shared, 0, sizeof *shared);
    bend(fit, strand, column, bent);
    for (size_t s = GAMMA; s <= SCALE; s++) {
        put_on(strand, column, &bent[s], shared->on[s]);
        shared->on_rest[s] = across(&bent[s], &column->rest, strand->n);
        for (size_t u = GAMMA; u <= s; u++)
            shared->each_other[s][u] = across(&bent[s], &bent[u], strand->n);
    }
    if (fit->locals < LOCAL) /* one line has nothing to be off */
        return;
    double turn = SB_TWO_PI * strand->hz;
    sb_cpx apart[SPAN] = {[RISE2] = {-turn * strand->x[B2], turn * strand->x[A2]}};
    for (size_t k = 0; k < SPAN; k++)
        shared->on[DETUNE][k] = sb_cpx_times(sums->gram[k][RISE2], apart[RISE2]);
    shared->on_rest[DETUNE] = sb_joint_product(apart, sums->on_rest);
    for (size_t u = 0; u < SHARED; u++)
        shared->each_other[DETUNE][u] = sb_joint_product(apart, shared->on[u]);
}
