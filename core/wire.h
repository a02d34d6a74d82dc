/* wire: what a string is made of, in the figures that its pitch rests on.
 *
 * From gauge and plain or wound to unit mass, stretch (EA) and bending (EI); whatever is known
 * better stands in for the model. Each figure of the model has a standard error; what was
 * given counts as exact. T = m (2 S f)^2 (Mersenne; Taylor 1713) is the tension at pitch over
 * the nominal scale, as string makers print it.
 *
 *   steel, plain   density 7806 kg/m3 (0.3 %), which a maker's published unit weights of .007 to
 *                  .026 in imply; gauge 1 % (from memory)
 *   steel, wound   m = pi/4 7806 c^2 + pi^2/16 7950 (d^2 - c^2): a close helix of round wire on
 *                  a core c; within 2.4 %, 1.3 % RMS, of that maker's 33 published weights of
 *                  nickel round-wound .017 to .080 in (2 % is counted on)
 *   its core       c = 0.57 d for thin strings, then 0.0115 in + 0.1 d, and 0.17 more for each d
 *                  over 0.046 in: within 8 % of the three published pairs .026/.014, .036/.014,
 *                  .046/.016 in, and through a low B0's inharmonicity (Kemp, SN Appl. Sci. 2, 636,
 *                  2020, taken for .130 in); 10 % is counted on, 15 % over .060 in. What B says is
 *                  better
 *   bronze         the same core, wound with 8800 kg/m3 (from memory)
 *   modulus        203 GPa (public design data; tables have 190 to 207: 3.5 %)
 *   nylon          972 kg/m3 over the printed gauge (3 %) and EA/T = 61 (25 %); wound
 *                  4.29 g/m (d/mm)^2.665 (3.5 %) and EA/T = 51 (9 %)
 *   fluorocarbon   1610 kg/m3 (1 %) and EA/T = 49.5 (8 %); its wound strings are nylon's
 *                  (means and scatter of the 36 strings of Anderson & Beausoleil, J. Acoust. Soc.
 *                  Am. 156(1), 683, 2024)
 *   gut            1300 kg/m3 (5 %), 6 GPa (25 %) (from memory); wound as nylon, 10 %
 *
 * Polymers stiffen as they are stretched, so EA/T is steadier between strings than E. Their EI
 * is that of the full radius, wound strings too (their ansatz); a wound one's bending is known
 * to 32 % only (their 0.47 +- 0.15), and Woodhouse (Acta Acustica 90, 928, 2004) has 1.5 to 2.3
 * times less: a measured B is better.
 *
 * A measured inharmonicity gives EI = B T S^2/pi^2 (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964)
 * and with the modulus the core of a wound steel string, c^4 = 64 EI/(pi E), hence EA; that the
 * winding bends too is counted as 5 % of EI (no source). A plain string's core is its gauge, and
 * polymers bend stiffer than they stretch: there B replaces EI alone.
 */
#ifndef SB_WIRE_H
#define SB_WIRE_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

typedef enum {
    SB_MATERIAL_STEEL,
    SB_MATERIAL_BRONZE, /* steel, the wound strings in bronze */
    SB_MATERIAL_NYLON,
    SB_MATERIAL_FLUOROCARBON,
    SB_MATERIAL_GUT,
    SB_MATERIALS
} sb_material;

/* What a prediction may be unsure of. */
typedef enum {
    SB_UNSURE_MASS,    /* density or winding */
    SB_UNSURE_CORE,    /* its diameter; of a plain string the gauge's */
    SB_UNSURE_STRETCH, /* modulus, or EA/T */
    SB_UNSURE_BENDING, /* EI where it does not follow from core and modulus */
    SB_UNSURE_ENDS,    /* the end condition: see core/fretted.h */
    SB_UNSURES
} sb_unsure;

typedef enum { SB_FROM_MODEL, SB_FROM_DATA, SB_FROM_READING } sb_origin;

/* What is known of a string; 0 = not known. */
typedef struct {
    sb_material material;
    bool wound;
    double gauge_mm;       /* 0.05..5 */
    double unit_mass_kg_m; /* 1e-5..0.1; */
    double tension_n;      /* at pitch, in place of the unit mass; 1..2000 */
    double core_mm;        /* 0.05..5, at most the gauge */
    double modulus_pa;     /* 1e8..1e12, of the core: EA = modulus * area of the core */
    double inharmonicity;  /* measured, B of f_n = n f0 sqrt(1 + B n^2); under 0.1 */
    double inharmonicity_std_error;
} sb_wire_data;

typedef struct {
    double unit_mass_kg_m, core_mm, modulus_pa;
    double stretch_n;     /* EA */
    double bending_nm2;   /* EI */
    double tension_n;     /* m (2 S f)^2 */
    double inharmonicity; /* pi^2 EI/(T S^2) */
    sb_origin mass_from, core_from, stretch_from, bending_from;
} sb_wire;

/* "steel", "bronze", ...; static storage. */
const char *sb_material_text(sb_material material);

/* The string at `hz` over scale_mm (100..2000). shift[SB_UNSURES] moves each unsure figure by so
 * many of its standard errors; NULL for none.
 * Errors: SB_E_UNDETERMINED (neither gauge nor what could stand in for it), SB_E_RANGE (a figure
 * out of its range, a core thicker than the string, a measured B that asks for one). */
SB_MUST_CHECK sb_status sb_wire_make(const sb_wire_data *data, double scale_mm, double hz,
                                     const double shift[], sb_wire *out);

/* The inharmonicity that the data let expect, and its standard error: each unsure figure moved by
 * its own, either way. Errors: as sb_wire_make. */
SB_MUST_CHECK sb_status sb_wire_inharmonicity(const sb_wire_data *data, double scale_mm, double hz,
                                              double *b, double *std_error);

#endif
