#include <math.h>
#include <string.h>

#include "audio/cpx.h"
#include "audio/lanes.h"
#include "audio/lines.h"
#include "core/pitch.h"

/* What lines leave of a band. */

enum { LANES = 4 };

void sb_lines_subtract(const sb_band *band, const sb_line lines[], size_t n, double re[],
                       double im[]) {
    memcpy(re, band->re, band->n * sizeof re[0]);
    memcpy(im, band->im, band->n * sizeof im[0]);
    for (size_t j = 0; j < n; j++) {
        sb_cpx e = sb_line_factor(&lines[j], band->step_s), e2 = sb_cpx_times(e, e),
               stride = sb_cpx_times(e2, e2);
        sb_cpx part[LANES] = {{lines[j].re, lines[j].im}};
        for (size_t l = 1; l < LANES; l++)
            part[l] = sb_cpx_times(part[l - 1], e);
        for (size_t k = 0; k < band->n; k++) {
            sb_cpx *now = &part[k % LANES];
            re[k] -= now->re;
            im[k] -= now->im;
            *now = sb_cpx_times(*now, stride);
        }
    }
}

/* Two complex numbers that are worked on at once. */
typedef struct {
    sb_pair re, im;
} two_cpx;

static two_cpx two_of(sb_cpx first, sb_cpx second) {
    return (two_cpx){{first.re, second.re}, {first.im, second.im}};
}

static two_cpx two_times(two_cpx a, two_cpx b) {
    return (two_cpx){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/* One line seen through two neighbouring bins of a transform, from pair to pair: z = exp(lambda
 * step) under the bin's own turn, and z^n. */
struct seen {
    two_cpx size, z, end;
};

/* size (1 - z^n) / (1 - z), the sum over the band. */
static two_cpx line_sum(const struct seen *line, size_t n) {
    sb_pair re = 1.0 - line->z.re, im = -line->z.im, power = re * re + im * im;
    two_cpx above = two_times(line->size, (two_cpx){1.0 - line->end.re, -line->end.im});
    two_cpx sum = {(above.re * re + above.im * im) / power,
                   (above.im * re - above.re * im) / power};
    for (size_t i = 0; i < 2; i++)
        if (power[i] < 1e-16) {
            sum.re[i] = (double)n * line->size.re[i];
            sum.im[i] = (double)n * line->size.im[i];
        }
    return sum;
}

/* `factor` under the turns of a bin and of the next. */
static two_cpx under(sb_cpx factor, sb_cpx turn, sb_cpx to_next) {
    sb_cpx first = sb_cpx_times(factor, turn);
    return two_of(first, sb_cpx_times(first, to_next));
}

static sb_cpx turn_by(double angle) {
    return (sb_cpx){cos(angle), sin(angle)};
}

void sb_lines_periodogram(const sb_band *band, const sb_line lines[], size_t n, sb_bins bins,
                          size_t reach, double power[]) {
    struct seen seen[SB_LINES_MAX];
    double count = (double)band->n, bin = -SB_TWO_PI / (double)bins.size,
           first = -bin * (double)reach;
    sb_cpx next = turn_by(bin), next_end = turn_by(bin * count), turn = sb_cpx_times(next, next),
           turn_end = sb_cpx_times(next_end, next_end);
    two_cpx turns = two_of(turn, turn), turns_end = two_of(turn_end, turn_end);
    for (size_t i = 0; i < n; i++) {
        sb_cpx size = {lines[i].re, lines[i].im};
        seen[i] =
            (struct seen){.size = two_of(size, size),
                          .z = under(sb_line_factor(&lines[i], band->step_s), turn_by(first), next),
                          .end = under(sb_line_factor(&lines[i], band->step_s * count),
                                       turn_by(first * count), next_end)};
    }
    for (size_t j = 0; j <= 2 * reach; j += 2) {
        size_t at = 2 * ((bins.size + j - reach) % bins.size),
               after = at + 2 < 2 * bins.size ? at + 2 : 0;
        two_cpx rest = {{(double)bins.at[at], (double)bins.at[after]},
                        {(double)bins.at[at + 1], (double)bins.at[after + 1]}};
        for (size_t i = 0; i < n; i++) {
            two_cpx sum = line_sum(&seen[i], band->n);
            rest.re -= sum.re, rest.im -= sum.im;
            seen[i].z = two_times(seen[i].z, turns);
            seen[i].end = two_times(seen[i].end, turns_end);
        }
        sb_pair powers = (rest.re * rest.re + rest.im * rest.im) / count;
        power[j] = powers[0];
        if (j < 2 * reach)
            power[j + 1] = powers[1];
    }
}
