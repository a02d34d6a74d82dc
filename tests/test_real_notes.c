/* The ear on recorded guitar notes (Debian package freepats), against a general-purpose
 * library's pitch (aubio) on the same samples. Nobody knows the truth of a recorded note:
 *
 * - no gross error: the ear lies within 20 cents of the median of the library's methods;
 * - agreement within the reference's own scatter: the ear, give or take twice its standard
 *   error, lies among what the methods say of the whole and of either half. The comb follows
 *   partial 1, which a body pulls either way; the YIN family takes the partials for
 *   harmonics, so that its readings count with and without the 2 cents by which it is then
 *   usually sharp;
 * - the ear agrees with itself: two disjoint halves of the settled part, over the notes of two
 *   more guitars as well, of which a few are too short to be cut in two.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/support/cents.h"
#include "tests/support/ears.h"
#include "tests/support/patch.h"
#include "tests/support/peers.h"

#define SKIP_S      0.3
#define GROSS_CENTS 20.0

#define YIN_SHARP_CENTS 2.0

/* yinfft, yinfast and fcomb, buffer 8192; of the others yin reads as yinfast does and mcomb
 * as fcomb, slower. */
static const size_t methods[] = {3, 5, 7};

enum {
    YIN_METHODS = 2,
    METHODS = sizeof methods / sizeof *methods,
    MOST_NOTES = 4 * PATCH_MAX_NOTES,
    MOST_UNHALVED = 2
};

typedef struct {
    const float *samples;
    size_t n;
    double rate_hz;
} span;

static sb_reading hear(span s) {
    return ears_read(s.rate_hz, s.samples, s.n, NULL, 0);
}

static void ask_peers(span s, double hz[METHODS]) {
    for (size_t i = 0; i < METHODS; i++)
        hz[i] = peer_pitch_hz(&peers_all()[methods[i]], s.rate_hz, s.samples, s.n);
}

static double median_of_three(const double v[METHODS]) {
    return fmax(fmin(v[0], v[1]), fmin(fmax(v[0], v[1]), v[2]));
}

/* Widens low..high to take in the readings that are not gross. */
static void widen(double *low, double *high, double middle_hz, const double hz[METHODS]) {
    for (size_t i = 0; i < METHODS; i++) {
        const double off = hz[i] > 0.0 ? cents(middle_hz, hz[i]) : (double)NAN;
        if (fabs(off) <= GROSS_CENTS) {
            *low = fmin(*low, i < YIN_METHODS ? off - YIN_SHARP_CENTS : off);
            *high = fmax(*high, off);
        }
    }
}

static void halve(span s, span *first, span *second) {
    *first = (span){s.samples, s.n / 2, s.rate_hz};
    *second = (span){s.samples + s.n / 2, s.n - s.n / 2, s.rate_hz};
}

/* How far the halves lie apart; false where one of them is refused. */
static bool compare_halves(const patch_note *note, double *half_cents) {
    const size_t skip = (size_t)(SKIP_S * note->rate_hz);
    span first, second;
    halve((span){note->samples + skip, note->n - skip, note->rate_hz}, &first, &second);
    const sb_reading a = hear(first), b = hear(second);
    *half_cents = fabs(cents(a.hz, b.hz));
    return a.fault == SB_PLUCK_GOOD && b.fault == SB_PLUCK_GOOD;
}

/* Returns whether the ear passes on this note; half_cents receives how far its halves lie
 * apart. */
static bool check_note(const patch_note *note, double *half_cents) {
    const size_t skip = (size_t)(SKIP_S * note->rate_hz);
    const span whole = {note->samples + skip, note->n - skip, note->rate_hz};
    span first, second;
    double all[METHODS], a[METHODS], b[METHODS], low = HUGE_VAL, high = -HUGE_VAL;
    halve(whole, &first, &second);
    ask_peers(whole, all);
    ask_peers(first, a);
    ask_peers(second, b);
    const double middle = median_of_three(all);
    widen(&low, &high, middle, all);
    widen(&low, &high, middle, a);
    widen(&low, &high, middle, b);
    const bool halved = compare_halves(note, half_cents);
    const sb_reading r = hear(whole);
    const double off = cents(middle, r.hz), reach = 2.0 * r.std_error_cents;
    const bool ok = r.fault == SB_PLUCK_GOOD && halved && *half_cents < GROSS_CENTS &&
                    fabs(off) < GROSS_CENTS && off + reach >= low && off - reach <= high;
    print_message("%-6s %8.3f Hz: %+.2f +- %.2f cents, peers %+.2f to %+.2f; halves %.3f%s\n",
                  note->name, r.hz, off, r.std_error_cents, low, high, *half_cents,
                  ok ? "" : "  <-- fails");
    return ok;
}

/* Adds the further guitars' halves to those there are. Returns how many could not be compared. */
static size_t halve_more(double halves[], size_t *n) {
    const char *const files[] = {PATCH_JAZZ, PATCH_CLEAN};
    size_t refused = 0;
    for (size_t f = 0; f < 2; f++) {
        patch p;
        assert_true(patch_read(files[f], &p));
        for (size_t i = 0; i < p.n; i++) {
            const bool heard = compare_halves(&p.notes[i], &halves[*n]);
            *n += heard;
            refused += !heard;
        }
        patch_free(&p);
    }
    return refused;
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void test_recorded_notes(void **state) {
    (void)state;
    const char *const files[] = {PATCH_NYLON, PATCH_STEEL};
    double halves[MOST_NOTES];
    size_t n = 0, failed = 0;
    for (size_t f = 0; f < 2; f++) {
        patch p;
        if (!patch_read(files[f], &p))
            skip();
        for (size_t i = 0; i < p.n; i++)
            failed += !check_note(&p.notes[i], &halves[n++]);
        patch_free(&p);
    }
    assert_int_equal(n, 18);
    assert_int_equal(failed, 0);
    const size_t refused = halve_more(halves, &n);
    qsort(halves, n, sizeof *halves, ascending);
    print_message("%zu notes, halves apart: median %.3f cents; %zu refused\n", n, halves[n / 2],
                  refused);
    assert_int_equal(n + refused, 40);
    assert_true(refused <= MOST_UNHALVED);
    assert_true(halves[n / 2] < 0.40);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_recorded_notes)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
