#include "core/compensate.h"

#include <math.h>

#define STEP_MM   1e-2
#define MAX_STEPS 40
#define NEAR_MM   1e-8

typedef struct {
    double saddle, nut;
} place;

static sb_status errors_at(const sb_compensation_task *t, const sb_tuned *s, place at,
                           double cents[]) {
    for (size_t i = 0; i < t->n_frets; i++) {
        sb_status status = sb_fretted_error(&t->neck, s, t->frets[i], at.saddle, at.nut, &cents[i]);
        if (status != SB_OK)
            return status;
    }
    return SB_OK;
}

static double product(const double a[], const double b[], size_t n) {
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

/* How the errors change per mm of a move, by central differences. */
static sb_status slopes(const sb_compensation_task *t, const sb_tuned *s, place at, place by,
                        double slope[]) {
    double less[SB_FRETS_MAX];
    const place up = {at.saddle + by.saddle, at.nut + by.nut};
    const place down = {at.saddle - by.saddle, at.nut - by.nut};
    sb_status status = errors_at(t, s, up, slope);
    if (status == SB_OK)
        status = errors_at(t, s, down, less);
    for (size_t i = 0; status == SB_OK && i < t->n_frets; i++)
        slope[i] = (slope[i] - less[i]) / (2.0 * STEP_MM);
    return status;
}

/* One Gauss-Newton step; a saddle alone is the same with no slope for the nut. */
static sb_status step(const sb_compensation_task *t, const sb_tuned *s, place at, place *by) {
    double cents[SB_FRETS_MAX], back[SB_FRETS_MAX], away[SB_FRETS_MAX];
    const size_t n = t->n_frets;
    sb_status status = errors_at(t, s, at, cents);
    if (status == SB_OK)
        status = slopes(t, s, at, (place){STEP_MM, 0.0}, back);
    if (status == SB_OK && t->nut)
        status = slopes(t, s, at, (place){0.0, STEP_MM}, away);
    if (status != SB_OK)
        return status;
    const double bb = product(back, back, n), bc = product(back, cents, n);
    if (!t->nut) {
        *by = (place){-bc / bb, 0.0};
        return isfinite(by->saddle) ? SB_OK : SB_E_UNDETERMINED;
    }
    const double ba = product(back, away, n), aa = product(away, away, n);
    const double ac = product(away, cents, n), det = bb * aa - ba * ba;
    if (!(det > 1e-9 * bb * aa))
        return SB_E_UNDETERMINED;
    *by = (place){(ac * ba - bc * aa) / det, (bc * ba - ac * bb) / det};
    return SB_OK;
}

static sb_status solve(const sb_compensation_task *t, const sb_tuned *s, place *at) {
    place now = {0.0, 0.0}, by = {0.0, 0.0};
    for (int i = 0; i < MAX_STEPS; i++) {
        sb_status status = step(t, s, now, &by);
        if (status != SB_OK)
            return status;
        now.saddle += by.saddle;
        now.nut += by.nut;
        if (fabs(by.saddle) + fabs(by.nut) <= NEAR_MM) {
            *at = now;
            return SB_OK;
        }
    }
    return SB_E_UNDETERMINED;
}

/* The wire, moved by standard errors, and its solution. */
static sb_status solve_shifted(const sb_compensation_task *t, const sb_wire_data *data,
                               const double shift[], sb_tuned *s, place *at) {
    *s = (sb_tuned){.hz = t->hz, .ends = t->ends + shift[SB_UNSURE_ENDS] * t->ends_std_error};
    sb_status status = sb_wire_make(data, t->neck.scale_mm, t->hz, shift, &s->wire);
    s->wire.stretch_n *= t->neck.scale_mm / (t->neck.scale_mm + t->behind_mm);
    return status == SB_OK ? solve(t, s, at) : status;
}

/* Half of what a standard error up differs from one down, for each unsure figure. */
static sb_status spread(const sb_compensation_task *t, const sb_wire_data *data,
                        sb_compensation *c) {
    double nut = 0.0, saddle = 0.0, tension = 0.0, heard = 0.0;
    for (int which = 0; which < SB_UNSURES; which++) {
        double shift[SB_UNSURES] = {0.0};
        sb_tuned up, down;
        place at_up = {0.0, 0.0}, at_down = {0.0, 0.0};
        shift[which] = 1.0;
        sb_status status = solve_shifted(t, data, shift, &up, &at_up);
        shift[which] = -1.0;
        if (status == SB_OK)
            status = solve_shifted(t, data, shift, &down, &at_down);
        if (status != SB_OK)
            return status;
        c->saddle_by_mm[which] = (at_up.saddle - at_down.saddle) / 2.0;
        saddle = hypot(saddle, c->saddle_by_mm[which]);
        nut = hypot(nut, (at_up.nut - at_down.nut) / 2.0);
        tension = hypot(tension, (up.wire.tension_n - down.wire.tension_n) / 2.0);
        heard = hypot(heard, (up.wire.inharmonicity - down.wire.inharmonicity) / 2.0);
    }
    c->saddle_std_error_mm = saddle;
    c->nut_std_error_mm = nut;
    c->tension_std_error_n = tension;
    c->inharmonicity_std_error = heard;
    return SB_OK;
}

static double rms(const double cents[], size_t n) {
    return sqrt(product(cents, cents, n) / (double)n);
}

sb_status sb_compensate(const sb_compensation_task *task, const sb_wire_data *data,
                        sb_compensation *out) {
    const double unmoved[SB_UNSURES] = {0.0};
    sb_compensation c = {.saddle_mm = 0.0};
    sb_tuned s;
    place at = {0.0, 0.0};
    if (task->n_frets < 1 + (size_t)task->nut)
        return SB_E_TOO_SHORT;
    if (task->n_frets > SB_FRETS_MAX || !(task->ends_std_error >= 0.0) ||
        !(task->behind_mm >= 0.0 && task->behind_mm <= 1000.0))
        return SB_E_RANGE;
    sb_status status = solve_shifted(task, data, unmoved, &s, &at);
    if (status == SB_OK)
        status = spread(task, data, &c);
    if (status == SB_OK)
        status = errors_at(task, &s, (place){0.0, 0.0}, c.before_cents);
    if (status == SB_OK)
        status = errors_at(task, &s, at, c.cents);
    if (status != SB_OK)
        return status;
    c.wire = s.wire;
    c.saddle_mm = at.saddle;
    c.nut_mm = at.nut;
    c.rms_before_cents = rms(c.before_cents, task->n_frets);
    c.rms_cents = rms(c.cents, task->n_frets);
    *out = c;
    return SB_OK;
}

/* The part of a figure's variance that two strings of one make share. */
static double shared_part(int which, bool alike) {
    switch ((sb_unsure)which) {
    case SB_UNSURE_ENDS: return 1.0;
    case SB_UNSURE_STRETCH: return alike ? 1.0 : 0.0;
    case SB_UNSURE_CORE: return alike ? 0.75 : 0.0; /* 1 - (5 %/10 %)^2 */
    default: return 0.0;
    }
}

double sb_compensation_shift_error(const sb_compensation *a, const sb_compensation *b, bool alike,
                                   bool same) {
    double square = 0.0;
    for (int which = 0; which < SB_UNSURES; which++) {
        const double shared = same ? 1.0 : shared_part(which, alike);
        const double from = a->saddle_by_mm[which], to = b->saddle_by_mm[which];
        square += shared * (to - from) * (to - from) + (1.0 - shared) * (to * to + from * from);
    }
    return sqrt(square);
}
