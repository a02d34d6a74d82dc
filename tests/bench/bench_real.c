/* bench_real: recorded guitar notes (Debian package freepats), whose true pitch nobody knows.
 *
 * The settled part, from 0.3 s after the attack on, is read as a whole and as two disjoint
 * halves; beside it partial 1 tracked alone (periodogram.h) and aubio's methods that do best
 * on single notes. All differences are in cents from the ear's whole reading. Fails nothing.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/ears.h"
#include "tests/support/patch.h"
#include "tests/support/peers.h"
#include "tests/support/periodogram.h"

#define SKIP_S 0.3

enum { COMB = 7, YIN = 5, MOST_NOTES = 128 }; /* fcomb 8192, yinfast 8192 of peers_all() */

/* What is gathered for the medians at the end. */
enum { EAR_HALVES, PARTIAL_1, PARTIAL_1_HALVES, COMB_HALVES, YIN_HALVES, EAR_COMB, FIGURES };

static const char *const figure_names[FIGURES] = {
    "ear, half to half",        "ear to partial 1",           "partial 1, half to half",
    "fcomb 8192, half to half", "yinfast 8192, half to half", "ear to fcomb 8192"};

typedef struct {
    double values[FIGURES][MOST_NOTES];
    size_t n[FIGURES];
    size_t notes, refused, within_2, halves;
} gathered;

static double cents(double from, double to) {
    return from > 0.0 && to > 0.0 ? 1200.0 * log2(to / from) : (double)NAN;
}

static void gather(gathered *g, size_t figure, double value) {
    if (isfinite(value) && g->n[figure] < MOST_NOTES)
        g->values[figure][g->n[figure]++] = fabs(value);
}

typedef struct {
    const float *samples;
    size_t n;
    double rate_hz;
} span;

static sb_reading hear(span s) {
    return ears_read(s.rate_hz, s.samples, s.n, NULL, 0);
}

static double partial_1(span s, double near_hz) {
    return periodogram_peak_hz(s.samples, s.n, s.rate_hz, near_hz, 40.0);
}

static double peer_hz(span s, size_t which) {
    return peer_pitch_hz(&peers_all()[which], s.rate_hz, s.samples, s.n);
}

static void compare(gathered *g, span whole, span first, span second) {
    const sb_reading all = hear(whole), a = hear(first), b = hear(second);
    const bool both = a.fault == SB_PLUCK_GOOD && b.fault == SB_PLUCK_GOOD;
    const double halves = both ? cents(a.hz, b.hz) : (double)NAN;
    const double expected = hypot(a.std_error_cents, b.std_error_cents);
    const double one = cents(all.hz, partial_1(whole, all.hz));
    const double comb = cents(all.hz, peer_hz(whole, COMB)),
                 yin = cents(all.hz, peer_hz(whole, YIN));
    printf("%9.3f %7.3f %8.1e %6.2f %6.2f | %8.3f %6.3f | %7.3f %8.3f %8.3f\n", all.hz,
           all.std_error_cents, all.inharmonicity, all.glide_cents, all.scatter_cents, halves,
           expected, one, comb, yin);
    gather(g, EAR_HALVES, halves);
    gather(g, PARTIAL_1, one);
    gather(g, EAR_COMB, comb);
    gather(g, PARTIAL_1_HALVES, cents(partial_1(first, all.hz), partial_1(second, all.hz)));
    gather(g, COMB_HALVES, cents(peer_hz(first, COMB), peer_hz(second, COMB)));
    gather(g, YIN_HALVES, cents(peer_hz(first, YIN), peer_hz(second, YIN)));
    g->halves += both;
    g->within_2 += both && fabs(halves) <= 2.0 * expected;
}

static void run_note(gathered *g, const patch_note *note) {
    const size_t skip = (size_t)(SKIP_S * note->rate_hz);
    if (note->n < skip + (size_t)(0.4 * note->rate_hz))
        return;
    const float *x = note->samples + skip;
    const size_t n = note->n - skip, half = n / 2;
    const span whole = {x, n, note->rate_hz};
    const sb_reading r = hear(whole);
    printf("%-8s %5.2f %8.1f ", note->name, (double)n / note->rate_hz, note->nominal_hz);
    g->notes++;
    if (r.fault == SB_PLUCK_GOOD) {
        compare(g, whole, (span){x, half, note->rate_hz},
                (span){x + half, n - half, note->rate_hz});
        return;
    }
    g->refused++;
    printf("refused: %s\n", sb_pluck_fault_text(r.fault));
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_medians(gathered *g) {
    printf("\n%zu notes, %zu refused; halves within 2 of their standard errors: %zu of %zu\n",
           g->notes, g->refused, g->within_2, g->halves);
    printf("%-28s %5s %9s %9s %9s\n", "absolute difference, cents", "notes", "median", "90 %",
           "worst");
    for (size_t f = 0; f < FIGURES; f++) {
        const size_t n = g->n[f];
        double *v = g->values[f];
        if (n == 0)
            continue;
        qsort(v, n, sizeof *v, ascending);
        printf("%-28s %5zu %9.3f %9.3f %9.3f\n", figure_names[f], n, v[n / 2], v[9 * n / 10],
               v[n - 1]);
    }
}

static bool run_file(gathered *g, const char *path) {
    patch p;
    if (!patch_read(path, &p)) {
        printf("\n%s: not there\n", path);
        return false;
    }
    printf("\n%s\n%-8s %5s %8s %9s %7s %8s %6s %6s | %8s %6s | %7s %8s %8s\n", path, "note", "s",
           "nominal", "Hz", "std err", "B", "glide", "scatt", "halves", "s.e.", "part 1", "fcomb",
           "yinfast");
    for (size_t i = 0; i < p.n; i++)
        run_note(g, &p.notes[i]);
    patch_free(&p);
    return true;
}

int main(void) {
    static gathered reference, more;
    if (run_file(&reference, PATCH_NYLON) && run_file(&reference, PATCH_STEEL))
        print_medians(&reference);
    if (run_file(&more, PATCH_JAZZ) && run_file(&more, PATCH_CLEAN))
        print_medians(&more);
    return 0;
}
