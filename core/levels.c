#include "core/levels.h"

#include <math.h>

#include "core/order.h"

#define FAR          3.5 /* standard deviations from the median */
#define LEAST_FAR_DB 4.0 /* few plucks show their scatter badly */
#define ENOUGH       3   /* a median of two takes no side */

double sb_power_db(double power) {
    return power > 1e-20 ? 10 * log10(power) : SB_LEVEL_NONE;
}

double sb_db_power(double db) {
    return pow(10, db / 10);
}

typedef struct {
    sb_level_pluck *pluck;
    size_t n;
} levels;

static size_t members(const levels *l, size_t group, double values[]) {
    size_t count = 0;
    for (size_t i = 0; i < l->n; i++)
        if (l->pluck[i].group == group)
            values[count++] = l->pluck[i].level_db;
    return count;
}

/* Distances from the medians of the groups that show them; the median of an odd number is no
 * distance from itself. */
static double far_db(const levels *l, size_t n_groups) {
    double distance[SB_LEVELS_MAX], values[SB_LEVELS_MAX];
    size_t n = 0;
    for (size_t g = 0; g < n_groups; g++) {
        size_t count = members(l, g, values);
        if (count < ENOUGH)
            continue;
        double median = sb_median(values, count);
        bool itself = count % 2 == 1;
        for (size_t i = 0; i < count; i++) {
            bool same = values[i] - median == 0;
            if (!(itself && same))
                distance[n++] = fabs(values[i] - median);
            itself = itself && !same;
        }
    }
    double mad = n > 0 ? sb_median(distance, n) : 0;
    return fmax(FAR * SB_MAD_TO_STD * mad, LEAST_FAR_DB);
}

static void leave_out(const levels *l, size_t group, double limit_db) {
    double values[SB_LEVELS_MAX];
    size_t count = members(l, group, values);
    double median = count > 0 ? sb_median(values, count) : 0;
    for (size_t i = 0; i < l->n; i++)
        if (l->pluck[i].group == group)
            l->pluck[i].left_out =
                count >= ENOUGH && fabs(l->pluck[i].level_db - median) > limit_db;
}

/* The mean of what counts; returns the sum of squares about it. */
static double average(const levels *l, size_t group, sb_level *level) {
    double sum = 0, squares = 0;
    *level = (sb_level){.used = 0};
    for (size_t i = 0; i < l->n; i++) {
        if (l->pluck[i].group != group)
            continue;
        if (l->pluck[i].left_out)
            level->left_out++;
        else
            sum += l->pluck[i].level_db, level->used++;
    }
    if (level->used == 0)
        return 0;
    level->level_db = sum / (double)level->used;
    for (size_t i = 0; i < l->n; i++)
        if (l->pluck[i].group == group && !l->pluck[i].left_out)
            squares +=
                (l->pluck[i].level_db - level->level_db) * (l->pluck[i].level_db - level->level_db);
    return squares;
}

sb_status sb_levels_combine(sb_level_pluck plucks[], size_t n, size_t n_groups, sb_level out[],
                            sb_level_scatter *scatter) {
    const levels l = {plucks, n};
    double squares = 0;
    size_t dof = 0, per_group[SB_LEVELS_MAX] = {0};
    if (n == 0 || n > SB_LEVELS_MAX || n_groups > SB_LEVELS_MAX)
        return SB_E_RANGE;
    for (size_t i = 0; i < n; i++) {
        if (plucks[i].group >= n_groups || !isfinite(plucks[i].level_db))
            return SB_E_RANGE;
        dof += per_group[plucks[i].group]++ > 0;
    }
    if (dof == 0)
        return SB_E_UNDETERMINED;
    double limit_db = far_db(&l, n_groups);
    dof = 0;
    for (size_t g = 0; g < n_groups; g++) {
        leave_out(&l, g, limit_db);
        squares += average(&l, g, &out[g]);
        dof += out[g].used > 0 ? out[g].used - 1 : 0;
    }
    scatter->dof = (int)dof;
    scatter->scatter_db = fmax(sqrt(squares / (double)dof), SB_LEVEL_LEAST_DB);
    for (size_t g = 0; g < n_groups; g++)
        out[g].std_error_db = out[g].used > 0 ? scatter->scatter_db / sqrt((double)out[g].used) : 0;
    return SB_OK;
}
