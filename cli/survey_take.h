/* survey_take: from the plucks of one string to a reading a fret.
 */
#ifndef SB_SURVEY_TAKE_H
#define SB_SURVEY_TAKE_H

#include "cli/surveyed.h"

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

/* Sorts the good readings; open_hz[0..n_open-1] is what the open string may be (0 = anything). */
sb_sorted sb_survey_sort(const sb_take *take, const sb_survey_plan *plan, const double open_hz[],
                         size_t n_open, sb_take_frets *frets);

/* Combines the plucks of each fret against the open ones (core/interval.h): fills readings,
 * plucks, left_out and open_hz. Readings of one or two plucks have no standard
 * error. */
void sb_survey_combine(sb_surveyed *s, const sb_take *take, const sb_take_frets *frets);

/* Reports why a take cannot be surveyed and returns the exit code; path NULL = heard live. */
int sb_survey_complain(sb_sorted why, const sb_take *take, const char *path);

#endif
