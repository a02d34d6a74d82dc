/* published: figures of strings from the literature, as printed there.
 */
#ifndef SB_TESTS_PUBLISHED_H
#define SB_TESTS_PUBLISHED_H

#include <stdbool.h>
#include <stddef.h>

#define LB_PER_IN 17.857967322834646 /* kg/m */

/* Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1), 683 (2024): the tables of six sets of nylon
 * and carbon strings at 650 mm; setbacks and what remains for a nut 1 mm and a saddle 5 mm above
 * the crowns, frets 1 to 12, both ends one clamped and one pinned. */
typedef struct {
    const char *set, *note;
    double radius_mm, unit_mass_g_m, tension_n, r, r_std, over_pull, bend, modulus_gpa, saddle_mm,
        nut_mm, rms_cents;
} published_string;
#define PUBLISHED_STRINGS 36
extern const published_string published_strings[PUBLISHED_STRINGS];

/* Unit weights of strings as they are printed for the trade, lb/in; read in two places, alike. */
typedef struct {
    double gauge_in, lb_per_in;
} published_weight;
#define PUBLISHED_PLAIN 22
#define PUBLISHED_WOUND 33
extern const published_weight published_plain[PUBLISHED_PLAIN];
extern const published_weight published_wound[PUBLISHED_WOUND];

/* A steel set at 25.5 in with the cores of public design data, E = 203 GPa: figures computed
 * elsewhere from the formulae, with 30 digits. tension: the maker's, lb. */
typedef struct {
    const char *note;
    double gauge_in, core_in;
    bool wound;
    double lb_per_in, tension_n, over_pull, bend, inharmonicity, tension_lb;
    double hybrid_cents[3], hybrid_move_mm[3]; /* action at fret 12: 1.6, 2.0, 2.5 mm */
    double clamped_cents, clamped_move_mm;     /* 1.6 mm */
} published_steel;
#define PUBLISHED_STEEL 6
extern const published_steel published_steels[PUBLISHED_STEEL];

/* Byers, "Classical guitar intonation", American Lutherie 47 (1996), as a builder's page quotes
 * him: strings 1 to 6, clamped ends. */
typedef struct {
    const char *note;
    double nut_mm, saddle_mm;
} published_byers;
#define PUBLISHED_BYERS 6
extern const published_byers published_byer[PUBLISHED_BYERS];

/* Equal temperament at A4 = 440 Hz (ISO 16) for the notes above, computed here by repeated
 * twelfth roots from A4 and not by core/pitch. */
double published_hz(const char *note);

#endif
