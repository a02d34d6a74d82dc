/* joint: the strong partials of a note fitted together, with what they share.
 *
 * A string moves in two planes, and the bridge end is not equally stiff in both, so each
 * partial is two lines that lie a little apart: about the same number of cents for all of them,
 * since it is an end's correction to the length (Woodhouse, Acta Acust. united Ac. 90, 928,
 * 2004, section 4.3). Low partials beat too slowly to be told apart in a note's few seconds;
 * but the high ones say how far apart the two are, and with that known the low ones come apart
 * as well. The glide (see track.h) is shared in the same way. Unknown are therefore
 *     each partial: two complex amplitudes, two decays, one frequency,
 *     all together: the glide's amount and time scale, the cents between the two lines,
 * fitted to the samples of all bands by Gauss-Newton steps with Levenberg's damping; the
 * equations are an arrow, each partial's own block eliminated first. Frequencies come out with
 * the variance that the shared unknowns leave them.
 *
 * Internal to audio/. Pure computation: no allocation.
 */
#ifndef SB_JOINT_H
#define SB_JOINT_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/reading.h"
#include "audio/track.h"

/* How far apart two planes lie as a rule, a cent: relative. */
#define SB_PLANES_USUAL_APART 5.8e-4

/* What was found of two planes in the same tracks before: a second look, the bands cut anew, begins
 * there. All 0 before the first. */
typedef struct {
    bool none;           /* looked for, and not found */
    double apart;        /* by what part of the pitch the lines lie apart; 0 = not looked for */
    double moved, doubt; /* what another place, nearly as good, makes of all pitches: relative */
    sb_glide glide;      /* that they were found with */
    /* What each partial says against them, or against one line where there are none: minus twice
     * the logarithm of its evidence, NAN where it was not asked. */
    double against[SB_MAX_PARTIALS + 1];
} sb_planes;

/* Refines tracks[0..n-1], whose bands have *glide taken out, where a second line beside every
 * partial is by far the likelier account of them; else leaves all as it is and returns false.
 * When true, lines[0] of the tracks is that of the two which was the stronger at the pluck,
 * since_pluck_s before the note's first sample, and lines[1] the other, their
 * frequencies and errors are new, *glide is the better glide (the bands keep the old one taken
 * out), and tracks too weak to be among those fitted say how far they may be off. */
bool sb_joint_refine(sb_track tracks[], size_t n, double since_pluck_s, sb_planes *planes,
                     sb_glide *glide);

/* What both planes and the glide together are like, whatever either was taken for: planes bend the
 * phases by which a glide is told, and a glide told wrong hides the planes. By the partials that
 * stay in their bands even so, the low ones. False where there are too few. */
bool sb_joint_guess_glide(sb_track tracks[], size_t n, const sb_glide *present, sb_glide *guess);

/* Do planes that were found account better for the partials than what was found before, be that
 * planes or none? */
bool sb_planes_account_better(const sb_planes *planes, const sb_planes *before);

#endif
