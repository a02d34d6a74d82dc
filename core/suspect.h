/* suspect: which strings of an instrument depart from their neighbours and from their own past.
 *
 * A false string (dented, dirty, unevenly wound or worn) has partials that fit no stiff string's
 * series and that beat, another inharmonicity, and an octave error that its saddle cannot cure.
 * What the neck, the weather or the player's hand does, it does to all strings alike. So of each
 * sign a string's figure is held against the median of the others and, where it is known, against
 * its own past:
 *
 *   error          the change of the octave error since it was kept; without a past it tells
 * nothing inharmonicity  the logarithm of B over what core/wire.h expects of the gauge; over its
 * past scatter        the logarithm of the partials' departure from the series and SB_SCATTER_LEAST
 *   beating        likewise, and SB_BEATING_LEAST
 *
 * in units of what they are known to: the reading's error, that of the median, and how far sound
 * strings lie apart, the largest of SB_..._SPREAD and 1.4826 times the median absolute deviation of
 * the others (Hampel, J. Am. Stat. Assoc. 69, 383, 1974). A sign speaks against a string that is
 * beyond SB_SUSPECT_BESIDE of these from the others and SB_SUSPECT_SINCE from its past; where it
 * has none, beyond SB_SUSPECT_ALONE from the others, scatter, beating and inharmonicity only. More
 * scatter or beating than the others' is a sign, less is none.
 *
 * False alarms over 1200 simulated instruments (tests/test_suspect.c, which holds fewer to wider
 * bounds): of 6600 sound strings none with a past, 1 without; beside a false one 3 of 5400. Found:
 * of 1200 strings with a lump of 0.004 of their mass (the octave up to six cents false, as an ear
 * reads it) 1198 with a past, 1088 without; of 0.002 (two cents) with a past 1015. Spreads: scatter
 * (0.05 to 1.7 cents) and beating (0.03 to 0.9) of 38 recorded guitar notes (Debian package
 * freepats) as the ear reads them; the rest judgement, no source.
 */
#ifndef SB_SUSPECT_H
#define SB_SUSPECT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/instrument.h"

typedef enum {
    SB_SIGN_ERROR,         /* octave error, cents */
    SB_SIGN_INHARMONICITY, /* B of the open string */
    SB_SIGN_SCATTER,       /* of the partials about the series, cents */
    SB_SIGN_BEATING,       /* cents between the partials' two planes, by amplitude */
    SB_SIGNS
} sb_sign;

#define SB_SCATTER_LEAST 0.5 /* cents; less of it says nothing */
#define SB_BEATING_LEAST 0.3

#define SB_SUSPECT_BESIDE    2.0
#define SB_SUSPECT_SINCE     2.5
#define SB_SUSPECT_ALONE     3.0
#define SB_SUSPECT_FEWEST    3    /* other strings, to be held against */
#define SB_ERROR_SPREAD      0.5  /* cents */
#define SB_STIFFNESS_SPREAD  0.15 /* of ln B over what is expected */
#define SB_SCATTER_SPREAD    0.4  /* of the logarithms */
#define SB_BEATING_SPREAD    0.4
#define SB_STIFFNESS_REPEATS 0.1 /* the same of one string, from one day to another */
#define SB_SCATTER_REPEATS   0.2
#define SB_BEATING_REPEATS   0.4

/* A figure and its standard error; under 0: not known. 0 = exact. */
typedef struct {
    double value, std_error;
} sb_figure;

#define SB_NO_FIGURE ((sb_figure){0.0, -1.0})

typedef struct {
    sb_figure now[SB_SIGNS], was[SB_SIGNS];
    sb_figure expected; /* inharmonicity, by gauge, note and scale */
} sb_string_signs;

typedef struct {
    bool judged[SB_SIGNS];   /* there was enough to hold it against */
    bool signs[SB_SIGNS];    /* speaks against it */
    double beside[SB_SIGNS]; /* how far from the others, in the units above, signed */
    double since[SB_SIGNS];  /* and from its past; 0 where it has none */
    bool suspect;            /* any of them speaks against it */
} sb_suspicion;

/* Judges strings[0..n-1] of one instrument, n <= SB_STRINGS_MAX. Values must be finite. */
void sb_suspect(const sb_string_signs strings[], size_t n, sb_suspicion out[]);

/* "inharmonicity"; static storage. */
const char *sb_sign_text(sb_sign sign);

#endif
