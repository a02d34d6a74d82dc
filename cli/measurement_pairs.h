/* measurement_pairs: the second estimate of a measured octave, by partials at the same pitch.
 */
#ifndef SB_MEASUREMENT_PAIRS_H
#define SB_MEASUREMENT_PAIRS_H

#include "cli/measurement.h"

/* Sets m->by_pairs by core/paired.h, from m's interval, its sides and the plucks that count; not
 * known at another fret than the 12th, or with too few pairs. A partial counts by how far it
 * stands from its own pluck's pitch, all plucks of a side together, so a hand's scatter and a
 * drift that was taken out move both estimates alike. Partials with hum or another string on
 * them, or too weak, are not used; pulled ones are, being what it is for.
 *
 * Returns the standard error to give the interval: its own, or where the two disagree by more
 * than twice their errors that with half the difference in quadrature, for which of them is right
 * cannot be told. */
double sb_measurement_pairs(const sb_task *task, sb_measurement *m);

#endif
