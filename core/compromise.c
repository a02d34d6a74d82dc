#include "core/compromise.h"

#include <math.h>

#define MAX_MM          1000.0 /* of needed and across */
#define MAX_PULL        1e9    /* of cents_per_mm and weight; and one over it the least */
#define FAR_MM          1e4    /* bounds every unknown, so that the program has corners */
#define FEASIBLE_MM     1e-10  /* rounding allowed a constraint */
#define LEAST_SPREAD_MM 1e-6   /* strings nearer than this stand at one place across */
#define MAX_ROWS        (2 * SB_MAX_SHARED + 8)

/* A half-space: middle * M + tilt * D + error * T <= bound, where the saddle's place is
 * M + D (across - centre)/width and T the largest weighted error, in mm. */
typedef struct {
    double middle, tilt, error, bound;
} row;

typedef struct {
    double centre_mm, width_mm;      /* of `across`: the weighted mean, the strings' spread */
    double pull[SB_MAX_SHARED];      /* weight * cents_per_mm, the greatest being 1 */
    double tilt[SB_MAX_SHARED];      /* (across - centre)/width */
    double best_middle, best_tilt;   /* least squares without constraints; with the centre */
    double middle_stiff, tilt_stiff; /* so chosen, the sum rises as stiff * distance^2 in */
    row rows[MAX_ROWS];              /* each of the two, independently */
    size_t n_rows;
} program;

typedef struct {
    double middle, tilt;
} place;

/* --- setting up ---------------------------------------------------------------------- */

static bool valid_string(const sb_shared_string *s) {
    return fabs(s->needed_mm) <= MAX_MM && fabs(s->across_mm) <= MAX_MM &&
           s->cents_per_mm >= 1.0 / MAX_PULL && s->cents_per_mm <= MAX_PULL &&
           s->weight >= 1.0 / MAX_PULL && s->weight <= MAX_PULL;
}

static bool valid_travel(const sb_travel *end) {
    return fabs(end->across_mm) <= MAX_MM && end->least_mm <= end->most_mm &&
           end->least_mm < (double)INFINITY && end->most_mm > -(double)INFINITY;
}

static bool valid(const sb_shared_string strings[], size_t n,
                  const sb_compromise_options *options) {
    if (n > SB_MAX_SHARED) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        if (!valid_string(&strings[i])) {
            return false;
        }
    }
    return !options->limited ||
           (valid_travel(&options->ends[0]) && valid_travel(&options->ends[1]));
}

static void set_pulls(const sb_shared_string strings[], size_t n, program *p) {
    double greatest = 0.0;

    for (size_t i = 0; i < n; i++) {
        p->pull[i] = strings[i].weight * strings[i].cents_per_mm;
        greatest = fmax(greatest, p->pull[i]);
    }
    for (size_t i = 0; i < n; i++) {
        p->pull[i] /= greatest;
    }
}

static void set_across(const sb_shared_string strings[], size_t n, program *p) {
    double low = (double)INFINITY;
    double high = -(double)INFINITY;
    double sum = 0.0;
    double weighted = 0.0;

    for (size_t i = 0; i < n; i++) {
        low = fmin(low, strings[i].across_mm);
        high = fmax(high, strings[i].across_mm);
        sum += p->pull[i] * p->pull[i];
        weighted += p->pull[i] * p->pull[i] * strings[i].across_mm;
    }
    const bool spread = high - low > LEAST_SPREAD_MM;
    p->centre_mm = spread ? weighted / sum : low;
    p->width_mm = spread ? high - low : 1.0;
    for (size_t i = 0; i < n; i++) {
        p->tilt[i] = spread ? (strings[i].across_mm - p->centre_mm) / p->width_mm : 0.0;
    }
}

/* About the weighted centre middle and tilt do not mix, so the normal equations are two. */
static void set_squares(const sb_shared_string strings[], size_t n, program *p) {
    double middle = 0.0;
    double tilt = 0.0;

    p->middle_stiff = 0.0;
    p->tilt_stiff = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double w = p->pull[i] * p->pull[i];
        p->middle_stiff += w;
        p->tilt_stiff += w * p->tilt[i] * p->tilt[i];
        middle += w * strings[i].needed_mm;
        tilt += w * p->tilt[i] * strings[i].needed_mm;
    }
    p->best_middle = middle / p->middle_stiff;
    p->best_tilt = p->tilt_stiff > 0.0 ? tilt / p->tilt_stiff : 0.0;
    if (p->tilt_stiff <= 0.0) {
        p->tilt_stiff = p->middle_stiff; /* no string minds; least tilt is preferred */
    }
}

static void add_row(program *p, double middle, double tilt, double error, double bound) {
    p->rows[p->n_rows++] = (row){middle, tilt, error, bound};
}

static void add_limits(const sb_compromise_options *options, program *p) {
    const double most_tilt = options->shape == SB_SHAPE_FLAT ? 0.0 : FAR_MM;

    add_row(p, 1.0, 0.0, 0.0, FAR_MM);
    add_row(p, -1.0, 0.0, 0.0, FAR_MM);
    add_row(p, 0.0, 1.0, 0.0, most_tilt);
    add_row(p, 0.0, -1.0, 0.0, most_tilt);
    for (size_t i = 0; options->limited && i < 2; i++) {
        const sb_travel *end = &options->ends[i];
        const double tilt = (end->across_mm - p->centre_mm) / p->width_mm;
        if (end->most_mm < FAR_MM) {
            add_row(p, 1.0, tilt, 0.0, end->most_mm);
        }
        if (end->least_mm > -FAR_MM) {
            add_row(p, -1.0, -tilt, 0.0, -end->least_mm);
        }
    }
}

/* Either way off, each string's weighted error is at most T. */
static void add_strings(const sb_shared_string strings[], size_t n, program *p) {
    for (size_t i = 0; i < n; i++) {
        const double pull = p->pull[i];
        const double needed = pull * strings[i].needed_mm;
        add_row(p, pull, pull * p->tilt[i], -1.0, needed);
        add_row(p, -pull, -pull * p->tilt[i], -1.0, -needed);
    }
}

/* --- the least largest error --------------------------------------------------------- */

static double determinant(const double a[3], const double b[3], const double c[3]) {
    return a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0]) +
           a[2] * (b[0] * c[1] - b[1] * c[0]);
}

/* The corner where three constraints hold exactly, by Cramer's rule. One from rows that are
 * nearly parallel may be far off, but then it is not feasible or does no harm. */
static bool corner(const row *a, const row *b, const row *c, place *at, double *error) {
    const double middle[] = {a->middle, b->middle, c->middle};
    const double tilt[] = {a->tilt, b->tilt, c->tilt};
    const double err[] = {a->error, b->error, c->error};
    const double bound[] = {a->bound, b->bound, c->bound};
    const double whole = determinant(middle, tilt, err);

    if (!(fabs(whole) > 0.0)) {
        return false;
    }
    at->middle = determinant(bound, tilt, err) / whole;
    at->tilt = determinant(middle, bound, err) / whole;
    *error = determinant(middle, tilt, bound) / whole;
    return true;
}

static bool feasible(const program *p, const place *at, double error) {
    for (size_t i = 0; i < p->n_rows; i++) {
        const row *r = &p->rows[i];
        if (!(r->middle * at->middle + r->tilt * at->tilt + r->error * error <=
              r->bound + FEASIBLE_MM)) {
            return false;
        }
    }
    return true;
}

/* A linear program has its optimum at a corner; with so few constraints all are tried. */
static bool least_error(const program *p, double *least) {
    *least = (double)INFINITY;
    for (size_t i = 0; i < p->n_rows; i++) {
        for (size_t j = 0; j < i; j++) {
            for (size_t k = 0; k < j; k++) {
                place at;
                double error = 0.0;
                if (corner(&p->rows[i], &p->rows[j], &p->rows[k], &at, &error) && error < *least &&
                    feasible(p, &at, error)) {
                    *least = error;
                }
            }
        }
    }
    return isfinite(*least);
}

/* --- the least sum of squares within constraints --------------------------------------- */

static double squares(const program *p, const place *at) {
    const double middle = at->middle - p->best_middle;
    const double tilt = at->tilt - p->best_tilt;

    return p->middle_stiff * middle * middle + p->tilt_stiff * tilt * tilt;
}

static void keep_better(const program *p, double error, const place *at, place *best,
                        double *least) {
    const double sum = squares(p, at);

    if (sum < *least && feasible(p, at, error)) {
        *least = sum;
        *best = *at;
    }
}

/* The best place on one constraint's line. */
static place foot_on(const program *p, const row *r, double bound) {
    const double middle = r->middle / p->middle_stiff;
    const double tilt = r->tilt / p->tilt_stiff;
    const double beyond = r->middle * p->best_middle + r->tilt * p->best_tilt - bound;
    const double step = beyond / (r->middle * middle + r->tilt * tilt);

    return (place){p->best_middle - step * middle, p->best_tilt - step * tilt};
}

/* Where two constraints' lines cross, T being given; not finite where they do not. */
static place crossing_of(const row *a, const row *b, double error) {
    const double a_bound = a->bound - a->error * error;
    const double b_bound = b->bound - b->error * error;
    const double whole = a->middle * b->tilt - a->tilt * b->middle;

    if (!(fabs(whole) > 0.0)) {
        return (place){(double)NAN, (double)NAN};
    }
    return (place){(a_bound * b->tilt - a->tilt * b_bound) / whole,
                   (a->middle * b_bound - a_bound * b->middle) / whole};
}

/* The feasible place nearest the least-squares one, T being given: that itself, its foot on
 * one line, or the crossing of two. */
static bool nearest_place(const program *p, double error, place *best) {
    const place free = {p->best_middle, p->best_tilt};
    double least = (double)INFINITY;

    keep_better(p, error, &free, best, &least);
    for (size_t i = 0; i < p->n_rows; i++) {
        const row *a = &p->rows[i];
        const place foot = foot_on(p, a, a->bound - a->error * error);
        keep_better(p, error, &foot, best, &least);
        for (size_t j = 0; j < i; j++) {
            const place crossing = crossing_of(a, &p->rows[j], error);
            keep_better(p, error, &crossing, best, &least);
        }
    }
    return isfinite(least);
}

/* --- out ----------------------------------------------------------------------------- */

static void write_place(const sb_shared_string strings[], size_t n,
                        const sb_compromise_options *options, const program *p, const place *at,
                        sb_compromise *out) {
    double sum = 0.0;

    *out = (sb_compromise){.slope = 0.0};
    if (options->shape == SB_SHAPE_SLANT) {
        out->slope = at->tilt / p->width_mm;
    }
    out->position_mm = at->middle - out->slope * p->centre_mm;
    for (size_t i = 0; i < n; i++) {
        const double there = out->position_mm + out->slope * strings[i].across_mm;
        const double remaining = strings[i].cents_per_mm * (strings[i].needed_mm - there);
        out->remaining_cents[i] = remaining;
        out->worst_cents = fmax(out->worst_cents, fabs(remaining));
        sum += remaining * remaining;
    }
    out->rms_cents = sqrt(sum / (double)n);
    for (size_t i = 0; options->limited && i < 2; i++) {
        const sb_travel *end = &options->ends[i];
        const double there = out->position_mm + out->slope * end->across_mm;
        out->at_limit = out->at_limit || there <= end->least_mm + LEAST_SPREAD_MM ||
                        there >= end->most_mm - LEAST_SPREAD_MM;
    }
}

sb_status sb_compromise_place(const sb_shared_string strings[], size_t n,
                              const sb_compromise_options *options, sb_compromise *out) {
    program p = {.n_rows = 0};
    double error = 0.0;
    place at = {0.0, 0.0};

    if (n == 0) {
        return SB_E_TOO_SHORT;
    }
    if (!valid(strings, n, options)) {
        return SB_E_RANGE;
    }
    set_pulls(strings, n, &p);
    set_across(strings, n, &p);
    set_squares(strings, n, &p);
    add_limits(options, &p);
    if (options->fit == SB_FIT_LARGEST) {
        add_strings(strings, n, &p);
        if (!least_error(&p, &error)) {
            return SB_E_RANGE;
        }
    }
    if (!nearest_place(&p, error, &at)) {
        return SB_E_RANGE;
    }
    write_place(strings, n, options, &p, &at, out);
    return SB_OK;
}
