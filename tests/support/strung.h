/* strung: one string of a fretted instrument, from its elasticity and geometry alone.
 *
 * Side view: x from where the nut should be towards the saddle, z above the plane of the
 * unworn fret crowns on a straight neck, both mm. A length `rest_mm` of unstretched string
 * lies between its two anchors. Pressing it down lengthens its path; tension is Hooke's,
 *     T = EA (stretched / rest - 1),
 * from the lengths themselves, and the same mass is spread over more length. A stiff string
 * of bending stiffness EI between ends that are pinned, clamped or between sounds at
 *     k l = n pi + ends atan(k / sqrt(k^2 + T/EI)),   2 pi f = k sqrt((T + EI k^2) / mu),
 * the exact roots of T y'' - EI y'''' = mu y_tt for 0, 1 and 2 clamped ends but for
 * tanh(l sqrt(T/EI)) = 1, which is true to the last bit here. To second order that is
 * Fletcher's, Anderson & Beausoleil's (J. Acoust. Soc. Am. 156(1), 683, 2024; one end
 * clamped) and Morse's series (both). Nothing here uses core/ or audio/.
 */
#ifndef SB_TESTS_STRUNG_H
#define SB_TESTS_STRUNG_H

#include <stdbool.h>

#define STRUNG_FRETS 12 /* frets 1 to 12 can be pressed */

typedef struct {
    double axial_n;      /* EA: newtons for each unit of strain */
    double bending_nmm2; /* EI */
    double unit_mass;    /* kg/m, unstretched */
    double clamped_ends; /* 0 to 2; 1.1 +- 0.2 measured by Anderson & Beausoleil */
    bool first_order;    /* f = sqrt(T/mu) (1 + ends b)/2l, b = sqrt(EI/T)/l: to check figures
                            worked so; fundamental only */
} wire;

/* A string that has this tension, linear density (kg/m) and kappa = d ln T / d ln length
 * (2R + 1 of Anderson & Beausoleil) when it is at pitch; no bending stiffness yet. */
wire wire_at(double tension_n, double kappa, double stretched_unit_mass);

/* Partial n under a tension, with a linear density as stretched. */
double wire_hz(const wire *w, double tension_n, double stretched_unit_mass, double length_mm,
               int n);

typedef struct {
    double x_mm, z_mm;
} side_point;

typedef struct {
    wire wire;
    side_point nut, saddle;             /* where the open string breaks over them */
    side_point crown[1 + STRUNG_FRETS]; /* where the pressed string leaves fret n; [0] unused */
    double finger_behind_mm;            /* of the crown; 0 = pressed down on it */
    double finger_below_mm;             /* how far below the line from saddle to crown */
    double beyond_mm; /* string behind nut and saddle that slides over them and so shares the
                         strain */
    double rest_mm;   /* unstretched, set by strung_tune */
} strung;

/* Frets where equal temperament puts them, all crowns at z = 0, nut and saddle at 0 and
 * scale_mm and at these heights. Not tuned. */
strung strung_on(const wire *w, double scale_mm, double nut_z_mm, double saddle_z_mm);

/* Tunes the open string. */
void strung_tune(strung *s, double open_hz);

/* What sounds at a fret, 0 = open; partial n. */
double strung_hz(const strung *s, int fret, int n);

/* The tension then, in N. */
double strung_tension_n(const strung *s, int fret);

/* Inharmonicity B of Fletcher's series at a fret: pi^2 EI / (T l^2). */
double strung_inharmonicity(const strung *s, int fret);

/* The fretted note over the open one, less the equal-tempered interval; sharp positive. */
double strung_error_cents(const strung *s, int fret);

/* That error with the saddle at x_mm and the open string at open_hz. */
double strung_error_at(const strung *s, double saddle_x_mm, double open_hz, int fret);

/* The saddle's x where the error at a fret is 0, the open string kept at open_hz. */
double strung_true_saddle_mm(const strung *s, double open_hz, int fret);

/* Bows the neck: the crowns sink by a parabola from the nut to end_x_mm, `relief_mm` deep in
 * its middle; height over a fret grows by as much. */
void strung_bow(strung *s, double relief_mm, double end_x_mm);

/* Wears a fret whose crown is an arc of radius_mm down by depth_mm: a flat of half-width
 * sqrt(2 radius depth) is left, and the string leaves it at `lean` of that half-width in front
 * of its middle, -1 to 1. */
void strung_wear(strung *s, int fret, double depth_mm, double radius_mm, double lean);

#endif
