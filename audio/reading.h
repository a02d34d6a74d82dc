/* reading: what the ear says of one pluck.
 *
 * The sound is modelled as a damped stiff string,
 *     f_n(t) = n f0 sqrt(1 + B n^2) (1 + g(t)),   g(t) -> 0 as the note dies,
 * (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964), each partial with its own amplitude,
 * phase and decay. The figure compared between notes is the sounding fundamental
 * f0 sqrt(1 + B), as the fit over the partials gives it.
 */
#ifndef SB_READING_H
#define SB_READING_H

#include <stdbool.h>
#include <stddef.h>

#define SB_MAX_PARTIALS 48

typedef enum {
    SB_PLUCK_GOOD = 0,
    SB_PLUCK_TOO_SHORT,    /* damped or re-plucked before it could be measured */
    SB_PLUCK_TOO_QUIET,    /* not far enough above the room's noise */
    SB_PLUCK_CLIPPED,      /* the input overloaded through the measured part */
    SB_PLUCK_MANY_STRINGS, /* more than one string sounding */
    SB_PLUCK_UNSTEADY,     /* pitch not steady: a slide, a bend, a loose string */
    SB_PLUCK_NO_PITCH,     /* a tap, buzz or noise without a string's partials */
    SB_PLUCK_HUM,          /* nothing clearer than the mains' hum, as when a lead is plugged in */
    SB_PLUCK_DROPPED       /* the capture lost samples within the note */
} sb_pluck_fault;

/* Whether a string was heard at all, though it may not have been measured. */
bool sb_pluck_is_string(sb_pluck_fault fault);

/* A short noun phrase for a fault ("too quiet"), never NULL; static storage. */
const char *sb_pluck_fault_text(sb_pluck_fault fault);

/* Why a partial has less than its full weight in the pitch; a set of flags. */
typedef enum {
    SB_PARTIAL_PULLED = 1,       /* off the stiff-string series: a body or neck resonance */
    SB_PARTIAL_HUM = 2,          /* a mains harmonic lies on it */
    SB_PARTIAL_OTHER_STRING = 4, /* another string's partial lies near it */
    SB_PARTIAL_BEATING = 8,      /* its two polarisations beat */
    SB_PARTIAL_WEAK = 16         /* too near the noise to help */
} sb_partial_flag;

typedef struct {
    int number;             /* n, 1 = fundamental */
    double hz;              /* settled frequency */
    double std_error_cents; /* of hz, from the noise measured around it */
    double level_dbfs;      /* at the start of the measured part */
    double decay_per_s;     /* amplitude falls as exp(-decay t) */
    double departure_cents; /* from the fitted series, sharp positive */
    double weight;          /* share in the pitch, 0..1, all partials together 1 */
    unsigned flags;         /* sb_partial_flag */
} sb_partial;

typedef struct {
    sb_pluck_fault fault;          /* SB_PLUCK_GOOD: all below hold; else only start_s,
                                      length_s, level_dbfs and, where known (> 0), hz do */
    double start_s;                /* attack, from the start of the recording */
    double length_s;               /* of the part that was measured */
    double hz;                     /* sounding fundamental, f0 sqrt(1 + B) */
    double octave_partial_hz;      /* 2 f0 sqrt(1 + 4B): the touched 12th-fret harmonic */
    double std_error_cents;        /* of hz: noise, scatter of partials and beating together */
    double common_std_error_cents; /* the part of it that shifts all partials alike: the glide's
                                      and an overload's */
    double inharmonicity;          /* B, >= 0 */
    double inharmonicity_std_error;
    double glide_cents;   /* how far above the settled pitch the note began; 0 if none seen */
    double level_dbfs;    /* RMS of the measured part, re full scale */
    double snr_db;        /* partials' power over the noise between them, measured part */
    double scatter_cents; /* weighted RMS departure of partials from the series */
    double beating_cents; /* how far apart the partials' two planes lie, times the ratio of their
                             amplitudes (0..1), by the partials' weights; 0 = no beat heard */
    double mains_hz;      /* 50 or 60 where hum was recognised, else 0 */
    bool mended;          /* overloaded for most of it, and read with its overloads filled in */
    bool still_sounding;  /* an early reading: the note goes on, a finer one may follow */
    size_t n_partials;
    sb_partial partials[SB_MAX_PARTIALS]; /* ascending number */
} sb_reading;

#endif
