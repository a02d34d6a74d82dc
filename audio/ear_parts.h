/* ear_parts: what the files of the ear share. sb_ear_read (ear.h, ear.c) judges and is all that
 * others call; ear_which.c finds the string that sounds, ear_octave.c tells it from those at
 * multiples and parts of its pitch, ear_measure.c measures it, ear_steady.c sees whether it comes
 * to rest, ear_ends.c and ear_clip.c fill in what the recording lacks of it, ear_report.c writes
 * the reading.
 *
 * Internal to audio/ear*.c.
 */
#ifndef SB_EAR_PARTS_H
#define SB_EAR_PARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/clip.h"
#include "audio/coarse.h"
#include "audio/cpx.h"
#include "audio/ear.h"
#include "audio/hum.h"
#include "audio/joint.h"
#include "audio/series.h"
#include "audio/track.h"

/* The partials of recorded notes scatter by 0.9 cent about their series at most; one in fifty is
 * pulled by more than 8 cents, one by 17. */
#define SB_EAR_USUAL_SCATTER_CENTS 1.0
#define SB_EAR_MOST_PULLED_CENTS   17.0
#define SB_EAR_PULLED_TO           3 /* the highest number that is pulled far */
#define SB_EAR_POOR_SCATTER_CENTS  3.0
#define SB_EAR_MOST_SCATTER_CENTS  6.0

/* The least B of any string's; that one is less, or more, is told by so many standard errors. */
#define SB_EAR_LEAST_STIFFNESS  5e-6
#define SB_EAR_STIFFNESS_SIGMAS 4.0

/* Power of the partials between every k-th, over that of these, that a string's own have. */
#define SB_EAR_LEAST_BETWEEN      0.03
#define SB_EAR_LEAST_BETWEEN_HIGH 0.1 /* every 3rd or a higher one, all but alone, is no string */

/* What dies faster is the rest of the attack, not a string. */
#define SB_EAR_FASTEST_PER_S 60.0

/* At the pluck; a hard one has 20: more is a bend or a misfit, even where it is told with a doubt.
 */
#define SB_EAR_LARGEST_GLIDE_CENTS 25.0

/* So many partials that are not heard, one after another, are the end of a series. */
#define SB_EAR_GIVE_UP_AFTER 6

#define SB_EAR_PATHS 10

/* A measured string, as far as its partials go. */
struct heard {
    sb_track tracks[SB_MAX_PARTIALS];
    sb_series_point points[SB_MAX_PARTIALS];
    size_t n_tracks;
    sb_glide glide;
    sb_glide taken_out; /* of the bands: `glide`, but for what the joint fit made of it since */
    sb_planes planes;
    double hidden_std; /* of the pitch, relative: a glide that other strings may hide, or feign */
};

/* One line of a note at a moment. */
struct moment {
    sb_cpx value; /* whose real part sounds */
    double hz, growth_per_s;
};

/* How far a partial runs ahead of its settled frequency, the glide that was told taken out. */
struct path {
    const sb_track *track;
    size_t n; /* samples, up to where it is heard */
    double t0_s, step_s;
    double noise; /* variance of ahead_s[] times power[] */
    double ahead_s[SB_BAND_MAX], power[SB_BAND_MAX];
};

struct sb_ear {
    double rate_hz, lowest_hz, highest_hz;
    size_t window_max;
    sb_spectrum *spectrum;
    sb_coarse *coarse;
    sb_hum hum;
    sb_hum_lines hum_lines; /* taken out of what is measured; none where they are not known */
    double hum_after_s;     /* from the room's end to the first sample of that */
    struct heard now, kept;
    struct path paths[SB_EAR_PATHS]; /* see ear_steady.c */
    float *before, *after;           /* of the note, beyond_max samples each: see sb_ear_see_ends */
    size_t beyond_max;
    float *mended; /* a note whose overloads are filled in, window_max samples: see ear_clip.c */
    float *quiet;  /* a note without its hum, window_max samples */
    sb_clip_limits limits; /* of what was overloaded there */
    double since_pluck_s;  /* at the first sample of what is measured, as far as is known */
    bool doubtful;         /* `now` may as well be a part of the string that sounds */
    bool heard_hum;        /* of what is measured the mains' hum was recognised first */
};

/* Measures the partials of the series guessed, and fits it, into ear->now and *fit. False where
 * there are none; `now` is spoilt then. The sound is in ear->spectrum, span_s of it. */
bool sb_ear_measure(sb_ear *ear, const sb_series_guess *guess, double span_s, sb_series_fit *fit);

/* The same, unless what it gives speaks for a string that is a multiple or a part of the guess;
 * then that one. Sets ear->doubtful. */
bool sb_ear_measure_string(sb_ear *ear, const sb_series_guess *guess, double span_s,
                           sb_series_fit *fit);

/* Measures the same partials once more, with the ends of the note seen (below). *fit is the one
 * they gave. False where nothing is left to be fitted. */
bool sb_ear_measure_again(sb_ear *ear, sb_series_fit *fit, double span_s);

/* Measures an overloaded note, samples[0..n-1], in turns with filling its overloads in (below).
 * *fit is what the note gave with arcs over them. *moved_cents: by how much the last turns still
 * moved the pitch. False as sb_ear_measure. */
bool sb_ear_measure_mended(sb_ear *ear, const float samples[], size_t n, double span_s,
                           sb_series_fit *fit, double *moved_cents);

/* Cuts the bands of `now` anew from end to end of the note. A band filter sees beyond the ends of
 * what it filters; there the sound is continued by what was measured of it, so that neither the
 * partial's own break nor those of its neighbours come through: the E step of expectation and
 * maximisation, with the sound beyond the ends for the missing data (Dempster, Laird & Rubin,
 * J. R. Stat. Soc. B 39, 1, 1977). False, and all as it was, where there is no room for it. */
bool sb_ear_see_ends(sb_ear *ear, double spacing_hz, double span_s);

/* What sounds in a track: so many lines, first its own, then those set apart; the j-th of them, and
 * as it is t_s after the note's first sample. */
size_t sb_ear_sounds(const sb_track *track);
const sb_line *sb_ear_sound(const sb_track *track, size_t j);
struct moment sb_ear_sound_at(const sb_track *track, size_t j, const sb_glide *glide, double t_s);

/* Whether it is to be summed with other tracks' sounds: what lies between two partials is in the
 * bands of both, and counts in the nearer's. */
bool sb_ear_sound_counts(const sb_track *track, size_t j, double spacing_hz);

/* Fills the overloaded samples of samples[0..n-1] in, to ear->mended: before anything is known of
 * the note by a smooth arc over each, and returns their share; afterwards by what was measured of
 * it, and what that leaves at the arc's feet, but never within the limits that the sound had
 * overrun. The second takes the samples of the first, and goes `step` times as far from what it
 * filled in before: below 2 that comes to the same (Peters & Walker, SIAM J. Appl. Math. 35, 362,
 * 1978, from memory), and sooner. */
double sb_ear_mend(sb_ear *ear, const float samples[], size_t n);
void sb_ear_mend_again(sb_ear *ear, const float samples[], size_t n, double spacing_hz,
                       double step);

/* Square of the amplitude at the band's first sample. */
double sb_ear_partial_power(const sb_track *track);

/* Power of the k-th, 2k-th, ... partials and of those between, on the series and off it. What
 * lies further off than a body pulls goes uncounted. */
struct split {
    double members, members_off, between, between_off;
    int n_members, n_between;
};

struct split sb_ear_split_power(const sb_ear *ear, int k);

/* Do the k-th, 2k-th, ... partials and those between lie on the one series? Another string that
 * rings along has a stiffness and a tuning of its own, and is weaker than any string's own
 * partials; so those between prove one string however weak they are, but then they have to fit
 * the closer. */
bool sb_ear_one_string(const sb_ear *ear, const sb_series_fit *fit, int k, bool lenient);

/* Do most of the partials between the k-th, 2k-th, ... lie far off the series that these are on, or
 * these far off one that those between have? */
bool sb_ear_strangers_between(const sb_ear *ear, const sb_series_fit *fit, int k);

/* Does what was measured in the end still speak for a string that is a multiple of it? Where no
 * other string sounds, weak partials between its multiples are the string's own. */
bool sb_ear_lent_its_series(const sb_ear *ear, const sb_series_fit *fit, bool alone);

/* samples[0..n-1] without the hum that the room before betrayed: themselves where it did not, or
 * what the ear keeps until it is called again. */
const float *sb_ear_quieted(sb_ear *ear, const float samples[], size_t n);

/* Finds the string that sounds in samples[0..n-1], which ear->spectrum holds, and measures it as
 * above. */
bool sb_ear_recognise(sb_ear *ear, const float samples[], size_t n, double span_s,
                      sb_series_fit *fit);

/* Share of the peaks' power that lies on no partial of the series. */
double sb_ear_foreign_share(const sb_ear *ear, const sb_series_fit *fit, double span_s);

/* Share of the peaks' power that lies half-way between the series' partials, where the lowest two
 * such places hold a peak: of a string an octave below. */
double sb_ear_octave_below(const sb_ear *ear, const sb_series_fit *fit, double span_s);

/* Do the loud partials lie off the series, four at least from the second on, or so loud ones from
 * the third on as no string has there? Then it is that of faint ones, another string's that many of
 * the note's lie near, or one. */
bool sb_ear_mostly_astray(const sb_ear *ear, const sb_series_fit *fit);

/* How much of it may lie so beside a series that is a string's. */
double sb_ear_most_foreign(const sb_series_fit *fit);

/* Share of the peaks' power that lies on partials of the series which the fit uses. */
double sb_ear_held_share(const sb_ear *ear, double span_s);

/* Does the pitch move in a way that no string's own glide does? Where one partial alone can tell it
 * is not seen. Of `now`, once measured again. */
bool sb_ear_moves(sb_ear *ear);

/* Fills in what was measured of a note; its fault, length and level are the caller's. */
void sb_ear_report(const sb_ear *ear, const sb_series_fit *fit, sb_reading *out);

#endif
