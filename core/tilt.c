#include "core/tilt.h"

#include <math.h>

#include "core/chance.h"
#include "core/order.h"

#define FAR          3.5 /* standard deviations from the line */
#define LEAST_FAR_DB 3.0
#define ENOUGH       5 /* strings to tell a stray one by */
#define PAIRS        (SB_STRINGS_MAX * (SB_STRINGS_MAX - 1) / 2)
#define DB_LN        0.11512925464970229 /* ln(10) / 20: nepers a dB */

static bool sound(const sb_tilt_strings *s) {
    for (size_t i = 0; i < s->n; i++)
        if (!isfinite(s->place_mm[i]) || !isfinite(s->level_db[i]) ||
            !(s->std_error_db[i] > 0 && s->std_error_db[i] < 1e3))
            return false;
    return s->n <= SB_STRINGS_MAX && s->pluck_dof >= 1 && s->tolerance_db > 0;
}

/* --- strays --------------------------------------------------------------------------------- */

/* How far each string lies from the line of Theil and Sen. */
static void distances(const sb_tilt_strings *s, double distance_db[]) {
    double slopes[PAIRS], sorted[SB_STRINGS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        for (size_t j = i + 1; j < s->n; j++)
            if (fabs(s->place_mm[j] - s->place_mm[i]) > 1e-6)
                slopes[n++] = (s->level_db[j] - s->level_db[i]) / (s->place_mm[j] - s->place_mm[i]);
    double slope = n > 0 ? sb_median(slopes, n) : 0;
    for (size_t i = 0; i < s->n; i++)
        distance_db[i] = sorted[i] = s->level_db[i] - slope * s->place_mm[i];
    double height = sb_median(sorted, s->n);
    for (size_t i = 0; i < s->n; i++)
        distance_db[i] = fabs(distance_db[i] - height);
}

static void find_strays(const sb_tilt_strings *s, bool stray[]) {
    double distance[SB_STRINGS_MAX], sorted[SB_STRINGS_MAX];
    if (s->n < ENOUGH)
        return;
    distances(s, distance);
    for (size_t i = 0; i < s->n; i++)
        sorted[i] = distance[i];
    double limit = fmax(FAR * SB_MAD_TO_STD * sb_median(sorted, s->n), LEAST_FAR_DB);
    for (size_t left = (s->n - 1) / 3; left > 0; left--) {
        size_t furthest = 0;
        for (size_t i = 1; i < s->n; i++)
            if (distance[i] > distance[furthest])
                furthest = i;
        if (distance[furthest] <= limit)
            return;
        stray[furthest] = true;
        distance[furthest] = 0;
    }
}

/* --- the line ------------------------------------------------------------------------------- */

typedef struct {
    size_t n;
    double place_mm, level_db; /* means */
    double squares, slope;     /* of the places about their mean; dB/mm */
    double off, plucks;        /* variance about the line, and that of the plucks alone */
} line;

static double off_line(const sb_tilt_strings *s, const line *l, size_t i) {
    return s->level_db[i] - l->level_db - l->slope * (s->place_mm[i] - l->place_mm);
}

static line lay(const sb_tilt_strings *s, const bool stray[]) {
    line l = {.n = 0};
    for (size_t i = 0; i < s->n; i++) {
        if (stray[i])
            continue;
        l.n++;
        l.place_mm += s->place_mm[i];
        l.level_db += s->level_db[i];
    }
    l.place_mm /= (double)l.n;
    l.level_db /= (double)l.n;
    for (size_t i = 0; i < s->n; i++) {
        double x = stray[i] ? 0 : s->place_mm[i] - l.place_mm;
        l.squares += x * x;
        l.slope += x * s->level_db[i];
        l.plucks += stray[i] ? 0 : s->std_error_db[i] * s->std_error_db[i] / (double)l.n;
    }
    l.slope = l.squares > 1e-9 ? l.slope / l.squares : 0;
    for (size_t i = 0; i < s->n; i++)
        if (!stray[i])
            l.off += off_line(s, &l, i) * off_line(s, &l, i) / (double)(l.n - 2);
    return l;
}

static void find_spread(const sb_tilt_strings *s, sb_tilt *t) {
    t->loudest = t->quietest = 0;
    for (size_t i = 1; i < s->n; i++) {
        if (s->level_db[i] > s->level_db[t->loudest])
            t->loudest = i;
        if (s->level_db[i] < s->level_db[t->quietest])
            t->quietest = i;
    }
    t->spread_db = s->level_db[t->loudest] - s->level_db[t->quietest];
    t->spread_std_error_db = hypot(s->std_error_db[t->loudest], s->std_error_db[t->quietest]);
}

/* pluck_share: of the variance of the tilt, what is the plucks'. */
static void judge(const sb_tilt_strings *s, double pluck_share, sb_tilt *t) {
    t->more = 0;
    if (fabs(t->tilt_db) > t->limit_db && fabs(t->tilt_db) > s->tolerance_db) {
        t->verdict = t->tilt_db > 0 ? SB_TILT_FIRST_HIGH : SB_TILT_LAST_HIGH;
    } else if (t->limit_db <= s->tolerance_db) {
        t->verdict = SB_TILT_EVEN;
    } else if (pluck_share < 0.5) {
        t->verdict = SB_TILT_UNEVEN;
    } else {
        t->verdict = SB_TILT_UNSURE;
        t->more = (t->limit_db / s->tolerance_db) * (t->limit_db / s->tolerance_db);
    }
}

sb_status sb_tilt_fit(const sb_tilt_strings *s, sb_tilt *out) {
    sb_tilt t = {.tilt_db = 0};
    if (!sound(s))
        return SB_E_RANGE;
    if (s->n < 3)
        return SB_E_TOO_SHORT;
    find_strays(s, t.stray);
    line l = lay(s, t.stray);
    if (!(l.squares > 1e-9))
        return SB_E_UNDETERMINED;
    double span_mm = s->place_mm[0] - s->place_mm[s->n - 1];
    double variance = fmax(l.off, l.plucks);
    t.tilt_db = l.slope * span_mm;
    t.std_error_db = fabs(span_mm) * sqrt(variance / l.squares);
    t.dof = l.off > l.plucks ? (int)l.n - 2 : s->pluck_dof;
    t.limit_db = sb_student_limit(SB_TILT_CHANCE, t.dof) * t.std_error_db;
    for (size_t i = 0; i < s->n; i++) {
        double x = s->place_mm[i] - l.place_mm;
        double of_line = variance * (1 / (double)l.n + x * x / l.squares);
        t.off_db[i] = off_line(s, &l, i);
        t.off_std_error_db[i] = sqrt(s->std_error_db[i] * s->std_error_db[i] + of_line);
    }
    find_spread(s, &t);
    judge(s, l.plucks / variance, &t);
    *out = t;
    return SB_OK;
}

sb_tilt_move sb_tilt_lower(double fall_db, double fall_std_error_db, double distance_mm,
                           double distance_std_error_mm) {
    const double n = SB_TILT_EXPONENT;
    double factor = exp(DB_LN * fall_db / n);
    double by_level = distance_mm * factor * DB_LN / n * fall_std_error_db;
    double by_exponent =
        distance_mm * factor * DB_LN * fall_db / (n * n) * SB_TILT_EXPONENT_STD_ERROR;
    double by_distance = (factor - 1) * distance_std_error_mm;
    return (sb_tilt_move){
        distance_mm * (factor - 1),
        sqrt(by_level * by_level + by_exponent * by_exponent + by_distance * by_distance)};
}
