/* series: the stiff-string series through measured partials.
 *
 * Fits ln(f_n/n) = ln f0 + ln(1 + B n^2)/2 (Fletcher, J. Acoust. Soc. Am. 36, 203, 1964)
 * to partials of known standard error. Real partials also scatter about the series, and a
 * body or neck resonance can pull one of them by many cents; so the fit
 *   - starts from the pair of partials whose series leaves the smallest median departure
 *     (least median of squares: Rousseeuw, J. Am. Stat. Assoc. 79, 871, 1984),
 *   - estimates a common extra scatter from the data by restricted maximum likelihood
 *     (Patterson & Thompson, Biometrika 58, 545, 1971) and weights each partial by
 *     1/(sigma_n^2 + scatter^2),
 *   - gives partials beyond four of their standard errors no weight, and names them;
 *   - is averaged, at the end, over all that the departures leave possible (sb_series_weigh).
 *
 * Internal to audio/. Pure computation: no allocation.
 */
#ifndef SB_SERIES_H
#define SB_SERIES_H

#include <stdbool.h>
#include <stddef.h>

/* B of strings in general. */
#define SB_SERIES_PRIOR_B     1e-4
#define SB_SERIES_PRIOR_B_STD 6e-4

typedef struct {
    int number;                     /* n, >= 1 */
    double hz;                      /* > 0 */
    double std_cents;               /* > 0 */
    double unit_cents;              /* standard error by noise of variance 1 alone; 0 = not known */
    bool left_out;                  /* in: of no use; out: also those found to be pulled */
    bool pulled;                    /* out: one of these; weighed, more likely than not */
    double departure_cents, weight; /* out: from the series; share in ln f1, sums to 1 */
} sb_series_point;

typedef struct {
    double f0_hz, inharmonicity; /* B may come out slightly below zero */
    double sounding_hz;          /* f0 sqrt(1 + B) */
    double sounding_std_cents;   /* scatter included */
    double inharmonicity_std;
    double scatter_cents; /* beyond the partials' own standard errors */
    size_t used;
} sb_series_fit;

/* Fits points[0..n-1] in place; false when no point is usable. A weak prior, B = 1e-4 +-
 * 6e-4 (the range of published strings), decides B where fewer than two partials do. The weights
 * are for sb_series_weigh to tell. */
bool sb_series_solve(sb_series_point points[], size_t n, sb_series_fit *fit);

/* Refines a fit: averages over what the scatter may be, how much louder a band is than was heard,
 * by what is in all alike too, and whether a partial is pulled, by how well each explains the
 * departures and how common it is (Bayesian model averaging: Hoeting, Madigan, Raftery & Volinsky,
 * Stat. Sci. 14, 382, 1999; of a scatter between few: Gelman, Bayesian Anal. 1, 515, 2006). Where
 * many partials agree that leaves little but their own errors; where few do, the pull that a body
 * may have on them. Writes the pitch and B, their errors, and the points' departures and weights.
 * The errors hold all of that; pitch and B are the mean of it or, where most likely no partial is
 * pulled, of what that leaves: of two partials nothing says by how much either is. together: how
 * many times a slight scatter all may be off alike, 0 where what scatters them has no side. */
void sb_series_weigh(sb_series_point points[], size_t n, double together, sb_series_fit *fit);

/* Derivative of ln f_n by B. */
double sb_series_slope(int number, double inharmonicity);

/* n f0 sqrt(1 + B n^2) */
double sb_series_hz(double f0_hz, double inharmonicity, int number);

/* The n >= 1 whose partial lies next to hz. */
int sb_series_nearest(double f0_hz, double inharmonicity, double hz);

#endif
