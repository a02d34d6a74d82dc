#include <math.h>
#include <stdint.h>
#include <string.h>

#include "audio/series.h"
#include "core/pitch.h"

enum { SCATTERS = 18, LOUDNESSES = 3, SPREADS = 5, FEW = 5, POINTS_MAX = 48, AT_ONCE = 8 };

/* ---- what is held likely before a note is heard ---- */

/* Scatters of the partials about their series: none, as of those that only the noise disturbs, for
 * nearly all, so that a scatter has to show; that of the recorded notes, 0.04 to 0.9 cent, which
 * does; or any between, alike by the octave. From 0.1 thousandth of a cent up. */
static const double LEAST_SCATTER_CENTS = 1e-4;
static const double NONE_SHARE = 0.88, RECORDED_SHARE = 0.07, BETWEEN_SHARE = 0.05;
static const double RECORDED_CENTS = 0.2, RECORDED_LN_STD = 0.8, BETWEEN_MOST_CENTS = 0.05;

/* What neighbours and rests of hum leave in a band harms a partial as noise does, the weaker
 * the more, and may add to the noise heard there. */
static const double LOUDNESS[LOUDNESSES] = {1.0, 1.41421356, 2.0};
static const double LOUDNESS_SHARE[LOUDNESSES] = {0.8, 0.15, 0.05};

/* What other strings leave everywhere is as loud in all bands: a faint partial's own noise may be
 * far less. In one note of ten it is so many times the least noise of all. */
static const double SPREAD[SPREADS] = {3.0, 9.0, 27.0, 81.0, 243.0};
static const double SPREAD_SHARE = 0.02; /* of each */

/* Scatter that may be of lines which lie beside all partials on the same side. */
static const double MOST_TOGETHER_CENTS = 0.15;

/* A body pulls partial 1 by more than a cent in 31 of 50 recorded notes, up to 8, once 17;
 * another partial seldom. Where one lies further off, so far. */
static const double PULL_CENTS = 5.0, FIRST_PULLED_SHARE = 0.5, OTHER_PULLED_SHARE = 0.1;

/* ---- one set of assumptions, and the fit under it ---- */

struct assumed {
    double scatter, loudness, spread; /* spread: variance of noise in all bands alike */
    uint64_t pulled;                  /* a bit a point */
    double ln_share;
};

/* Of a fit that begins at the present one: how likely the departures are, and by how much, in
 * ln, f1 and B move. */
struct outcome {
    double ln_odds, shift, variance, b_shift, b_variance;
    double level_weight, lean, middle; /* a point's influence on f1: see influence() */
};

struct points {
    size_t n;
    /* Slope in B; variances of noise and of a pull, departure, in ln. */
    double g[POINTS_MAX], own[POINTS_MAX], unit[POINTS_MAX], pull[POINTS_MAX],
        departure[POINTS_MAX];
    double least_noise;
    double together; /* as sb_series_weigh has it */
    double pulled_share[POINTS_MAX];
    double first, prior_pull, prior; /* slope of f1; B's prior: how far off, 1/variance */
};

static double square(double x) {
    return x * x;
}

static uint64_t bit(size_t i) {
    return (uint64_t)1 << i;
}

static bool is_pulled(const struct assumed *as, size_t i) {
    return as->pulled & bit(i);
}

static double weight_of(const struct points *p, size_t i, const struct assumed *as) {
    double v = square(as->loudness) * p->own[i] + as->spread * p->unit[i] +
               square(as->scatter / SB_CENTS_PER_LN);
    return 1.0 / (is_pulled(as, i) ? v + p->pull[i] : v);
}

/* The restricted likelihood (Patterson & Thompson, cited in the header), and the two unknowns
 * about the weighted means so that nothing cancels where one partial outweighs all. */
static struct outcome fit_under(const struct points *p, const struct assumed *as) {
    double w[POINTS_MAX] = {0}, sum = 0, g_mean = 0, r_mean = 0, ln_weights = 0, product = 1.0;
    for (size_t i = 0; i < p->n; i++) {
        w[i] = weight_of(p, i, as);
        product *= w[i];
        if (i % AT_ONCE == AT_ONCE - 1)
            ln_weights += log(product), product = 1.0;
        sum += w[i], g_mean += w[i] * p->g[i], r_mean += w[i] * p->departure[i];
    }
    ln_weights += log(product);
    g_mean /= sum, r_mean /= sum;
    double gg = p->prior, gr = p->prior * p->prior_pull;
    double chi2 = p->prior * square(p->prior_pull);
    for (size_t i = 0; i < p->n; i++) {
        double g = p->g[i] - g_mean, r = p->departure[i] - r_mean;
        gg += w[i] * g * g, gr += w[i] * g * r, chi2 += w[i] * r * r;
    }
    double b = gr / gg, arm = p->first - g_mean;
    double together = as->scatter < MOST_TOGETHER_CENTS ? p->together * as->scatter : 0.0;
    return (struct outcome){
        .ln_odds = as->ln_share + 0.5 * (ln_weights - log(sum) - log(gg) - chi2 + gr * b),
        .shift = r_mean + arm * b,
        .variance = 1.0 / sum + arm * arm / gg + square(together / SB_CENTS_PER_LN),
        .b_shift = b,
        .b_variance = 1.0 / gg,
        .level_weight = 1.0 / sum,
        .lean = arm / gg,
        .middle = g_mean};
}

/* ---- all sets of assumptions ---- */

/* n-th power of two times the least; the first of all is none. */
static double scatter_at(size_t i) {
    return i == 0 ? 0.0 : LEAST_SCATTER_CENTS * ldexp(1.0, (int)i - 1);
}

static void share_out_scatters(double share[SCATTERS]) {
    double between = 0, recorded = 0;
    for (size_t i = 1; i < SCATTERS; i++) {
        double s = scatter_at(i);
        between += s < BETWEEN_MOST_CENTS;
        recorded += exp(-0.5 * square(log(s / RECORDED_CENTS) / RECORDED_LN_STD));
    }
    share[0] = NONE_SHARE;
    for (size_t i = 1; i < SCATTERS; i++) {
        double s = scatter_at(i);
        share[i] = s < BETWEEN_MOST_CENTS ? BETWEEN_SHARE / between : 0.0;
        share[i] += RECORDED_SHARE / recorded *
                    exp(-0.5 * square(log(s / RECORDED_CENTS) / RECORDED_LN_STD));
    }
}

static const double LEAST_LN = -1e300; /* of odds */

struct average {
    double total, top; /* of the odds, over exp(top) */
    double shift, shift2, b, b2, weight[POINTS_MAX], pulled[POINTS_MAX];
};

static void rescale(struct average *sum, double top) {
    double factor = exp(sum->top - top);
    sum->top = top;
    sum->total *= factor, sum->shift *= factor, sum->shift2 *= factor;
    sum->b *= factor, sum->b2 *= factor;
    for (size_t i = 0; i < POINTS_MAX; i++)
        sum->weight[i] *= factor, sum->pulled[i] *= factor;
}

static void add_outcome(struct average *sum, const struct points *p, const struct assumed *as) {
    struct outcome o = fit_under(p, as);
    if (!isfinite(o.ln_odds) || !isfinite(o.variance) || o.ln_odds < sum->top - 20.0)
        return;
    if (o.ln_odds > sum->top)
        rescale(sum, o.ln_odds);
    double odds = exp(o.ln_odds - sum->top);
    sum->total += odds;
    sum->shift += odds * o.shift, sum->shift2 += odds * (o.variance + square(o.shift));
    sum->b += odds * o.b_shift, sum->b2 += odds * (o.b_variance + square(o.b_shift));
    for (size_t i = 0; i < p->n; i++) {
        sum->weight[i] +=
            odds * weight_of(p, i, as) * (o.level_weight + o.lean * (p->g[i] - o.middle));
        sum->pulled[i] += is_pulled(as, i) ? odds : 0.0;
    }
}

/* With those partials pulled, by whatever scatter and loudness. */
static struct average average_with(const struct points *p, uint64_t pulled) {
    struct average sum = {.top = LEAST_LN};
    double scatters[SCATTERS], share = 1.0;
    share_out_scatters(scatters);
    for (size_t i = 0; i < p->n; i++)
        share *= pulled & bit(i) ? p->pulled_share[i] : 1.0 - p->pulled_share[i];
    for (size_t s = 0; s < SCATTERS; s++) {
        struct assumed as = {.scatter = scatter_at(s), .pulled = pulled};
        for (size_t k = 0; k < LOUDNESSES; k++) {
            as.loudness = LOUDNESS[k];
            as.ln_share = log(share * scatters[s] * LOUDNESS_SHARE[k]);
            add_outcome(&sum, p, &as);
        }
        as.loudness = 1.0;
        as.ln_share = log(share * scatters[s] * SPREAD_SHARE);
        for (size_t k = 0; k < SPREADS && p->least_noise > 0; k++) {
            as.spread = square(SPREAD[k]) * p->least_noise;
            add_outcome(&sum, p, &as);
        }
    }
    return sum;
}

static double ln_total(const struct average *of) {
    return of->top + log(of->total);
}

static void add_average(struct average *sum, const struct average *more) {
    rescale(sum, fmax(sum->top, more->top));
    double by = exp(more->top - sum->top);
    sum->total += by * more->total;
    sum->shift += by * more->shift, sum->shift2 += by * more->shift2;
    sum->b += by * more->b, sum->b2 += by * more->b2;
    for (size_t i = 0; i < POINTS_MAX; i++) {
        sum->weight[i] += by * more->weight[i];
        sum->pulled[i] += by * more->pulled[i];
    }
}

/* Over whatever partials are pulled; with none; and the likeliest log odds with any. */
struct averages {
    struct average all, none_pulled;
    double pulled_ln;
};

static void add_pulled(struct averages *averages, const struct points *p, uint64_t pulled) {
    struct average sum = average_with(p, pulled);
    if (!(sum.total > 0))
        return;
    add_average(&averages->all, &sum);
    if (pulled)
        averages->pulled_ln = fmax(averages->pulled_ln, ln_total(&sum));
    else
        averages->none_pulled = sum;
}

/* Where most likely none is pulled, the best fit is of that: the mean over what else may be would
 * move it, where partials are few, by no evidence. */
static const struct average *best_of(const struct averages *of) {
    const struct average *none = &of->none_pulled;
    return none->total > 0 && ln_total(none) > of->pulled_ln ? none : &of->all;
}

static double spread_about(double x, double sum, double squares, double total) {
    return sqrt(fmax((squares - 2.0 * x * sum) / total + square(x), 0.0));
}

/* The best's f1 and B, and how far all lie about them. */
static void write_fit(const struct average *sum, const struct average *best, sb_series_fit *fit) {
    double shift = best->shift / best->total, b_shift = best->b / best->total;
    fit->sounding_std_cents =
        SB_CENTS_PER_LN * spread_about(shift, sum->shift, sum->shift2, sum->total);
    fit->inharmonicity_std = spread_about(b_shift, sum->b, sum->b2, sum->total);
    fit->inharmonicity += b_shift;
    fit->sounding_hz *= exp(shift);
    fit->f0_hz = fit->sounding_hz / sqrt(fmax(1.0 + fit->inharmonicity, 0.01));
}

static void write_points(const struct average *sum, const size_t at[], size_t taken,
                         const sb_series_fit *fit, sb_series_point points[], size_t n) {
    double total = 0;
    for (size_t i = 0; i < taken; i++)
        total += fabs(sum->weight[i]);
    for (size_t i = 0; i < n; i++) {
        double hz = sb_series_hz(fit->f0_hz, fit->inharmonicity, points[i].number);
        points[i].departure_cents = SB_CENTS_PER_LN * log(points[i].hz / hz);
        points[i].weight = 0;
    }
    for (size_t i = 0; i < taken; i++) {
        points[at[i]].weight = fabs(sum->weight[i]) / total;
        points[at[i]].pulled = sum->pulled[i] > 0.5 * sum->total;
    }
}

/* Whether what the fit left out as pulled might as well be right: where partials are few, and where
 * so many are left out that those kept may agree by chance. */
static bool doubtful(const sb_series_point points[], size_t n) {
    size_t usable = 0, pulled = 0;
    for (size_t i = 0; i < n; i++) {
        usable += !points[i].left_out || points[i].pulled;
        pulled += points[i].pulled;
    }
    return usable <= FEW || 3 * pulled > usable;
}

static struct points points_of(const sb_series_point points[], size_t n, double b,
                               size_t at[POINTS_MAX]) {
    struct points p = {.first = sb_series_slope(1, b),
                       .prior_pull = SB_SERIES_PRIOR_B - b,
                       .prior = 1.0 / square(SB_SERIES_PRIOR_B_STD)};
    bool all = doubtful(points, n);
    for (size_t i = 0; i < n && p.n < POINTS_MAX; i++) {
        if (points[i].left_out && !(points[i].pulled && all))
            continue;
        double off = points[i].departure_cents / SB_CENTS_PER_LN;
        p.g[p.n] = sb_series_slope(points[i].number, b);
        p.own[p.n] = square(points[i].std_cents / SB_CENTS_PER_LN);
        p.unit[p.n] = square(points[i].unit_cents / SB_CENTS_PER_LN);
        if (points[i].unit_cents > 0 &&
            (p.least_noise == 0 || p.own[p.n] < p.least_noise * p.unit[p.n]))
            p.least_noise = p.own[p.n] / p.unit[p.n];
        p.pull[p.n] = square(fmax(PULL_CENTS / SB_CENTS_PER_LN, fabs(off)));
        p.pulled_share[p.n] = points[i].number == 1 ? FIRST_PULLED_SHARE : OTHER_PULLED_SHARE;
        p.departure[p.n] = off;
        at[p.n++] = i;
    }
    return p;
}

/* The one that lies furthest off of a set that is not empty. */
static uint64_t furthest(const struct points *p, uint64_t of) {
    size_t best = POINTS_MAX;
    for (size_t i = 0; i < p->n; i++)
        if (of & bit(i) && (best == POINTS_MAX || fabs(p->departure[i]) > fabs(p->departure[best])))
            best = i;
    return bit(best);
}

/* Those that the fit left out may be pulled, all or the ones that lie furthest off; and partial 1
 * besides. Of few, each alone. */
void sb_series_weigh(sb_series_point points[], size_t n, double together, sb_series_fit *fit) {
    size_t at[POINTS_MAX];
    struct points p = points_of(points, n, fit->inharmonicity, at);
    p.together = together;
    struct averages averages = {.all = {.top = LEAST_LN}, .pulled_ln = LEAST_LN};
    uint64_t left = 0, pulled = 0, first = 0;
    for (size_t i = 0; i < p.n; i++) {
        left |= points[at[i]].pulled ? bit(i) : 0U;
        first |= points[at[i]].number == 1 ? bit(i) : 0U;
    }
    for (size_t i = 0; i < p.n && p.n <= FEW; i++)
        if (bit(i) != first && (!left || bit(i) != furthest(&p, left)))
            add_pulled(&averages, &p, bit(i));
    left &= ~first;
    for (;;) {
        add_pulled(&averages, &p, pulled);
        if (first)
            add_pulled(&averages, &p, pulled | first);
        if (!left)
            break;
        uint64_t next = furthest(&p, left);
        pulled |= next, left &= ~next;
    }
    if (!(averages.all.total > 0))
        return;
    write_fit(&averages.all, best_of(&averages), fit);
    write_points(&averages.all, at, p.n, fit, points, n);
}
