#include "tests/support/necks.h"

#include <math.h>

const int necks_default_frets[NECKS_DEFAULT_FRETS] = {1, 2, 3, 5, 7, 9, 12, 15, 17};

static double pitch(double tension, double mass, double length, double stiffness) {
    return sqrt(tension / mass) / length * (1.0 + stiffness / (sqrt(tension) * length));
}

/* Unit tension and mass for the open string; offsets of nut and saddle are absolute. */
static double error_at(const neck_string *s, double nut, double saddle, double slot, int fret) {
    const double from_nut = s->scale_mm * (1.0 - exp2(-fret / 12.0));
    const double open = hypot(s->scale_mm + nut + saddle, s->saddle_height_mm - slot);
    const double behind = hypot(from_nut + nut, slot);
    const double sounding = hypot(s->scale_mm - from_nut + saddle, s->saddle_height_mm);
    const double strain = (behind + sounding - open) / open;
    const double bending = s->stiffness * s->scale_mm;
    const double fretted = pitch(1.0 + s->kappa * strain, 1.0 / (1.0 + strain), sounding, bending);
    return 1200.0 * log2(fretted / pitch(1.0, 1.0, open, bending)) - 100.0 * fret;
}

/* Least squares over frets 1 to 17 in nut and saddle, the derivatives by differences; the
 * errors are so nearly straight in both that three turns do. */
void necks_settle(neck_string *s) {
    const double step = 1e-3;
    s->nut_mm = s->saddle_mm = 0.0;
    for (int turn = 0; turn < 5; turn++) {
        double nn = 0.0, ns = 0.0, ss = 0.0, ne = 0.0, se = 0.0;
        for (int fret = 1; fret <= 17; fret++) {
            const double e = error_at(s, s->nut_mm, s->saddle_mm, s->slot_mm, fret);
            const double n =
                (error_at(s, s->nut_mm + step, s->saddle_mm, s->slot_mm, fret) - e) / step;
            const double d =
                (error_at(s, s->nut_mm, s->saddle_mm + step, s->slot_mm, fret) - e) / step;
            nn += n * n;
            ns += n * d;
            ss += d * d;
            ne += n * e;
            se += d * e;
        }
        const double det = nn * ss - ns * ns;
        s->nut_mm -= (ss * ne - ns * se) / det;
        s->saddle_mm -= (nn * se - ns * ne) / det;
    }
}

neck_string necks_random(prng *rng) {
    neck_string s = {.scale_mm = prng_uniform(rng, 620.0, 660.0),
                     .kappa = exp(prng_uniform(rng, log(140.0), log(400.0))),
                     .stiffness = prng_uniform(rng, 1e-3, 3.3e-3),
                     .slot_mm = prng_uniform(rng, 0.2, 0.3)};
    const double action = prng_uniform(rng, 1.5, 2.1);
    s.saddle_height_mm = 2.0 * action - s.slot_mm;
    necks_settle(&s);
    return s;
}

double necks_error_cents(const neck_string *s, const neck_fault *f, int fret) {
    const double error = error_at(s, s->nut_mm + f->nut_mm, s->saddle_mm + f->saddle_mm,
                                  s->slot_mm + f->slot_mm, fret);
    return error + (fret == f->bad_fret ? f->bad_cents : 0.0);
}
