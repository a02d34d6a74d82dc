/* survey_take: from the plucks of one string to a reading a fret.
 */
#ifndef SB_SURVEY_TAKE_H
#define SB_SURVEY_TAKE_H

#include "cli/surveyed.h"
#include "core/instrument.h"

typedef enum {
    SB_SORTED,
    SB_SORTED_NOTHING,  /* no usable pluck */
    SB_SORTED_OPEN,     /* the open string alone */
    SB_SORTED_NO_STRING /* no note can be the open string, or most lie at no fret asked for */
} sb_sorted;

/* What each reading of the take was sorted to. */
typedef struct {
    int fret[SB_TAKE_PLUCKS];          /* -1 = none */
    size_t count[SB_SURVEY_FRETS_MAX]; /* good plucks of each fret */
    double open_hz;
} sb_take_frets;

/* What the open string may be, in Hz; n 0 = anything. */
typedef struct {
    double hz[SB_STRINGS_MAX];
    size_t n;
} sb_open_notes;

/* Sorts the good readings. */
sb_sorted sb_survey_sort(const sb_take *take, const sb_survey_plan *plan, const sb_open_notes *open,
                         sb_take_frets *frets);

/* Loads a recording into the take and sorts it. 0, or the exit code with the failure reported. */
int sb_survey_load_take(const char *path, int channel, const sb_survey_plan *plan,
                        const sb_open_notes *open, sb_take *take, sb_take_frets *frets);

/* Combines the plucks of each fret against the open ones (core/interval.h): fills readings,
 * plucks, left_out and open_hz. Readings of one or two plucks have no standard
 * error. */
void sb_survey_combine(sb_surveyed *s, const sb_take *take, const sb_take_frets *frets);

/* Reports why a take cannot be surveyed and returns the exit code; path NULL = heard live. */
int sb_survey_complain(sb_sorted why, const sb_take *take, const char *path);

#endif
