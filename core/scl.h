/* scl: temperaments from Scala scale files (.scl), an open text format.
 *
 * As the format is published by its author (M. Op de Coul, "Scala scale file format"; the rules
 * below are from memory): lines that begin with '!' are comments, wherever they stand. Of the
 * others the first is a description, which may be empty; the second begins with the number of
 * notes, which may be 0; then each line begins with a pitch: with a decimal point it is in
 * cents (408.0, 408., -5.0), without one a ratio (81/64, 2). Spaces and tabs may precede it; what
 * follows it after a space or tab is ignored, as are lines after the last note. The first
 * note, 1/1, is not written; the last one is where the scale repeats. Ratios are positive.
 * Lines end in LF or CR LF. Stricter here: nothing but space, tab or '!' may follow a number
 * directly.
 */
#ifndef SB_SCL_H
#define SB_SCL_H

#include <stddef.h>

#include "core/status.h"

#define SB_SCL_NOTES_MAX 400
#define SB_SCL_TEXT_MAX  200      /* bytes of a description, NUL included; longer ones are cut */
#define SB_SCL_CENTS_MAX 100000.0 /* of any pitch, either way */

typedef struct {
    char description[SB_SCL_TEXT_MAX]; /* as it stood, in whatever encoding */
    size_t n;
    double cents[SB_SCL_NOTES_MAX]; /* above 1/1, as written: not always ascending */
} sb_scl;

/* Reads text[0..size-1]. *line, if wanted, receives the number of the line that is wrong, from 1
 * (behind the last where the file is too short). Errors: SB_E_SYNTAX; SB_E_RANGE (more notes
 * than SB_SCL_NOTES_MAX, or a pitch beyond SB_SCL_CENTS_MAX). */
SB_MUST_CHECK sb_status sb_scl_parse(const char *text, size_t size, sb_scl *out, size_t *line);

/* Writes it with all pitches in cents to a billionth, so that reading gives the same to that;
 * returns the bytes that the whole takes, the NUL not counted, as snprintf does. */
size_t sb_scl_format(const sb_scl *scale, char *text, size_t size);

/* The pitch of a degree >= 0 in cents above degree 0: the scale repeats at its last note. NaN
 * for a scale of no notes, but for degree 0. */
double sb_scl_degree_cents(const sb_scl *scale, int degree);

#endif
