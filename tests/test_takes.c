/* The whole way from a file to the octave error, on the recordings of fixtures/: file,
 * listener, ear, sorting, combining, against the truth they were made with. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "audio/listener.h"
#include "audio/recording.h"
#include "core/interval.h"
#include "tests/support/cents.h"
#include "tests/support/fixtures.h"

enum { BLOCK = 1000, PATH_LENGTH = 256 };

/* Takes what readings there are; every note of these recordings is a good one. */
static size_t take_plucks(sb_listener *listener, sb_pluck plucks[], size_t n) {
    sb_reading r;
    while (sb_listener_next(listener, &r)) {
        assert_true(n < SB_MAX_PLUCKS);
        assert_int_equal(r.fault, SB_PLUCK_GOOD);
        plucks[n++] =
            (sb_pluck){.time_s = r.start_s, .hz = r.hz, .std_error_cents = r.std_error_cents};
    }
    return n;
}

static size_t listen_to(const char *file, sb_pluck plucks[], size_t n) {
    char path[PATH_LENGTH];
    sb_recording *recording;
    sb_listener *listener;
    float block[BLOCK];
    size_t got;
    sb_listener_options options = {.rate_hz = 0.0};
    (void)snprintf(path, sizeof path, "fixtures/%s", file);
    assert_int_equal(sb_recording_open(path, -1, &options.rate_hz, &recording), SB_OK);
    assert_int_equal(sb_listener_new(&options, &listener), SB_OK);
    do {
        assert_int_equal(sb_recording_read(recording, block, BLOCK, &got), SB_OK);
        assert_int_equal(sb_listener_push(listener, block, got), SB_OK);
        n = take_plucks(listener, plucks, n);
    } while (got == BLOCK);
    assert_int_equal(sb_listener_finish(listener), SB_OK);
    n = take_plucks(listener, plucks, n);
    sb_listener_free(listener);
    sb_recording_discard(recording);
    return n;
}

static sb_interval combine(sb_pluck plucks[], size_t n) {
    const sb_interval_options octave = {.interval_cents = 1200.0};
    double hz[SB_MAX_PLUCKS] = {0.0};
    int kind[SB_MAX_PLUCKS], only;
    sb_interval out;
    for (size_t i = 0; i < n; i++)
        hz[i] = plucks[i].hz;
    assert_int_equal(sb_interval_sort(hz, n, 1200.0, 0.0, kind, &only), SB_OK);
    for (size_t i = 0; i < n; i++) {
        assert_true(kind[i] >= 0);
        plucks[i].fretted = kind[i] == 1;
    }
    assert_int_equal(sb_interval_combine(plucks, n, &octave, &out), SB_OK);
    return out;
}

/* Tells every figure before it judges. */
static bool judge(const fixture *f, const sb_interval *got, double detune_cents) {
    const double off = got->error_cents - f->octave_error_cents;
    const bool ok = fabs(off) <= f->tolerance_cents && fabs(detune_cents) <= 0.15;
    print_message("%-18s error %+.4f, true %+.2f: off by %+.4f +- %.4f (most %.2f)%s\n", f->file,
                  got->error_cents, f->octave_error_cents, off, got->std_error_cents,
                  f->tolerance_cents, ok ? "" : "  <-- fails");
    return ok;
}

static void test_takes(void **state) {
    (void)state;
    size_t seen = 0, failed = 0;
    for (size_t i = 0; i < fixtures_count(); i++) {
        const fixture f = fixtures_get(i);
        const bool order[] = {false, false, true, true, true, false};
        sb_pluck plucks[SB_MAX_PLUCKS];
        if (strcmp(f.what, "take") != 0)
            continue;
        assert_int_equal(listen_to(f.file, plucks, 0), 6);
        const sb_interval got = combine(plucks, 6);
        for (size_t k = 0; k < 6; k++) {
            assert_int_equal(plucks[k].fretted, order[k]);
            assert_true(fabs(plucks[k].time_s - (0.6 + 2.3 * (double)k)) < 0.01);
        }
        /* a drifting string is somewhere between its pitch at the beginning and at the end */
        const double detune = cents(f.hz, got.open_hz), drift = got.drift_cents_per_min * 0.25;
        const bool between = detune > fmin(0.0, drift) && detune < fmax(0.0, drift);
        failed += !judge(&f, &got, between ? 0.0 : detune);
        seen++;
    }
    assert_int_equal(seen, 6);
    assert_int_equal(failed, 0);
}

/* String 3 sinks by 6 cents a minute; the drift is found and taken out. */
static void test_drift(void **state) {
    (void)state;
    sb_pluck plucks[SB_MAX_PLUCKS];
    const size_t n = listen_to("demo-3-G3.flac", plucks, 0);
    const sb_interval got = combine(plucks, n);
    assert_true(got.drift_fitted && got.drift_significant);
    assert_true(fabs(got.drift_cents_per_min + 6.0) < 0.6);
}

static void test_pairs(void **state) {
    (void)state;
    size_t seen = 0, failed = 0;
    for (size_t i = 0; i + 1 < fixtures_count(); i++) {
        const fixture f = fixtures_get(i), g = fixtures_get(i + 1);
        sb_pluck plucks[SB_MAX_PLUCKS] = {{0}};
        if (strcmp(f.what, "open") != 0)
            continue;
        assert_int_equal(listen_to(f.file, plucks, 0), 1);
        assert_int_equal(listen_to(g.file, plucks, 1), 2);
        const double error = cents(plucks[0].hz, plucks[1].hz) - 1200.0;
        const sb_interval got = {.error_cents = error,
                                 .std_error_cents =
                                     hypot(plucks[0].std_error_cents, plucks[1].std_error_cents)};
        failed += !judge(&f, &got, cents(f.hz, plucks[0].hz));
        seen++;
    }
    assert_int_equal(seen, 8);
    assert_int_equal(failed, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_takes),
        cmocka_unit_test(test_drift),
        cmocka_unit_test(test_pairs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
