/* carrier: a plucked stiff string integrated in time, its tension made by its own motion.
 *
 * Each mode k of either plane is an oscillator whose tension rises with the string's stretch
 * (G. F. Carrier, Q. Appl. Math. 3, 157, 1945, from memory; Legge & Fletcher, J. Acoust. Soc. Am.
 * 76, 5, 1984):
 *     q'' + 2 s_k q' + (w_k^2 + w_0^2 k^2 c S) q = 0,   S = sum of k^2 q^2 over all modes,
 * plucked at rest with q ~ sin(k pi p) / k^2. No formula of a glide is in it: the pitch falls as
 * the motion dies, each partial's own motion counting for more in its own. Steps split between the
 * modes by themselves, exact, and the stretch, a kick (G. Strang, SIAM J. Numer. Anal. 5, 506,
 * 1968). Nothing here uses core/ or audio/, so that it can judge them.
 */
#ifndef SB_TESTS_CARRIER_H
#define SB_TESTS_CARRIER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
    double hz;            /* truth: the sounding fundamental at rest, f0 sqrt(1 + B) */
    double inharmonicity; /* B >= 0 */
    double rms;           /* over the first second, full scale 1 */
    double pluck, pickup; /* parts of the length; pickup 0 = the force on the bridge */
    double decay_per_s;   /* amplitude of mode k falls at this, */
    double decay_s;       /* and by (2 pi f_k)^2 times this more */
    double glide_cents;   /* at the pluck, by mean tension */
    bool mean_tension;    /* energy in S for q^2: then a partial's own counts as all others' do */
    double second_cents;  /* the other plane's pitch above the first's */
    double second_share;  /* its amplitudes over the first's; 0 = none */
    uint64_t seed; /* of the other plane's decays: 1.1 to 1.9 times the first's, each mode's */
} carrier_string;

/* Adds the string, plucked at sample `at`, to samples[0..n-1]. Exits when out of memory. */
void carrier_add(const carrier_string *string, double rate_hz, size_t at, double samples[],
                 size_t n);

#endif
