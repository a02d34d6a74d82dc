/* length: the lengths that the trade writes, in and out.
 *
 * Millimetres inside, always; 1 in = 25.4 mm exactly (international inch, 1959).
 */
#ifndef SB_LENGTH_H
#define SB_LENGTH_H

#include <stddef.h>

#include "core/status.h"

#define SB_MM_PER_INCH     25.4
#define SB_MM_PER_64TH     (25.4 / 64.0)
#define SB_LENGTH_TEXT_MAX 48 /* bytes for any formatted length, NUL included */

/* Parses a length with its unit: "648mm", "64.8cm", "0.648m", "25.5in", "25 1/2in",
 * "25-1/2\"", "25½″", "41/64in", "4.5/64in", "4½/64 in", "12thou", "-1.2mm". Units: mm, cm, m,
 * in, inch, inches, ", ″, ”, '', thou, in either case. A fraction after a whole number is
 * proper (under 1) and stands behind a space, a hyphen without spaces, or, as one
 * character, behind nothing. The unit is required unless `bare_unit_mm` > 0, which is then
 * what a bare number counts in. Spaces around the number and the unit are allowed; the
 * decimal point is '.', whatever the locale. `mm` is finite on success.
 * Errors: SB_E_SYNTAX (not a length, a unit missing, a zero denominator),
 * SB_E_RANGE (not finite, or beyond 10 m either way). */
SB_MUST_CHECK sb_status sb_length_parse(const char *text, double bare_unit_mm, double *mm);

/* "1.71 mm", to `decimals` places (held to 0..6), never "-0.00 mm"; parsing it gives the
 * rounded number back exactly. At most 10 m either way; beyond, or for NaN, "n/a". */
void sb_length_format_mm(double mm, int decimals, char *text, size_t size);

/* Sixty-fourths of an inch as a ruler reads them, to the nearest half: "4½/64 in",
 * "0/64 in", "-3/64 in"; UTF-8. The sign is kept. At most 10 m either way; else "n/a". */
void sb_length_format_64ths(double mm, char *text, size_t size);

#endif
