/* glide_parts: what the files that estimate a glide share. sb_glide_guess and sb_glide_estimate
 * (track.h, glide_guess.c, glide.c) are all that others call; glide_seen.c says what the tracks
 * show, glide_families.c what shapes a glide may have, glide_pool.c what the tracks say of a shape;
 * glide_blend.c judges the shapes that are no single formula's.
 *
 * Internal to audio/glide*.c.
 */
#ifndef SB_GLIDE_PARTS_H
#define SB_GLIDE_PARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/track.h"

/* Samples of a band that are taken together: a glide changes little in 20 ms. */
#define SB_GLIDE_BLOCK      4
#define SB_GLIDE_BLOCKS_MAX (SB_BAND_MAX / SB_GLIDE_BLOCK)
#define SB_GLIDE_TRACKS     10

/* A track's sums that no shape changes: of 1 and of u with each other and with t, the time since
 * its first block, weighted. */
struct sb_glide_sums {
    double w, t, tt, u, ut, uu;
};

/* The usable tracks' time shifts u against the settled pitch, in s, and their weights w, worked
 * out once and then held against many shapes. */
struct sb_glide_seen {
    size_t n, longest; /* longest: the most blocks that a track holds */
    double end_s;      /* of the last block */
    struct {
        int number;
        size_t held; /* blocks */
        double turn; /* of the partial, radians a second */
        double t0_s, step_s, u[SB_GLIDE_BLOCKS_MAX], w[SB_GLIDE_BLOCKS_MAX];
        struct sb_glide_sums sums;
    } track[SB_GLIDE_TRACKS];
};

/* Fills *seen from the tracks of most worth, whose bands have `present` taken out. */
void sb_glide_gather(const sb_track tracks[], size_t n, const sb_glide *present,
                     struct sb_glide_seen *seen);

/* Has track i say less: its weights times `by`. */
void sb_glide_weigh_less(struct sb_glide_seen *seen, size_t i, double by);

/* A shape of glide with one parameter, the scale, by which the rates are divided. */
struct sb_glide_family {
    sb_glide_shape shape;
    double weight_std[SB_GLIDE_TERMS]; /* of the energy's: by how much they may be off */
    double prior_ln, prior_ln_std;     /* of the scale */
    double heard_ln_std; /* of the energy's rates together, by what the decays may be off */
    double preferred;    /* log odds before anything is heard */
};

/* The energy's from SB_GLIDE_HEARD on come in threes: with a free scale, held to what is heard, and
 * so with what a partial's own adds; of the amplitudes as heard, and times the partials' numbers.
 */
enum {
    SB_GLIDE_EXPONENTIAL,
    SB_GLIDE_STAGES,
    SB_GLIDE_HEARD,
    SB_GLIDE_HELD,
    SB_GLIDE_OWNING,
    SB_GLIDE_WAYS = 3,
    SB_GLIDE_FAMILIES = SB_GLIDE_HEARD + 2 * SB_GLIDE_WAYS
};

/* The families that there are, the energy's by what is heard of the tracks' amplitudes and decays.
 * Returns how many: fewer where nothing, or one partial only, is heard. */
size_t sb_glide_families(const sb_track tracks[], size_t n,
                         struct sb_glide_family out[SB_GLIDE_FAMILIES]);

/* Columns of the regression: the time S(t) that a glide of unit gamma runs ahead, its
 * derivative D by the logarithm of its time scale, and the observed shift u. */
enum { SB_S, SB_D, SB_U, SB_SDU /* how many */ };

/* What the tracks together say once each has a constant and a slope in t of its own:
 * cross products of what remains of the columns, and how S and D lean on t. */
struct sb_glide_pooled {
    double cross[SB_SDU][SB_SDU], lean[2], count;
    double own, tracks; /* what each track's own gamma would explain, summed */
};

struct sb_glide_pooled sb_glide_pool_all(const struct sb_glide_seen *seen,
                                         const sb_glide_shape *shape, double scale);

/* Tracks of which much more is left than of the others say the less: one whose phase slipped or
 * that another's line is in would drown what the others agree on. */
void sb_glide_lower_odd_ones(struct sb_glide_seen *seen, const sb_glide_shape *shape, double scale);

/* By how much the variance of what the tracks say together is more than their noise makes it, where
 * a second plane, another string or what is left of the hum disturbs the partials' phases, each by
 * about as many radians (random effects), so that they differ as they do. */
double sb_glide_disturbed(const struct sb_glide_seen *seen, const sb_glide_shape *shape,
                          double scale);

/* The unknowns of a blend of exponentials of fixed rates: an amount for each; and, where it is
 * about a family, the family's amount, and by how much the logarithm of its scale is off. */
enum { SB_BLEND_GAMMA = SB_GLIDE_TERMS, SB_BLEND_SCALE, SB_BLEND_UNKNOWNS };

/* What is held likely of them before a glide is heard, normal about zero (std: 0 for those that are
 * not among them), and their normal equations without that: lower half, and right-hand side; and by
 * how much each shifts the settled pitch. Linear, so that the posterior is exact. */
struct sb_glide_blended {
    sb_glide_shape family; /* weights 0 where it is about none */
    double std[SB_BLEND_UNKNOWNS];
    double h[SB_BLEND_UNKNOWNS][SB_BLEND_UNKNOWNS], on_u[SB_BLEND_UNKNOWNS];
    double lean[SB_BLEND_UNKNOWNS], uu, count;
};

/* One blend that is likeliest at some noise. */
struct sb_glide_blend {
    double gamma; /* sum of the amounts */
    sb_glide_shape shape;
    double noise;            /* variance of a unit weight's u, as it leaves it */
    double left;             /* RMS of what it leaves, over that of the glide */
    double odds;             /* log odds against no glide (log Bayes factor) */
    double shift, shift_var; /* relative shift of the settled pitch that it makes good */
};

/* Any glide that dies away is nearly a blend of exponentials of many rates. False where nothing is
 * seen. */
bool sb_glide_blend_any(const struct sb_glide_seen *seen, struct sb_glide_blended *out);

/* The blend of a family's own exponentials that is near to the family, of the amount gamma. */
bool sb_glide_blend_about(const struct sb_glide_seen *seen, const struct sb_glide_family *family,
                          double gamma, struct sb_glide_blended *out);

/* False where the amounts all but cancel. least_noise: variance of a unit weight's u, at least. */
bool sb_glide_blend_judge(const struct sb_glide_blended *of, double least_noise,
                          struct sb_glide_blend *out);

/* Indices of the tracks of most worth, at most SB_GLIDE_TRACKS, to chosen[]; none of worth 0.
 * Returns how many. */
size_t sb_glide_choose(const sb_track tracks[], size_t n, double (*worth)(const sb_track *track),
                       size_t chosen[]);

#endif
