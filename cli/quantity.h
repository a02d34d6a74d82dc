/* quantity: masses per length, forces and moduli with their units, as data sheets write them.
 *
 * 1 lbf = 4.4482216152605 N and 1 lb = 0.45359237 kg exactly (international pound, 1959).
 */
#ifndef SB_QUANTITY_H
#define SB_QUANTITY_H

#include <stdbool.h>

typedef enum {
    SB_UNIT_MASS, /* kg/m: g/m, kg/m, lb/in */
    SB_FORCE,     /* N: N, lbf or lb, kgf or kg */
    SB_MODULUS,   /* Pa: GPa, MPa, psi */
    SB_SPAN,      /* mm: a length of core/length.h with its unit */
    SB_OHMS,      /* ohm: ohm, kohm or k, Ω, kΩ */
} sb_quantity;

/* "0.374g/m", "16.2 lb", "8.33GPa"; the unit is required, in either case. False for what is no
 * such thing. */
bool sb_quantity_parse(const char *text, sb_quantity kind, double *value);

/* The units that it takes, for hints. */
const char *sb_quantity_units(sb_quantity kind);

#endif
