/* survey_explain: the sets of faults that may explain a string's readings. Internal to the
 * survey, whose header says how they are judged.
 */
#ifndef SB_SURVEY_EXPLAIN_H
#define SB_SURVEY_EXPLAIN_H

#include "core/survey_bad.h"

#define SB_SIGNIFICANT  0.01 /* chance of a part that is not out, and of a sound fit refused */
#define SB_EXPLANATIONS (1 << SB_PARTS)
#define SB_MAIN_FRET    SB_PARTS
#define SB_MAIN_NONE    (-1)

/* One set of faults, fitted, with its own bad frets. */
typedef struct {
    bool possible;  /* else the readings do not determine it */
    unsigned parts; /* of 1 << SB_PART_... */
    bool out[SB_SURVEY_MAX];
    sb_survey_fit fit;
    double score; /* chi-squared and what is paid for parts and frets; the least is best */
    double worst_cents[SB_PARTS]; /* the largest error that each part makes at a fret read */
    int main;          /* the part with the largest of these, SB_MAIN_FRET or SB_MAIN_NONE */
    double size_cents; /* and that error */
} sb_explanation;

/* `parts` and, with a slot, kappa as the set for sb_survey_fit_free. */
unsigned sb_survey_free_of(unsigned parts);

/* Each part's largest error alone at the frets read. */
void sb_survey_worst(const sb_survey_data *data, const sb_survey_fit *fit,
                     double worst_cents[SB_PARTS]);

/* Fits all sets; data->out is left as the last one had it. */
void sb_survey_explain(sb_survey_data *data, const sb_survey_surety *surety,
                       sb_explanation sets[SB_EXPLANATIONS]);

/* Where the readings' errors are not known, or they scatter beyond these: learns the scatter
 * from the fit that departs least, adds it in quadrature and says so in *surety. With too few
 * readings all is left as it is. */
void sb_survey_learn(sb_survey_data *data, sb_survey_surety *surety);

/* chi-squared of the readings not out about a fit, a scatter common to all being added to the
 * errors that they came with. */
double sb_survey_chi2(const sb_survey_data *data, const sb_survey_fit *fit, const bool out[],
                      double scatter_cents);

#endif
