#include "core/tilt.h"

#include <math.h>

#include "core/chance.h"

#define DB_LN 0.11512925464970229 /* ln(10) / 20: nepers a dB */

static bool sound(const sb_tilt_strings *s) {
    for (size_t i = 0; i < s->n; i++)
        if (!isfinite(s->place_mm[i]) || !isfinite(s->level_db[i]) ||
            !(s->std_error_db[i] > 0 && s->std_error_db[i] < 1e3))
            return false;
    return s->n <= SB_STRINGS_MAX && s->pluck_dof >= 1 && s->tolerance_db > 0;
}

static double mean(const double values[], size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += values[i];
    return sum / (double)n;
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
    double squares = 0, slope = 0, off = 0, plucks = 0;
    if (!sound(s))
        return SB_E_RANGE;
    if (s->n < 3)
        return SB_E_TOO_SHORT;
    double place = mean(s->place_mm, s->n), level = mean(s->level_db, s->n);
    for (size_t i = 0; i < s->n; i++) {
        double x = s->place_mm[i] - place;
        squares += x * x;
        slope += x * s->level_db[i];
        plucks += s->std_error_db[i] * s->std_error_db[i] / (double)s->n;
    }
    if (!(squares > 1e-9))
        return SB_E_UNDETERMINED;
    slope /= squares;
    for (size_t i = 0; i < s->n; i++) {
        t.off_db[i] = s->level_db[i] - level - slope * (s->place_mm[i] - place);
        off += t.off_db[i] * t.off_db[i];
    }
    off /= (double)(s->n - 2);
    double span_mm = s->place_mm[0] - s->place_mm[s->n - 1];
    t.tilt_db = slope * span_mm;
    t.std_error_db = fabs(span_mm) * sqrt(fmax(off, plucks) / squares);
    t.dof = off > plucks ? (int)s->n - 2 : s->pluck_dof;
    t.limit_db = sb_student_limit(SB_TILT_CHANCE, t.dof) * t.std_error_db;
    find_spread(s, &t);
    judge(s, plucks / fmax(off, plucks), &t);
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
