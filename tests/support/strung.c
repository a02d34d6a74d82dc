#include "tests/support/strung.h"

#include <math.h>

#define PI         3.14159265358979323846
#define MM_PER_M   1000.0
#define ITERATIONS 8  /* of a fixed point that gains two digits or more in each */
#define TUNINGS    16 /* of one that gains one or more */

wire wire_at(double tension_n, double kappa, double stretched_unit_mass) {
    const double axial = tension_n * (kappa - 1.0);
    return (wire){.axial_n = axial,
                  .unit_mass = stretched_unit_mass * (1.0 + tension_n / axial),
                  .clamped_ends = 1.0};
}

double wire_hz(const wire *w, double tension_n, double stretched_unit_mass, double length_mm,
               int n) {
    const double speed = MM_PER_M * sqrt(tension_n / stretched_unit_mass);
    if (w->first_order) {
        const double b = sqrt(w->bending_nmm2 / tension_n) / length_mm;
        return n * speed / (2.0 * length_mm) * (1.0 + w->clamped_ends * b);
    }
    double k = n * PI / length_mm;
    const double bending = w->bending_nmm2 / tension_n; /* mm^2 */
    for (int i = 0; i < ITERATIONS; i++)
        k = (n * PI + w->clamped_ends * atan(k * sqrt(bending / (1.0 + bending * k * k)))) /
            length_mm;
    return k * speed * sqrt(1.0 + bending * k * k) / (2.0 * PI);
}

strung strung_on(const wire *w, double scale_mm, double nut_z_mm, double saddle_z_mm) {
    strung s = {.wire = *w, .nut = {0.0, nut_z_mm}, .saddle = {scale_mm, saddle_z_mm}};
    for (int n = 1; n <= STRUNG_FRETS; n++)
        s.crown[n].x_mm = scale_mm * (1.0 - pow(2.0, -n / 12.0));
    return s;
}

static double apart(side_point a, side_point b) {
    return hypot(b.x_mm - a.x_mm, b.z_mm - a.z_mm);
}

/* Where the finger holds the string: behind the crown, on the line from the saddle over it
 * or below that. */
static side_point finger_at(const strung *s, int fret) {
    const side_point crown = s->crown[fret];
    const double slope = (s->saddle.z_mm - crown.z_mm) / (s->saddle.x_mm - crown.x_mm);
    return (side_point){crown.x_mm - s->finger_behind_mm,
                        crown.z_mm - slope * s->finger_behind_mm - s->finger_below_mm};
}

static double speaking_mm(const strung *s, int fret) {
    return apart(fret == 0 ? s->nut : s->crown[fret], s->saddle);
}

static double stretched_mm(const strung *s, int fret) {
    double path = speaking_mm(s, fret) + s->beyond_mm;
    if (fret > 0 && s->finger_behind_mm > 0.0) {
        const side_point finger = finger_at(s, fret);
        path += apart(s->nut, finger) + apart(finger, s->crown[fret]);
    } else if (fret > 0) {
        path += apart(s->nut, s->crown[fret]);
    }
    return path;
}

void strung_tune(strung *s, double open_hz) {
    const double length = speaking_mm(s, 0);
    double tension = s->wire.unit_mass * pow(2.0 * length * open_hz / MM_PER_M, 2.0);
    for (int i = 0; i < TUNINGS; i++) {
        const double mass = s->wire.unit_mass / (1.0 + tension / s->wire.axial_n);
        tension *= pow(open_hz / wire_hz(&s->wire, tension, mass, length, 1), 2.0);
    }
    s->rest_mm = stretched_mm(s, 0) / (1.0 + tension / s->wire.axial_n);
}

double strung_tension_n(const strung *s, int fret) {
    return s->wire.axial_n * (stretched_mm(s, fret) / s->rest_mm - 1.0);
}

double strung_hz(const strung *s, int fret, int n) {
    const double mass = s->wire.unit_mass * s->rest_mm / stretched_mm(s, fret);
    return wire_hz(&s->wire, strung_tension_n(s, fret), mass, speaking_mm(s, fret), n);
}

double strung_inharmonicity(const strung *s, int fret) {
    const double length = speaking_mm(s, fret);
    return PI * PI * s->wire.bending_nmm2 / (strung_tension_n(s, fret) * length * length);
}

double strung_error_cents(const strung *s, int fret) {
    return 1200.0 * log2(strung_hz(s, fret, 1) / strung_hz(s, 0, 1)) - 100.0 * fret;
}

double strung_error_at(const strung *s, double saddle_x_mm, double open_hz, int fret) {
    strung there = *s;
    there.saddle.x_mm = saddle_x_mm;
    strung_tune(&there, open_hz);
    return strung_error_cents(&there, fret);
}

double strung_true_saddle_mm(const strung *s, double open_hz, int fret) {
    double low = s->crown[fret].x_mm + 0.8 * (s->saddle.x_mm - s->crown[fret].x_mm);
    double high = s->crown[fret].x_mm + 1.2 * (s->saddle.x_mm - s->crown[fret].x_mm);
    for (int i = 0; i < 60; i++) {
        const double middle = 0.5 * (low + high);
        if (strung_error_at(s, middle, open_hz, fret) > 0.0)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

void strung_bow(strung *s, double relief_mm, double end_x_mm) {
    for (int n = 1; n <= STRUNG_FRETS; n++) {
        const double part = s->crown[n].x_mm / end_x_mm;
        if (part > 0.0 && part < 1.0)
            s->crown[n].z_mm -= 4.0 * relief_mm * part * (1.0 - part);
    }
}

void strung_wear(strung *s, int fret, double depth_mm, double radius_mm, double lean) {
    s->crown[fret].z_mm -= depth_mm;
    s->crown[fret].x_mm += lean * sqrt(2.0 * radius_mm * depth_mm);
}
