/* Shared saddles: cases worked elsewhere from published compensations, closed forms, an
 * independent search over convex functions, and the exact saddle calculus. */
#include <math.h>
#include <string.h>

#include "core/compromise.h"
#include "core/saddle.h"
#include "tests/support/prng.h"
#include "tests/support/within.h"

#define CENTS_PER_LN 1731.2340490667561
#define MAX_N        SB_MAX_SHARED

typedef struct {
    size_t n;
    sb_shared_string strings[MAX_N];
} bridge;

static bridge bridge_of(const double needed_mm[], size_t n, double scale_mm, double spacing_mm) {
    bridge b = {.n = n};
    for (size_t i = 0; i < n; i++)
        b.strings[i] =
            (sb_shared_string){needed_mm[i], spacing_mm * (double)i, CENTS_PER_LN / scale_mm, 1.0};
    return b;
}

static sb_compromise place_with(const bridge *b, const sb_compromise_options *options) {
    sb_compromise c;
    memset(&c, 0x7f, sizeof c);
    assert_int_equal(sb_compromise_place(b->strings, b->n, options, &c), SB_OK);
    return c;
}

static sb_compromise place_on(const bridge *b, sb_saddle_shape shape, sb_compromise_fit fit) {
    const sb_compromise_options options = {.shape = shape, .fit = fit};
    return place_with(b, &options);
}

/* The largest weighted error at a place, and the sum of squared weighted errors: what is
 * made least, written down again. */
static double largest_at(const bridge *b, double position, double slope) {
    double largest = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        const sb_shared_string *s = &b->strings[i];
        const double there = position + slope * s->across_mm;
        largest = fmax(largest, s->weight * s->cents_per_mm * fabs(s->needed_mm - there));
    }
    return largest;
}

static double squares_at(const bridge *b, double position, double slope) {
    double sum = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        const sb_shared_string *s = &b->strings[i];
        const double there = position + slope * s->across_mm;
        sum += pow(s->weight * s->cents_per_mm * (s->needed_mm - there), 2.0);
    }
    return sum;
}

/* --- worked cases ------------------------------------------------------------------------ */

typedef struct {
    const char *name;
    size_t n;
    double scale_mm, needed_mm[6];
    double flat_squares[3];  /* position, rms, worst */
    double flat_largest[2];  /* position, worst */
    double slant_squares[4]; /* position, slope, rms, worst */
    double slant_largest[3]; /* position, slope, worst */
} worked_row;

/* Strings 10.5 mm apart, string 1 at 0; optima computed with an independent program. */
static const worked_row worked[] = {
    /* Saddle setbacks of a nylon set, Anderson & Beausoleil, J. Acoust. Soc. Am. 156(1),
     * 683 (2024). */
    {"nylon",
     6,
     650.0,
     {1.48, 1.69, 2.33, 1.49, 1.83, 2.46},
     {1.880000, 1.02557, 1.54479},
     {1.970000, 1.30508},
     {1.56, 0.01219048, 0.84427, 1.36901},
     {1.8016667, 0.00412698, 1.17635}},
    /* A steel set by the same paper's model (one end clamped), 2 mm over the 12th fret. */
    {"steel",
     6,
     647.7,
     {1.6212, 2.84253, 4.55966, 2.87295, 2.74717, 3.88679},
     {3.088383, 2.48306, 3.93257},
     {3.090430, 3.92710},
     {2.4201576, 0.02545622, 2.16261, 4.28979},
     {2.8089375, 0.02680881, 3.17470}},
    /* Saddle adjustments after Byers, American Lutherie 47 (1996), as quoted by others. */
    {"byers",
     6,
     650.0,
     {1.3, 2.1, 3.1, 1.5, 1.7, 2.9},
     {2.100000, 1.81947, 2.66344},
     {2.200000, 2.39709},
     {1.7285714, 0.01414966, 1.68931, 2.86129},
     {2.1333333, 0.00634921, 2.21953}},
    {"three strings",
     3,
     647.7,
     {1.5, 2.9, 2.1},
     {2.166667, 1.53287, 1.96012},
     {2.200000, 1.87103},
     {1.8666667, 0.02857143, 1.38602, 1.96012},
     {2.05, 0.02857143, 1.47009}},
};

static void test_worked_cases(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof worked / sizeof worked[0]; i++) {
        const worked_row *w = &worked[i];
        const bridge b = bridge_of(w->needed_mm, w->n, w->scale_mm, 10.5);
        sb_compromise c = place_on(&b, SB_SHAPE_FLAT, SB_FIT_SQUARES);
        assert_within(c.position_mm, w->flat_squares[0], 6e-7);
        assert_within(c.slope, 0.0, 0.0);
        assert_within(c.rms_cents, w->flat_squares[1], 6e-6);
        assert_within(c.worst_cents, w->flat_squares[2], 6e-6);
        c = place_on(&b, SB_SHAPE_FLAT, SB_FIT_LARGEST);
        assert_within(c.position_mm, w->flat_largest[0], 6e-7);
        assert_within(c.slope, 0.0, 0.0);
        assert_within(c.worst_cents, w->flat_largest[1], 6e-6);
        c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_SQUARES);
        assert_within(c.position_mm, w->slant_squares[0], 6e-8);
        assert_within(c.slope, w->slant_squares[1], 6e-9);
        assert_within(c.rms_cents, w->slant_squares[2], 6e-6);
        assert_within(c.worst_cents, w->slant_squares[3], 6e-6);
        c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
        assert_within(c.position_mm, w->slant_largest[0], 6e-8);
        assert_within(c.slope, w->slant_largest[1], 6e-9);
        assert_within(c.worst_cents, w->slant_largest[2], 6e-6);
        assert_false(c.at_limit);
    }
}

/* Two scales and a string that counts double; by hand from the closest pair (strings 1, 2):
 * x = (K1 p1 + K2 p2)/(K1 + K2). */
static void test_weights_and_scales(void **state) {
    (void)state;
    bridge b = bridge_of((double[]){2.0, 3.2, 2.6}, 3, 647.7, 10.5);
    b.strings[1].cents_per_mm = CENTS_PER_LN / 628.65;
    b.strings[2].weight = 2.0;
    sb_compromise c = place_on(&b, SB_SHAPE_FLAT, SB_FIT_LARGEST);
    assert_within(c.position_mm, 2.608955223881, 1e-9);
    assert_within(c.worst_cents, 1.627673333, 6e-10);
    assert_within(c.remaining_cents[0], -1.627673333, 6e-10);
    assert_within(c.remaining_cents[1], 1.627673333, 6e-10);
    c = place_on(&b, SB_SHAPE_FLAT, SB_FIT_SQUARES);
    assert_within(c.position_mm, 2.606089986366, 1e-11);
}

/* Sharp positive: a saddle in front of where a string needs it leaves it sharp. */
static void test_two_strings(void **state) {
    (void)state;
    const bridge b = bridge_of((double[]){1.0, 2.2}, 2, 647.7, 10.5);
    for (int fit = SB_FIT_LARGEST; fit <= SB_FIT_SQUARES; fit++) {
        sb_compromise c = place_on(&b, SB_SHAPE_FLAT, (sb_compromise_fit)fit);
        assert_within(c.position_mm, 1.6, 1e-9);
        assert_within(c.remaining_cents[0], -0.6 * CENTS_PER_LN / 647.7, 1e-8);
        assert_within(c.remaining_cents[1], 0.6 * CENTS_PER_LN / 647.7, 1e-8);
        c = place_on(&b, SB_SHAPE_SLANT, (sb_compromise_fit)fit);
        assert_within(c.position_mm, 1.0, 1e-8);
        assert_within(c.slope, 1.2 / 10.5, 1e-9); /* 6.520 degrees */
        assert_within(c.worst_cents, 0.0, 1e-8);
        assert_within(c.rms_cents, 0.0, 1e-8);
    }
}

/* --- closed forms -------------------------------------------------------------------------- */

static bridge random_bridge(prng *rng, size_t n) {
    bridge b = {.n = n};
    double across = prng_uniform(rng, -80.0, 80.0);
    for (size_t i = 0; i < n; i++) {
        across += prng_uniform(rng, 3.0, 18.0);
        b.strings[i] = (sb_shared_string){prng_uniform(rng, -4.0, 6.0), across,
                                          CENTS_PER_LN / prng_uniform(rng, 330.0, 900.0),
                                          exp(prng_uniform(rng, -1.0, 1.0))};
    }
    return b;
}

/* Flat: the least largest error is the greatest over pairs of w_i w_j |p_i - p_j|/(w_i + w_j);
 * least squares the mean weighted by w^2. */
static void test_flat_closed_forms(void **state) {
    (void)state;
    prng rng = prng_seeded(31);
    for (int k = 0; k < 500; k++) {
        const bridge b = random_bridge(&rng, 1 + (size_t)prng_uniform(&rng, 0.0, 12.0));
        double largest = 0.0, sum = 0.0, weights = 0.0;
        for (size_t i = 0; i < b.n; i++) {
            const double wi = b.strings[i].weight * b.strings[i].cents_per_mm;
            weights += wi * wi;
            sum += wi * wi * b.strings[i].needed_mm;
            for (size_t j = 0; j < i; j++) {
                const double wj = b.strings[j].weight * b.strings[j].cents_per_mm;
                const double apart = fabs(b.strings[i].needed_mm - b.strings[j].needed_mm);
                largest = fmax(largest, wi * wj * apart / (wi + wj));
            }
        }
        const sb_compromise l = place_on(&b, SB_SHAPE_FLAT, SB_FIT_LARGEST);
        assert_within(largest_at(&b, l.position_mm, 0.0), largest, 1e-7);
        const sb_compromise s = place_on(&b, SB_SHAPE_FLAT, SB_FIT_SQUARES);
        assert_within(s.position_mm, sum / weights, 1e-9);
    }
}

/* Slanted least squares by the plain normal equations. */
static void test_slant_squares_closed_form(void **state) {
    (void)state;
    prng rng = prng_seeded(32);
    for (int k = 0; k < 500; k++) {
        const bridge b = random_bridge(&rng, 2 + (size_t)prng_uniform(&rng, 0.0, 12.0));
        double s = 0.0, sy = 0.0, syy = 0.0, sp = 0.0, syp = 0.0;
        for (size_t i = 0; i < b.n; i++) {
            const double w = pow(b.strings[i].weight * b.strings[i].cents_per_mm, 2.0);
            const double y = b.strings[i].across_mm, p = b.strings[i].needed_mm;
            s += w;
            sy += w * y;
            syy += w * y * y;
            sp += w * p;
            syp += w * y * p;
        }
        const double slope = (s * syp - sy * sp) / (s * syy - sy * sy);
        const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_SQUARES);
        assert_within(c.slope, slope, 1e-9);
        assert_within(c.position_mm, (sp - slope * sy) / s, 1e-7);
    }
}

/* --- an independent search -------------------------------------------------------------------- */

typedef double (*objective)(const bridge *b, double position, double slope);

/* What a saddle may do: the place of both ends. */
typedef struct {
    double across[2], least[2], most[2];
} travel;

/* The objective at given places of the ends. */
static double at_ends(objective f, const bridge *b, const travel *t, double first, double second) {
    const double slope = (second - first) / (t->across[1] - t->across[0]);
    return f(b, first - slope * t->across[0], slope);
}

/* Golden section over the second end for a fixed first one; both objectives are convex. */
static double best_second(objective f, const bridge *b, const travel *t, double first) {
    const double ratio = 0.61803398874989485;
    double low = t->least[1], high = t->most[1];
    for (int i = 0; i < 70; i++) {
        const double x = high - ratio * (high - low), y = low + ratio * (high - low);
        if (at_ends(f, b, t, first, x) <= at_ends(f, b, t, first, y))
            high = y;
        else
            low = x;
    }
    return at_ends(f, b, t, first, 0.5 * (low + high));
}

static double search(objective f, const bridge *b, const travel *t) {
    const double ratio = 0.61803398874989485;
    double low = t->least[0], high = t->most[0];
    for (int i = 0; i < 70; i++) {
        const double x = high - ratio * (high - low), y = low + ratio * (high - low);
        if (best_second(f, b, t, x) <= best_second(f, b, t, y))
            high = y;
        else
            low = x;
    }
    return best_second(f, b, t, 0.5 * (low + high));
}

static travel random_travel(prng *rng, const bridge *b) {
    travel t = {.across = {b->strings[0].across_mm - prng_uniform(rng, 0.0, 10.0),
                           b->strings[b->n - 1].across_mm + prng_uniform(rng, 0.0, 10.0)}};
    for (int i = 0; i < 2; i++) {
        t.least[i] = prng_uniform(rng, -5.0, 1.0);
        t.most[i] = t.least[i] + prng_uniform(rng, 0.5, 6.0);
    }
    return t;
}

static sb_compromise_options limited(sb_saddle_shape shape, sb_compromise_fit fit,
                                     const travel *t) {
    return (sb_compromise_options){
        .shape = shape,
        .fit = fit,
        .limited = true,
        .ends = {{t->across[0], t->least[0], t->most[0]}, {t->across[1], t->least[1], t->most[1]}},
    };
}

static void assert_in_travel(const sb_compromise *c, const travel *t) {
    for (int i = 0; i < 2; i++) {
        const double there = c->position_mm + c->slope * t->across[i];
        assert_true(there >= t->least[i] - 1e-8 && there <= t->most[i] + 1e-8);
    }
}

/* Slanted saddles within travel, and with travel too wide to matter. */
static void test_slant_against_a_search(void **state) {
    (void)state;
    prng rng = prng_seeded(33);
    size_t stopped = 0;
    for (int k = 0; k < 150; k++) {
        const bridge b = random_bridge(&rng, 2 + (size_t)prng_uniform(&rng, 0.0, 7.0));
        travel t = random_travel(&rng, &b);
        const bool wide = k % 3 == 0;
        for (int i = 0; wide && i < 2; i++) {
            t.least[i] = -60.0;
            t.most[i] = 60.0;
        }
        sb_compromise_options o = limited(SB_SHAPE_SLANT, SB_FIT_LARGEST, &t);
        o.limited = !wide;
        sb_compromise c = place_with(&b, &o);
        const double least = search(largest_at, &b, &t);
        assert_within(largest_at(&b, c.position_mm, c.slope), least, 1e-5);
        assert_true(largest_at(&b, c.position_mm, c.slope) <= least + 1e-7);
        assert_in_travel(&c, &t);
        stopped += c.at_limit ? 1U : 0U;
        o.fit = SB_FIT_SQUARES;
        c = place_with(&b, &o);
        const double sum = search(squares_at, &b, &t);
        assert_within(squares_at(&b, c.position_mm, c.slope), sum, 1e-6 * (1.0 + sum));
        assert_in_travel(&c, &t);
    }
    assert_true(stopped > 30 && stopped < 120);
}

/* A flat saddle within travel stands at its optimum or at the limit nearest to it. */
static void test_flat_within_travel(void **state) {
    (void)state;
    prng rng = prng_seeded(34);
    for (int k = 0; k < 500; k++) {
        const bridge b = random_bridge(&rng, 1 + (size_t)prng_uniform(&rng, 0.0, 7.0));
        const travel t = random_travel(&rng, &b);
        const double least = fmax(t.least[0], t.least[1]), most = fmin(t.most[0], t.most[1]);
        for (int fit = SB_FIT_LARGEST; fit <= SB_FIT_SQUARES; fit++) {
            const sb_compromise_options o = limited(SB_SHAPE_FLAT, (sb_compromise_fit)fit, &t);
            sb_compromise c = {.position_mm = 77.0};
            const sb_status status = sb_compromise_place(b.strings, b.n, &o, &c);
            assert_int_equal(status, least <= most ? SB_OK : SB_E_RANGE);
            if (status != SB_OK) {
                assert_within(c.position_mm, 77.0, 0.0);
                continue;
            }
            const double wish = place_on(&b, SB_SHAPE_FLAT, (sb_compromise_fit)fit).position_mm;
            assert_within(c.position_mm, fmin(fmax(wish, least), most), 1e-8);
            assert_within(c.slope, 0.0, 0.0);
            assert_int_equal(c.at_limit, wish < least || wish > most);
        }
    }
}

/* Never worse than any place of a fine grid, for both ways of choosing. */
static void test_no_grid_point_is_better(void **state) {
    (void)state;
    prng rng = prng_seeded(35);
    for (int k = 0; k < 20; k++) {
        const bridge b = random_bridge(&rng, 6);
        const travel t = random_travel(&rng, &b);
        const sb_compromise_options ol = limited(SB_SHAPE_SLANT, SB_FIT_LARGEST, &t);
        const sb_compromise_options os = limited(SB_SHAPE_SLANT, SB_FIT_SQUARES, &t);
        const sb_compromise l = place_with(&b, &ol), s = place_with(&b, &os);
        const double largest = largest_at(&b, l.position_mm, l.slope);
        const double sum = squares_at(&b, s.position_mm, s.slope);
        for (int i = 0; i <= 100; i++) {
            for (int j = 0; j <= 100; j++) {
                const double first = t.least[0] + (t.most[0] - t.least[0]) * i / 100.0;
                const double second = t.least[1] + (t.most[1] - t.least[1]) * j / 100.0;
                assert_true(at_ends(largest_at, &b, &t, first, second) >= largest - 1e-7);
                assert_true(at_ends(squares_at, &b, &t, first, second) >= sum - 1e-7);
            }
        }
    }
}

/* Chebyshev: without limits the largest weighted error is met by three strings, + - +. */
static void test_three_strings_alternate(void **state) {
    (void)state;
    prng rng = prng_seeded(36);
    for (int k = 0; k < 300; k++) {
        const bridge b = random_bridge(&rng, 3 + (size_t)prng_uniform(&rng, 0.0, 9.0));
        const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
        const double largest = largest_at(&b, c.position_mm, c.slope);
        int signs = 0;
        double last = 0.0;
        for (size_t i = 0; i < b.n; i++) {
            const double weighted = b.strings[i].weight * c.remaining_cents[i];
            if (fabs(weighted) > largest - 1e-6) {
                signs += weighted * last <= 0.0 ? 1 : 0;
                last = weighted;
            }
        }
        assert_true(signs >= 3);
    }
}

/* --- what the strings leave open ------------------------------------------------------------ */

static void test_one_string(void **state) {
    (void)state;
    const bridge b = bridge_of((double[]){1.7}, 1, 647.7, 10.5);
    for (int shape = SB_SHAPE_FLAT; shape <= SB_SHAPE_SLANT; shape++) {
        for (int fit = SB_FIT_LARGEST; fit <= SB_FIT_SQUARES; fit++) {
            const sb_compromise c = place_on(&b, (sb_saddle_shape)shape, (sb_compromise_fit)fit);
            assert_within(c.position_mm, 1.7, 1e-8);
            assert_within(c.slope, 0.0, 1e-9);
            assert_within(c.worst_cents, 0.0, 1e-8);
        }
    }
    /* One end held at 0: the slope must do it, and as little of it as will. */
    const travel t = {{-10.0, 10.0}, {0.0, -9.0}, {0.0, 9.0}};
    const sb_compromise_options o = limited(SB_SHAPE_SLANT, SB_FIT_LARGEST, &t);
    const sb_compromise c = place_with(&b, &o);
    assert_within(c.slope, 0.17, 1e-8);
    assert_within(c.worst_cents, 0.0, 1e-7);
    assert_true(c.at_limit);
}

static void test_strings_at_one_place(void **state) {
    (void)state;
    bridge b = bridge_of((double[]){1.0, 3.0, 2.2}, 3, 647.7, 0.0);
    for (size_t i = 0; i < 3; i++)
        b.strings[i].across_mm = 33.0;
    sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
    assert_within(c.position_mm + 33.0 * c.slope, 2.0, 1e-8);
    assert_within(c.slope, 0.0, 1e-9);
    c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_SQUARES);
    assert_within(c.position_mm, 6.2 / 3.0, 1e-8);
    assert_within(c.slope, 0.0, 1e-9);
}

/* Two courses: the first pair alone sets the largest error, at any slope that leaves the
 * second within it. The second must not be made as bad for nothing. */
static void test_shared_optimum_is_shared_well(void **state) {
    (void)state;
    bridge b = bridge_of((double[]){1.0, 3.0, 2.0, 2.2}, 4, 647.7, 0.0);
    b.strings[2].across_mm = b.strings[3].across_mm = 40.0;
    const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
    const double k = CENTS_PER_LN / 647.7;
    assert_within(c.position_mm, 2.0, 1e-7);
    assert_within(c.slope, 0.1 / 40.0, 1e-8);
    assert_within(c.worst_cents, k, 1e-7);
    assert_within(c.remaining_cents[3], 0.1 * k, 1e-6);
}

static void test_free_on_one_side(void **state) {
    (void)state;
    const bridge b = bridge_of((double[]){1.2, 3.2, 2.6}, 3, 647.7, 10.5);
    const double inf = (double)INFINITY;
    const travel t = {{0.0, 21.0}, {-inf, -inf}, {1.5, inf}};
    const sb_compromise_options o = limited(SB_SHAPE_FLAT, SB_FIT_LARGEST, &t);
    const sb_compromise c = place_with(&b, &o);
    assert_within(c.position_mm, 1.5, 1e-9);
    assert_true(c.at_limit);
    assert_within(c.worst_cents, 1.7 * CENTS_PER_LN / 647.7, 1e-8);
}

static void test_origin_and_order_do_not_matter(void **state) {
    (void)state;
    prng rng = prng_seeded(37);
    for (int k = 0; k < 200; k++) {
        const bridge b = random_bridge(&rng, 6);
        bridge other = b;
        for (size_t i = 0; i < 6; i++) {
            other.strings[i] = b.strings[5 - i];
            other.strings[i].across_mm += 300.0;
        }
        for (int fit = SB_FIT_LARGEST; fit <= SB_FIT_SQUARES; fit++) {
            const sb_compromise a = place_on(&b, SB_SHAPE_SLANT, (sb_compromise_fit)fit);
            const sb_compromise c = place_on(&other, SB_SHAPE_SLANT, (sb_compromise_fit)fit);
            assert_within(c.slope, a.slope, 1e-8);
            assert_within(c.position_mm + 300.0 * c.slope, a.position_mm, 1e-6);
            for (size_t i = 0; i < 6; i++)
                assert_within(c.remaining_cents[i], a.remaining_cents[5 - i], 1e-6);
        }
    }
}

static void test_wild_weights(void **state) {
    (void)state;
    bridge b = bridge_of((double[]){1.0, 2.0, 4.0}, 3, 647.7, 10.5);
    b.strings[1].weight = 1e9; /* this one, whatever it costs; then the others' middle */
    const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
    assert_within(c.remaining_cents[1], 0.0, 1e-6);
    assert_within(c.remaining_cents[0], c.remaining_cents[2], 1e-3);
}

static void test_as_many_strings_as_fit(void **state) {
    (void)state;
    prng rng = prng_seeded(38);
    bridge b = random_bridge(&rng, MAX_N);
    const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
    const travel t = {
        {b.strings[0].across_mm, b.strings[MAX_N - 1].across_mm}, {-60.0, -60.0}, {60.0, 60.0}};
    assert_within(largest_at(&b, c.position_mm, c.slope), search(largest_at, &b, &t), 1e-5);
}

/* --- against the exact calculus -----------------------------------------------------------------
 */

/* Strings with measured errors, their moves by sb_saddle_move, the saddle placed, and the
 * errors then by sb_saddle_error_after: within 3 % of what was announced. */
static void test_what_remains_is_what_is_then_measured(void **state) {
    (void)state;
    prng rng = prng_seeded(39);
    for (int k = 0; k < 300; k++) {
        double errors[6];
        bridge b = {.n = 6};
        const sb_geometry geometry = {647.7, 649.5, 12};
        for (size_t i = 0; i < 6; i++) {
            sb_move move;
            errors[i] = prng_uniform(&rng, -2.0, 8.0);
            assert_int_equal(sb_saddle_move(&geometry, errors[i], 0.1, &move), SB_OK);
            b.strings[i] =
                (sb_shared_string){move.move_mm, 10.5 * (double)i, CENTS_PER_LN / 647.7, 1.0};
        }
        const sb_compromise c = place_on(&b, SB_SHAPE_SLANT, SB_FIT_LARGEST);
        for (size_t i = 0; i < 6; i++) {
            double after = 0.0;
            const double there = c.position_mm + c.slope * b.strings[i].across_mm;
            assert_int_equal(sb_saddle_error_after(&geometry, errors[i], there, &after), SB_OK);
            assert_within(c.remaining_cents[i], after, 0.03 * fabs(after) + 1e-6);
        }
    }
}

/* --- refusals
 * -------------------------------------------------------------------------------------- */

static void test_refusals(void **state) {
    (void)state;
    const double nan = (double)NAN, inf = (double)INFINITY;
    const sb_shared_string good = {1.0, 0.0, 2.67, 1.0};
    const sb_shared_string bad[] = {
        {nan, 0.0, 2.67, 1.0},   {inf, 0.0, 2.67, 1.0},   {1001.0, 0.0, 2.67, 1.0},
        {1.0, nan, 2.67, 1.0},   {1.0, -inf, 2.67, 1.0},  {1.0, 1001.0, 2.67, 1.0},
        {1.0, 0.0, nan, 1.0},    {1.0, 0.0, 0.0, 1.0},    {1.0, 0.0, -2.67, 1.0},
        {1.0, 0.0, inf, 1.0},    {1.0, 0.0, 2.67, nan},   {1.0, 0.0, 2.67, 0.0},
        {1.0, 0.0, 2.67, -1.0},  {1.0, 0.0, 2.67, inf},   {1.0, 0.0, 1e300, 1.0},
        {1.0, 0.0, 1e-300, 1.0}, {1.0, 0.0, 2.67, 1e300}, {1.0, 0.0, 2.67, 1e-300},
    };
    const sb_travel ends[][2] = {
        {{0.0, 1.0, 0.0}, {10.0, -1.0, 1.0}}, {{nan, -1.0, 1.0}, {10.0, -1.0, 1.0}},
        {{0.0, nan, 1.0}, {10.0, -1.0, 1.0}}, {{0.0, -1.0, 1.0}, {10.0, -1.0, nan}},
        {{0.0, inf, inf}, {10.0, -1.0, 1.0}}, {{0.0, -1.0, 1.0}, {10.0, -inf, -inf}},
    };
    sb_compromise_options o = {.shape = SB_SHAPE_FLAT, .fit = SB_FIT_LARGEST};
    sb_shared_string strings[MAX_N + 1];
    sb_compromise c = {.position_mm = 77.0};
    for (size_t i = 0; i <= MAX_N; i++)
        strings[i] = good;
    assert_int_equal(sb_compromise_place(strings, 0, &o, &c), SB_E_TOO_SHORT);
    assert_int_equal(sb_compromise_place(strings, MAX_N + 1, &o, &c), SB_E_RANGE);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        strings[1] = bad[i];
        assert_int_equal(sb_compromise_place(strings, 2, &o, &c), SB_E_RANGE);
    }
    strings[1] = good;
    o.limited = true;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        memcpy(o.ends, ends[i], sizeof o.ends);
        assert_int_equal(sb_compromise_place(strings, 2, &o, &c), SB_E_RANGE);
    }
    assert_within(c.position_mm, 77.0, 0.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_cases),
        cmocka_unit_test(test_weights_and_scales),
        cmocka_unit_test(test_two_strings),
        cmocka_unit_test(test_flat_closed_forms),
        cmocka_unit_test(test_slant_squares_closed_form),
        cmocka_unit_test(test_slant_against_a_search),
        cmocka_unit_test(test_flat_within_travel),
        cmocka_unit_test(test_no_grid_point_is_better),
        cmocka_unit_test(test_three_strings_alternate),
        cmocka_unit_test(test_one_string),
        cmocka_unit_test(test_strings_at_one_place),
        cmocka_unit_test(test_shared_optimum_is_shared_well),
        cmocka_unit_test(test_free_on_one_side),
        cmocka_unit_test(test_origin_and_order_do_not_matter),
        cmocka_unit_test(test_wild_weights),
        cmocka_unit_test(test_as_many_strings_as_fit),
        cmocka_unit_test(test_what_remains_is_what_is_then_measured),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
