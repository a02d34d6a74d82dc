/* track: one partial of a note, followed through its band, and the glide that all share.
 *
 * A track holds the partial's band with the common pitch glide taken out, the damped
 * lines that explain it (the partial first, then whatever else rings in the band: a second
 * polarisation, mains hum, another string), and the noise measured round them.
 *
 * The glide g(t) comes from tension modulation (Legge & Fletcher, J. Acoust. Soc. Am. 76,
 * 5, 1984), so it is the same relative shift for every partial, but for what its own energy adds,
 * and follows the energy that stretches the string, sum n^2 x_n^2 exp(-2 d_n t) with displacements
 * x_n. A pickup hears the string's velocity and a bridge its force, both as n x_n (Fletcher &
 * Rossing, The Physics of Musical Instruments, 2nd ed., ch. 2), so that the energy is the sum of
 * the heard amplitudes' squares, without the n^2. These shapes compete: that sum, just so but for
 * what the decays may be off, and likelier than the others beforehand; the same with its rates off
 * by a common factor; the sum with n^2, should displacement be heard, in both ways; an exponential
 * of free time constant, in one stage or in two; the energy with its weights reconsidered, for
 * pickup and body colour what is heard of it; these energies each with and without what a partial's
 * own adds to its glide, for planes that turn about each other take that away; and a blend of
 * exponentials (glide_parts.h), for what is none of these. Amount and time scale are fitted to the
 * phases of the strong partials together, under priors that say what glides are like, that none
 * rises among them; no glide competes too (evidence by Laplace's approximation: Kass & Raftery, J.
 * Am. Stat. Assoc. 90, 773, 1995). The pitch told is the mean over what the data leave possible, or
 * by no glide where that is most likely; how far what is possible goes enters its standard error,
 * and so does a share of what is still to come when the note ends, for no shape is exact.
 *
 * Internal to audio/.
 */
#ifndef SB_TRACK_H
#define SB_TRACK_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/lines.h"
#include "audio/spectrum.h"

#define SB_GLIDE_TERMS 8
#define SB_APART_MAX   3

/* What glides are like before one is heard: their relative shift at the first measured sample,
 * and their time constant. */
#define SB_GLIDE_USUAL   0.004
#define SB_GLIDE_USUAL_S 0.35

/* By how much more a mode's own energy shifts it than another's does, where it swings in a plane: a
 * single mode glides by 3/32 of its amplitude squared, by mean tension alone by 1/16 (Duffing's
 * equation, averaged; the string: G. F. Carrier, Q. Appl. Math. 3, 157, 1945, from memory). */
#define SB_GLIDE_OWN 0.5

/* How a glide dies away: sum_m weight[m] exp(-rate[m] t), the weights summing to 1; for a partial
 * of its own the terms that are its own energy count (1 + own) times. */
typedef struct {
    size_t terms;
    double weight[SB_GLIDE_TERMS], rate_per_s[SB_GLIDE_TERMS];
    int number[SB_GLIDE_TERMS]; /* of the partial whose energy a term is; 0 = no single one's */
    double own;                 /* 0 or SB_GLIDE_OWN */
} sb_glide_shape;

/* g(t) = gamma times the shape. Zeroed: none. */
typedef struct {
    double gamma; /* relative shift at t = 0, the first sample of the note; 0 = no glide */
    sb_glide_shape shape;
    double common_std; /* relative standard error that it adds to every partial's pitch */
    double shape_std;  /* of that, what is due to the shape's being a guess */
    double to_mean;    /* relative shift that every partial still needs, so that it lies at the
                          mean of what the shapes in question make of it */
} sb_glide;

/* gamma exp(-t/tau). */
sb_glide sb_glide_exponential(double gamma, double tau_s);

/* How many times a term counts in the glide of a partial, and what it weighs there; number 0: in
 * what they share. */
double sb_glide_times(const sb_glide_shape *shape, size_t term, int number);
double sb_glide_weight(const sb_glide_shape *shape, size_t term, int number);

/* The time by which the glide has a partial run ahead, the integral of g, in s, at
 * t0_s + k step_s for k < n. */
void sb_glide_ahead(const sb_glide *glide, int number, double t0_s, double step_s, size_t n,
                    double out[]);

/* g(t_s) of a partial. */
double sb_glide_shift(const sb_glide *glide, int number, double t_s);

/* Puts one glide's phase at hz, a partial's, back into its band and takes another's out; and so
 * with what the band's filter does to a partial that has run off its middle. */
void sb_glide_turn(sb_band *band, int number, double hz, const sb_glide *from, const sb_glide *to);

typedef struct {
    int number;
    sb_band band; /* glide taken out */
    sb_line lines[SB_LINES_MAX];
    size_t n_lines;              /* 0 = no usable line; lines[0] is the partial */
    sb_line apart[SB_APART_MAX]; /* lines that do not glide, taken out of the band */
    size_t n_apart;
    bool complete;     /* nothing but noise was left over when that was last taken */
    bool astray;       /* too far off the string's series to be one of its partials */
    bool told_apart;   /* its planes were told apart by all partials together (joint.h) */
    double noise;      /* variance of one complex band sample if the filter let all through */
    double hz, hz_std; /* settled frequency and its standard error from noise alone */
    double energy_snr; /* energy of the partial over the noise variance */
} sb_track;

/* Where a partial is looked for. */
typedef struct {
    double hz;         /* as the series predicts it */
    double spacing_hz; /* distance of the neighbour partials */
    double reach_hz;   /* how far off it may lie */
} sb_track_aim;

/* Variance of a band sample by the noise that the filter does let through. */
double sb_track_sample_noise(const sb_track *track);

/* Cuts the band round aim.hz out of the loaded note, takes the glide out and fits
 * the strongest line within its reach. True when the partial stands out of its noise. */
bool sb_track_start(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide, int number,
                    sb_track_aim aim);

/* Adds the lines that the first fit left over, while they are significant, and keeps as
 * the partial the strongest line within reach_hz of predicted_hz. Without both_planes none is added
 * so near to the partial that it might be its other plane: what a glide leaves looks like that.
 * Returns whether there were any. */
bool sb_track_add_lines(sb_track *track, sb_spectrum *spectrum, double predicted_hz,
                        double reach_hz, bool both_planes);

/* Cuts the band anew and fits the same lines to it; leaves all as it was where they do not fit. */
void sb_track_cut_again(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide,
                        double spacing_hz);

/* Takes out of the band, before it is turned, what does not glide beside a partial that does,
 * *glide being out of it: other strings' lines, and hum. What was set apart before is looked at
 * anew. By turns with the partial's own lines, each fitted to what the other leaves (as in RELAX:
 * Li & Stoica, IEEE Trans. Signal Process. 44, 281, 1996, from memory). False, and all as it was,
 * where there is nothing of the kind; else the noise has been heard anew. */
bool sb_track_set_apart(sb_track *track, sb_spectrum *spectrum, const sb_glide *glide);

/* The track's band with what was set apart in it again, *glide being out of it: to re[] and im[],
 * band.n each. */
void sb_track_whole(const sb_track *track, const sb_glide *glide, double re[], double im[]);

/* Takes what was set apart out of a band that was cut anew and has not been turned; its lines count
 * from there. */
void sb_track_keep_apart(sb_track *track, sb_band *band);

/* Takes another band, and as many lines fitted to it, for the track's, and hears the noise there.
 */
void sb_track_take(sb_track *track, sb_spectrum *spectrum, const sb_band *band,
                   const sb_line lines[]);

/* Whether lines[line], line > 0, lies so near to the partial that it is taken for the string's
 * other plane: within five cents. */
bool sb_track_other_plane(const sb_track *track, size_t line);

/* Takes the noise round the lines anew, once a better glide is out of the band. */
void sb_track_hear_noise(sb_track *track, sb_spectrum *spectrum);

/* Of both planes' lines makes that one the partial that had more energy early. */
void sb_track_put_plucked_first(sb_track *track);

/* Re-fits the same lines after the band was turned from one glide to another; the noise is
 * taken to be what it was. */
void sb_track_turn(sb_track *track, const sb_glide *from, const sb_glide *to);

/* A first guess of a glide so large that it smears the partials of tracks[0..n-1], which have none
 * taken out; zeroed where there is none. Products of samples a lag apart have one phase for one
 * line, whatever its frequency, and a glide turns them; so no phase is followed, which another
 * string's line or the mains' in the band could lead astray (the lag product of Peleg & Porat, IEEE
 * Trans. Inf. Theory 37, 422, 1991, from memory). */
sb_glide sb_glide_guess(const sb_track tracks[], size_t n);

/* Estimates the glide from the phases of tracks[0..n-1], whose bands have `present` taken
 * out. */
sb_glide sb_glide_estimate(const sb_track tracks[], size_t n, const sb_glide *present);

/* How much the pitch still moves when the glide is out: the second half of the note against
 * the first, in cents, median of the strong partials; 0 when none is strong enough. */
double sb_glide_unrest_cents(const sb_track tracks[], size_t n);

#endif
