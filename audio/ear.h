/* ear: reads the pitch of one pluck from its settled part.
 *
 * Method: (0) mains hum that the room before the note betrays, and that goes on through it, is
 * taken out (hum.h); (1) a series of stiff-string partials is recognised in a windowed spectrum
 * (coarse.h); (2) each partial is cut out as a narrow band and fitted with damped lines,
 * weights from the noise measured round it (track.h, lines.h); (3) the pitch glide after
 * the pluck, common to all partials, is fitted to their phases and taken out (track.h);
 * (4) f0 and B come from a robust weighted fit over the partials (series.h); (5) with the
 * note continued beyond its ends by what was found, so that the bands reach from end to end,
 * the partials are measured once more (ear_parts.h). Where nothing but noise disturbs, the
 * result stays close to the Cramer-Rao bound of the model (Rife & Boorstyn 1974; Christensen &
 * Jakobsson, Multi-Pitch Estimation, 2009).
 *
 * The figure reported is the sounding fundamental f0 sqrt(1 + B) of the fit over all
 * partials that carry the pitch, not partial 1 alone: partial 1 is the one that a body
 * resonance pulls most, while the pitch that is heard follows the partials of the
 * dominance region, about numbers 3 to 5 and 500 to 2000 Hz (Plomp, J. Acoust. Soc. Am.
 * 41, 1526, 1967; Ritsma, J. Acoust. Soc. Am. 42, 191, 1967).
 */
#ifndef SB_EAR_H
#define SB_EAR_H

#include <stddef.h>

#include "audio/reading.h"
#include "core/status.h"

#define SB_EAR_LOWEST_HZ    27.0
#define SB_EAR_HIGHEST_HZ   1400.0
#define SB_EAR_WINDOW_MAX_S 4.2

typedef struct sb_ear sb_ear;

/* What is known round the note; every member may be left zero. */
typedef struct {
    const float *room; /* sound just before the pluck, at the same rate; hum shows there */
    size_t n_room;
    size_t n_between; /* samples between the room's last and the note's first */
} sb_ear_scene;

/* Makes an ear for sound at rate_hz, fundamentals from lowest_hz to highest_hz (0 = the
 * defaults above). Release with sb_ear_free. Errors: SB_E_RANGE, SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_ear_new(double rate_hz, double lowest_hz, double highest_hz,
                                   sb_ear **out);
void sb_ear_free(sb_ear *ear);

/* Reads one note from samples[0..n-1], which begin after the attack; at most
 * SB_EAR_WINDOW_MAX_S of them are used. Always fills *out: what cannot be measured says so
 * in out->fault. start_s is left 0. Allocates nothing. No NaN or infinity comes out, for
 * any input. */
void sb_ear_read(sb_ear *ear, const float samples[], size_t n, const sb_ear_scene *scene,
                 sb_reading *out);

#endif
