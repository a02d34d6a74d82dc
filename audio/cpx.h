/* cpx: a complex number, where C's own would bring the special cases of its multiplication along.
 *
 * Internal to audio/.
 */
#ifndef SB_CPX_H
#define SB_CPX_H

typedef struct {
    double re, im;
} sb_cpx;

static inline sb_cpx sb_cpx_times(sb_cpx a, sb_cpx b) {
    return (sb_cpx){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

static inline double sb_cpx_power(sb_cpx a) {
    return a.re * a.re + a.im * a.im;
}

#endif
