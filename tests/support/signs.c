#include "tests/support/signs.h"

#include <math.h>

#include "audio/series.h"
#include "core/wire.h"
#include "tests/support/lump.h"

enum { PLUCKS = 2 };

#define HAND_CENTS 0.3 /* from pluck to pluck */

signs_body signs_random_body(prng *rng) {
    signs_body b = {.lump_at = 0.25};
    const double pull_cents = prng_uniform(rng, 0.1, 1.5), beat_cents = prng_uniform(rng, 0.0, 0.6);
    for (int i = 0; i < SPECIMEN_STRINGS; i++) {
        for (int side = 0; side < 2; side++)
            for (int n = 1; n <= SIGNS_PARTIALS; n++)
                b.pulls[i][side][n - 1] = pull_cents * prng_normal(rng) / sqrt(n);
        b.beats[i] = beat_cents * exp(0.4 * prng_normal(rng));
    }
    return b;
}

/* A note as the ear reads it. */
static sb_series_fit pluck(const specimen *f, const signs_body *b, size_t string, bool fretted,
                           prng *rng) {
    const strung *s = &f->strings[string];
    const double hz =
        strung_hz(s, fretted ? 12 : 0, 1) * exp2(HAND_CENTS * prng_normal(rng) / 1200.0);
    const double stiff = strung_inharmonicity(s, fretted ? 12 : 0);
    sb_series_point points[SIGNS_PARTIALS];
    sb_series_fit fit = {.sounding_hz = hz};
    for (int n = 1; n <= SIGNS_PARTIALS; n++) {
        const double off = b->pulls[string][fretted][n - 1] +
                           lump_cents(b->lump[string], b->lump_at, fretted, n) +
                           0.1 * prng_normal(rng);
        points[n - 1] = (sb_series_point){
            .number = n,
            .hz = n * hz * sqrt((1.0 + stiff * n * n) / (1.0 + stiff)) * exp2(off / 1200.0),
            .std_cents = 0.1};
    }
    (void)sb_series_solve(points, SIGNS_PARTIALS, &fit);
    return fit;
}

void signs_hear(const specimen *f, const signs_body *b, size_t string, prng *rng,
                sb_figure out[SB_SIGNS]) {
    for (int k = 0; k < SB_SIGNS; k++)
        out[k] = (sb_figure){0.0, 0.0};
    for (int k = 0; k < PLUCKS; k++) {
        const sb_series_fit o = pluck(f, b, string, false, rng);
        const sb_series_fit t = pluck(f, b, string, true, rng);
        const double beats = b->beats[string] * exp(0.4 * prng_normal(rng));
        out[SB_SIGN_ERROR].value += 1200.0 * (log2(t.sounding_hz / o.sounding_hz) - 1.0) / PLUCKS;
        out[SB_SIGN_ERROR].std_error =
            hypot(HAND_CENTS, hypot(o.sounding_std_cents, t.sounding_std_cents));
        out[SB_SIGN_INHARMONICITY].value += fmax(o.inharmonicity, 0.0) / PLUCKS;
        out[SB_SIGN_INHARMONICITY].std_error = o.inharmonicity_std;
        out[SB_SIGN_SCATTER].value += 0.5 * (o.scatter_cents + t.scatter_cents) / PLUCKS;
        out[SB_SIGN_BEATING].value += beats / PLUCKS;
    }
}

sb_figure signs_expected(const specimen *f, specimen_kind kind, size_t string) {
    const sb_wire_data data = {.material = kind == SPECIMEN_NYLON_FLAT ? SB_MATERIAL_NYLON
                                                                       : SB_MATERIAL_STEEL,
                               .wound = f->wound[string],
                               .gauge_mm = 25.4 * f->gauge_in[string]};
    sb_figure b = SB_NO_FIGURE;
    if (sb_wire_inharmonicity(&data, f->scale_mm, f->open_hz[string], &b.value, &b.std_error) !=
        SB_OK)
        return SB_NO_FIGURE;
    return b;
}

void signs_time_passes(specimen *f, prng *rng) {
    const double bow_mm = prng_uniform(rng, -0.15, 0.25), dirt = prng_uniform(rng, 0.0, 0.03);
    for (size_t i = 0; i < f->n_strings; i++) {
        strung_bow(&f->strings[i], bow_mm, f->scale_mm * (1.0 - exp2(-16.0 / 12.0)));
        f->strings[i].wire.unit_mass *= 1.0 + dirt * prng_uniform(rng, 0.7, 1.3);
        strung_tune(&f->strings[i], f->open_hz[i]);
    }
}
