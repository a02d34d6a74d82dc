#include "tests/support/plucked.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

double plucked_raised(double hz, double cents) {
    return hz * pow(2, cents / 1200);
}

sb_reading plucked_good(double start_s, double hz, double std_error_cents) {
    return (sb_reading){.fault = SB_PLUCK_GOOD,
                        .start_s = start_s,
                        .length_s = 2,
                        .hz = hz,
                        .octave_partial_hz = plucked_raised(2 * hz, 0.26),
                        .std_error_cents = std_error_cents,
                        .inharmonicity = 1e-4,
                        .inharmonicity_std_error = 1e-6,
                        .glide_cents = 2,
                        .level_dbfs = -21,
                        .snr_db = 50};
}

sb_reading plucked_bad(double start_s, sb_pluck_fault fault, double hz) {
    return (sb_reading){.fault = fault, .start_s = start_s, .hz = hz, .level_dbfs = -60};
}

sb_take *plucked_take(void) {
    sb_take *take = sb_take_new();
    assert_non_null(take);
    take->rate_hz = 48000;
    return take;
}
