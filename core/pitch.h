/* pitch: cents, frequency ratios, note names and fret ratios.
 *
 * The cent is 1/1200 octave: cents = 1200 log2(f2/f1) (Ellis 1885; IEC 60050-801, from memory).
 * Reference pitch A4 = 440 Hz by ISO 16:1975; frets by equal temperament, 2^(n/12).
 */
#ifndef SB_PITCH_H
#define SB_PITCH_H

#include <stddef.h>

#include "core/status.h"

#define SB_A4_HZ         440.0              /* ISO 16:1975 */
#define SB_CENTS_PER_LN  1731.2340490667561 /* 1200 / ln 2 */
#define SB_TWO_PI        6.283185307179586  /* radians in a cycle */
#define SB_NOTE_TEXT_MAX 8                  /* bytes for any formatted note, NUL included */

/* Interval from hz_from up to hz_to in cents. Both must be > 0 and finite; otherwise NaN. */
double sb_cents_between(double hz_from, double hz_to);

/* Frequency ratio of an interval in cents: 2^(cents/1200). */
double sb_ratio_from_cents(double cents);

/* Frequency ratio of the note at a fret over the open string: 2^(fret/12). */
double sb_fret_ratio(int fret);

/* A note name in scientific pitch notation, "E2", "F#3", "Bb1" (letter in either
 * case, up to two # or up to two b, octave -1 to 9), as a MIDI-style semitone number
 * with C-1 = 0, A4 = 69. No spaces.
 * Errors: SB_E_SYNTAX (not a note name), SB_E_RANGE (outside C-1..B9, or more than one digit). */
SB_MUST_CHECK sb_status sb_note_parse(const char *text, int *semitone);

/* Writes the name of a semitone number, sharps only ("F#3"), at most `size` bytes. */
void sb_note_format(int semitone, char *text, size_t size);

/* Frequency of a semitone number for a given A4 in Hz. */
double sb_note_hz(int semitone, double a4_hz);

/* The semitone nearest to hz for a given A4, and how far hz lies above it in cents
 * (-50..+50; cents_off may be NULL). Both > 0 and finite; otherwise 0 and NaN. */
int sb_note_nearest(double hz, double a4_hz, double *cents_off);

#endif
