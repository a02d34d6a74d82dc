/* whose: which string a note comes from, and whether open or fretted, by its pitch alone.
 *
 * Notes come in any order from an instrument that may be out of tune. A string is sought up
 * to SB_WHOSE_DETUNE_CENTS from its note; within that reach two strings may both be meant,
 * and often the next notes tell: the octave of one of them, or its own pitch again. So
 * several readings of all notes so far are carried along, each with what it costs (minus its
 * log likelihood): how far each string is out, how far a fretted note is from its octave, a
 * change of string, a string retuned. The cheapest SB_WHOSE_PATHS are kept (the M-algorithm:
 * Anderson & Mohan, IEEE Trans. Commun. 32, 169, 1984, from memory). A note is given out
 * once its share of the likelihood leaves little doubt; readings that have it otherwise are
 * then dropped, so that nothing given out changes again.
 *
 * Strings of one course in unison cannot be told apart by pitch: the first is taken unless
 * sb_whose_only says which is meant. The same holds for a string an octave above another.
 */
#ifndef SB_WHOSE_H
#define SB_WHOSE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/instrument.h"

#define SB_WHOSE_PATHS        48
#define SB_WHOSE_WAITING      16 /* notes not given out yet; the oldest then goes as no one's */
#define SB_WHOSE_DETUNE_CENTS 150.0
#define SB_WHOSE_SURE         0.98 /* share of the likelihood at which a note is given out */

typedef struct {
    size_t note;   /* counted from 0 in the order of sb_whose_hear */
    size_t string; /* from 1; 0 = none of this instrument's open or fretted notes */
    bool fretted;
    bool unsure; /* string 0 because it could not be decided */
} sb_whose_answer;

typedef struct {
    double cost;
    double open[SB_STRINGS_MAX], fretted[SB_STRINGS_MAX]; /* cents; NaN = not heard yet */
    double detune_sum;                                    /* of the strings heard open */
    int n_detuned;
    int8_t last;                     /* string of the last note, from 1; 0 = none */
    int8_t answer[SB_WHOSE_WAITING]; /* of waiting notes: string, negative = fretted, 0 = none */
} sb_whose_path;

/* Begin with sb_whose_begin; the members are its own. */
typedef struct {
    size_t n_strings;
    double target[SB_STRINGS_MAX]; /* cents from the reference */
    double interval_cents;
    size_t only;
    sb_whose_path paths[SB_WHOSE_PATHS];
    size_t n_paths;
    size_t heard;                     /* notes in all */
    size_t waiting[SB_WHOSE_WAITING]; /* their numbers */
    size_t n_waiting;
    bool finished;
} sb_whose;

/* fret: which fretted note is played, 1..36. */
void sb_whose_begin(sb_whose *whose, const sb_instrument *instrument, int fret, double a4_hz);

/* Only this string is plucked from now on, open or fretted; 0 = any. */
void sb_whose_only(sb_whose *whose, size_t string);

/* The string is known to have sounded at open_hz when open, as from an earlier session. */
void sb_whose_known(sb_whose *whose, size_t string, double open_hz);

/* A note was heard; hz > 0 and finite. Returns its number. */
size_t sb_whose_hear(sb_whose *whose, double hz);

/* The next note that is decided; false when there is none now. Notes may come out of order. */
bool sb_whose_next(sb_whose *whose, sb_whose_answer *answer);

/* No more notes come: those that wait are given out by sb_whose_next as likely as they are,
 * or as unsure. */
void sb_whose_finish(sb_whose *whose);

/* What a note would be taken for if it came now, without hearing it. */
sb_whose_answer sb_whose_guess(const sb_whose *whose, double hz);

#endif
