/* specs_parts: what the files behind specs.h share.
 */
#ifndef SB_SPECS_PARTS_H
#define SB_SPECS_PARTS_H

#include "cli/specs.h"

/* Judges every value by its band, the coils by each other, and evenness. */
sb_book_status sb_specs_judge(sb_book *book, sb_specs *specs);

/* Writes uneven12 and uneven17 in the unit of `specs`. */
void sb_specs_say_evenness(sb_specs *specs);

/* --- bands, in specs_bands.c -------------------------------------------------------------- */

#define SB_ANY_KIND "any"

/* "0.010in..0.012in", "..0.022in", "0.018in..", "3/32in", "none" (low is then NAN); lengths with
 * their unit, or resistances. False for what is none. */
bool sb_band_parse(const char *text, sb_spec_kind kind, sb_band *band);

/* The same in mm or ohm, as it is kept. */
void sb_band_format(const sb_band *band, sb_spec_kind kind, char *text, size_t size);

/* The setting that keeps a band; false where the names are too long. */
bool sb_band_setting(const char *kind, const char *key, char name[SB_SETTING_MAX]);

/* Finds the band of a spec: the shop's own for its kind of instrument, for any, or a shipped
 * one. */
sb_book_status sb_specs_find_band(sb_book *book, const sb_specs *specs, sb_spec *spec);

/* The shop's unit, SB_UNIT_MM where it has set none. */
#define SB_SETTING_UNIT "unit"
sb_book_status sb_specs_unit(sb_book *book, sb_spec_unit *unit);

/* A length with its unit, or a resistance; "open" is an open circuit. */
bool sb_spec_number_parse(const char *text, sb_spec_kind kind, double *value);

#endif
