#include "tests/support/invariants.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

void invariant(int holds, const char *text, const char *file, int line) {
    if (holds)
        return;
    (void)fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, text);
    abort();
}

static void invariants_of_partials(const sb_reading *r) {
    double weights = 0.0;
    INVARIANT(r->n_partials <= SB_MAX_PARTIALS);
    for (size_t i = 0; i < r->n_partials; i++) {
        const sb_partial *p = &r->partials[i];
        INVARIANT(p->number >= 1 && isfinite(p->hz) && p->hz > 0);
        INVARIANT(i == 0 || p->number > r->partials[i - 1].number);
        INVARIANT(isfinite(p->std_error_cents) && p->std_error_cents >= 0);
        INVARIANT(isfinite(p->level_dbfs) && isfinite(p->decay_per_s));
        INVARIANT(isfinite(p->departure_cents));
        INVARIANT(p->weight >= 0 && p->weight <= 1);
        weights += p->weight;
    }
    INVARIANT(r->n_partials == 0 || fabs(weights - 1.0) < 1e-6);
}

void invariants_of_reading(const sb_reading *r) {
    INVARIANT(isfinite(r->start_s) && r->start_s >= 0);
    INVARIANT(isfinite(r->length_s) && r->length_s >= 0);
    INVARIANT(isfinite(r->level_dbfs) && isfinite(r->hz));
    if (r->fault != SB_PLUCK_GOOD)
        return;
    INVARIANT(r->hz > 0 && isfinite(r->octave_partial_hz));
    /* B as fitted may be slightly negative, and the octave partial then flat */
    INVARIANT(r->octave_partial_hz > 1.99 * r->hz);
    INVARIANT(isfinite(r->std_error_cents) && r->std_error_cents > 0);
    INVARIANT(r->common_std_error_cents >= 0 &&
              r->common_std_error_cents <= r->std_error_cents * (1 + 1e-12));
    INVARIANT(isfinite(r->inharmonicity) && r->inharmonicity >= 0);
    INVARIANT(isfinite(r->inharmonicity_std_error) && r->inharmonicity_std_error >= 0);
    INVARIANT(isfinite(r->glide_cents) && isfinite(r->snr_db));
    INVARIANT(isfinite(r->scatter_cents) && r->scatter_cents >= 0);
    INVARIANT(r->mains_hz == 0.0 || r->mains_hz == 50.0 || r->mains_hz == 60.0);
    invariants_of_partials(r);
}
