/* surveyed: one string's survey, from what was read to what came of it.
 */
#ifndef SB_SURVEYED_H
#define SB_SURVEYED_H

#include "cli/take.h"
#include "core/frets.h"
#include "core/pitch.h"
#include "core/scl.h"
#include "core/survey.h"

#define SB_SURVEY_NAME_MAX  64
#define SB_SURVEY_FRETS_MAX (SB_FRETS_LAST + 1)

/* What all strings of one run have in common. */
typedef struct {
    bool has_scl; /* else equal temperament */
    sb_scl scl;
    double cents[SB_SURVEY_FRETS_MAX]; /* of each fret above the open string, to `last` */
    int last;
    bool asked[SB_SURVEY_FRETS_MAX]; /* which to play; [0] too */
    bool only_asked;
    double weight[SB_SURVEY_FRETS_MAX];
    double a4_hz;
} sb_survey_plan;

typedef struct {
    const char *source;            /* the recording or the file of readings; NULL = live */
    char name[SB_SURVEY_NAME_MAX]; /* "string 6, E2", "E2", or "" where nothing is known */
    int string;                    /* of the instrument, from 1; 0 = no instrument */
    const sb_survey_plan *plan;
    sb_survey_options options;
    bool kappa_told; /* from the string or by option, rather than what is usual */
    sb_survey_reading readings[SB_SURVEY_MAX]; /* rising with the fret */
    size_t n;
    size_t plucks[SB_SURVEY_MAX]; /* of each reading; 0 = not from sound */
    size_t left_out;              /* plucks that took no part */
    double open_hz;               /* 0 = not from sound */
    double inharmonicity;         /* B of the open plucks; 0 = not known */
    double inharmonicity_std_error;
    sb_survey survey;
} sb_surveyed;

/* The move that the repairer is asked for, positive back, away from the frets and the nut. */
double sb_surveyed_move_mm(const sb_surveyed *s, int part);

/* Whether more than the saddle is to be put right. */
bool sb_surveyed_beyond_saddle(const sb_surveyed *s);

/* What the i-th reading would be after what is proposed: the saddle's best move alone, or all
 * that was found put right where more than the saddle is at fault. */
double sb_surveyed_after(const sb_surveyed *s, size_t i);

/* "true", "saddle", "nut", "slot", "fret" or "undecided"; and of the parts, SB_PARTS a fret. */
const char *sb_survey_verdict_text(sb_survey_verdict verdict);
const char *sb_survey_part_text(int part);

/* Frets that would help to decide, of those not read; returns how many, at most 4. */
size_t sb_surveyed_play_too(const sb_surveyed *s, int frets[4]);

/* What is found, in one line, and what to do about it, in a paragraph or none. */
void sb_surveyed_headline(const sb_surveyed *s, char *text, size_t size);
void sb_surveyed_advice(const sb_surveyed *s, char *text, size_t size);

#endif
