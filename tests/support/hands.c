#include "tests/support/hands.h"

#include <math.h>

#define FRET     12
#define RULER_MM 0.1

hands hands_usual(uint64_t seed) {
    return (hands){.rng = prng_seeded(seed),
                   .move_mm = 0.1,
                   .move_ratio = 1.0,
                   .pluck_cents = 0.3,
                   .ear_cents = 0.03,
                   .tune_cents = 1.5};
}

hands hands_exact(void) {
    return (hands){.move_ratio = 1.0};
}

static double raised(double hz, double cents) {
    return hz * pow(2.0, cents / 1200.0);
}

void hands_pluck(hands *h, const specimen *f, size_t string, size_t n, hands_note out[]) {
    for (size_t i = 0; i < 2 * n; i++) {
        const bool fretted_one = i % 2 == 1;
        const double settled = strung_hz(&f->strings[string], fretted_one ? FRET : 0, 1);
        const double hz = raised(settled, h->pluck_cents * prng_normal(&h->rng));
        out[i] = (hands_note){fretted_one, hz, raised(hz, h->ear_cents * prng_normal(&h->rng))};
    }
}

void hands_tune(hands *h, specimen *f, size_t string) {
    strung_tune(&f->strings[string],
                raised(f->open_hz[string], h->tune_cents * prng_normal(&h->rng)));
}

double hands_move(hands *h, specimen *f, size_t saddle, size_t end, double asked_mm) {
    const double thread = f->saddles[saddle].ends[end].thread_mm;
    const double step = thread > 0.0 ? thread / 8.0 : RULER_MM;
    const double meant = h->move_mm > 0.0 ? step * round(asked_mm / step) : asked_mm;
    if (meant == 0.0)
        return 0.0;
    specimen_move(f, saddle, end, h->move_ratio * meant + h->move_mm * prng_normal(&h->rng));
    return meant;
}
