#include "cli/tapping.h"

#include <math.h>
#include <string.h>

#include "cli/err.h"

/* --- names ---------------------------------------------------------------------------------- */

static int add_name(char names[][SB_SIGNAL_NAME_MAX], size_t *n, size_t max, const char *name,
                    size_t *place) {
    *place = sb_signal_find(name, (const char(*)[SB_SIGNAL_NAME_MAX])names, *n);
    if (*place == max)
        return sb_fail(EX_USAGE, "tap fewer at a time", name, "at most %d positions and %d pickups",
                       SB_TAP_POSITIONS, SB_TAP_PICKUPS);
    if (*place == *n) {
        (void)snprintf(names[*n], SB_SIGNAL_NAME_MAX, "%s", name);
        ++*n;
    }
    return EX_OK;
}

int sb_tapping_position(sb_tapping *t, const char *name, size_t *position) {
    return add_name(t->position, &t->map.n_positions, SB_TAP_POSITIONS, name, position);
}

int sb_tapping_pickup(sb_tapping *t, const char *name, size_t *pickup) {
    return add_name(t->pickup, &t->map.n_pickups, SB_TAP_PICKUPS, name, pickup);
}

static int bad_meant(const char *text) {
    return sb_fail(EX_USAGE, "write it as 1=bridge,2=bridge+middle,3=none", text,
                   "--meant cannot be understood");
}

/* "neck+middle" or "none", of one position. */
static int read_pickups(sb_tapping *t, size_t position, char *list, const char *text) {
    t->map.has_meant[position] = true;
    if (strcmp(list, "none") == 0)
        return EX_OK;
    for (char *name = list; name;) {
        size_t pickup;
        char *plus = strchr(name, '+');
        if (plus)
            *plus++ = '\0';
        if (!sb_signal_name_good(name, strlen(name)))
            return bad_meant(text);
        int code = sb_tapping_pickup(t, name, &pickup);
        if (code != EX_OK)
            return code;
        t->map.meant[position][pickup] = true;
        name = plus;
    }
    return EX_OK;
}

int sb_tapping_meant(sb_tapping *t, const char *text) {
    for (const char *item = text; item; item = strchr(item, ',') ? strchr(item, ',') + 1 : NULL) {
        char copy[SB_SIGNAL_NAME_MAX * (SB_TAP_PICKUPS + 1)];
        size_t length = strcspn(item, ","), position;
        if (length >= sizeof copy)
            return bad_meant(text);
        memcpy(copy, item, length);
        copy[length] = '\0';
        char *equals = strchr(copy, '=');
        if (!equals || !sb_signal_name_good(copy, (size_t)(equals - copy)) || equals[1] == '\0')
            return bad_meant(text);
        *equals = '\0';
        int code = sb_tapping_position(t, copy, &position);
        if (code == EX_OK && t->map.has_meant[position])
            return sb_fail(EX_USAGE, "give each position once", copy,
                           "--meant: a position comes twice");
        if (code == EX_OK)
            code = read_pickups(t, position, equals + 1, text);
        if (code != EX_OK)
            return code;
    }
    return EX_OK;
}

/* --- taps ----------------------------------------------------------------------------------- */

void sb_tapping_add(sb_tapping *t, size_t position, size_t pickup, const sb_tap taps[], size_t n) {
    sb_tap_cell *c = &t->map.cell[position][pickup];
    c->tried = c->tried || n == 0; /* where only strings were heard, nothing is known of it */
    for (size_t i = 0; i < n; i++) {
        if (taps[i].string) {
            t->strings++;
            continue;
        }
        c->tried = true;
        t->overloaded += taps[i].overloaded;
        if (t->n == SB_LEVELS_MAX)
            continue;
        t->tap[t->n++] = (sb_level_pluck){.level_db = taps[i].level_dbfs,
                                          .group = position * SB_TAP_PICKUPS + pickup};
    }
}

static int wrong_groups(const sb_signal_take *take, size_t groups, size_t wanted, double pause_s) {
    sb_signal_name name = sb_signal_clean(take->position, "?");
    char hint[200];
    (void)snprintf(hint, sizeof hint,
                   "pause %.1f s or more between pickups; where one is silent, record each by "
                   "itself: --take %s:PICKUP=FILE",
                   pause_s, take->position[0] ? name.text : "POSITION");
    return sb_fail(EX_DATAERR, hint, take->path,
                   "%zu group%s of taps where %zu pickups were tapped", groups,
                   groups == 1 ? "" : "s", wanted);
}

int sb_tapping_sort(sb_tapping *t, const sb_signal_heard *heard, const sb_signal_take *take,
                    const size_t order[], size_t n_order, double pause_s) {
    sb_tap taps[SB_TAPS_MAX];
    size_t group[SB_TAPS_MAX], position, pickup, n = sb_taps_find(heard->sound, taps, SB_TAPS_MAX);
    int code = sb_tapping_position(t, take->position, &position);
    if (code != EX_OK)
        return code;
    if (take->pickup[0]) {
        code = sb_tapping_pickup(t, take->pickup, &pickup);
        if (code == EX_OK)
            sb_tapping_add(t, position, pickup, taps, n);
        return code;
    }
    size_t groups = sb_taps_group(taps, n, pause_s, group);
    if (groups != n_order && groups != 0)
        return wrong_groups(take, groups, n_order, pause_s);
    for (size_t q = 0, from = 0; q < n_order; q++) {
        size_t to = from;
        while (to < n && group[to] == q)
            to++;
        sb_tapping_add(t, position, order[q], taps + from, to - from);
        from = to;
    }
    return EX_OK;
}

/* --- judging -------------------------------------------------------------------------------- */

/* Where every pickup was tapped once, nothing shows how taps scatter. */
static void combine(sb_tapping *t) {
    sb_level level[SB_TAP_POSITIONS * SB_TAP_PICKUPS];
    sb_level_scatter scatter = {0, 0};
    bool known = sb_levels_combine(t->tap, t->n, SB_TAP_POSITIONS * SB_TAP_PICKUPS, level,
                                   &scatter) == SB_OK;
    for (size_t i = 0; i < t->n && !known; i++)
        level[t->tap[i].group] = (sb_level){t->tap[i].level_db, 0, 1, 0};
    t->scatter_db = known ? scatter.scatter_db : 0;
    memset(t->taps, 0, sizeof t->taps);
    for (size_t i = 0; i < t->n; i++) {
        size_t p = t->tap[i].group / SB_TAP_PICKUPS, q = t->tap[i].group % SB_TAP_PICKUPS;
        sb_tap_cell *c = &t->map.cell[p][q];
        c->heard = true;
        c->level_dbfs = level[t->tap[i].group].level_db;
        c->std_error_db = level[t->tap[i].group].std_error_db;
        t->taps[p][q] = level[t->tap[i].group].used;
    }
}

int sb_tapping_judge(sb_tapping *t) {
    if (t->n == 0 && t->strings > 0)
        return sb_fail(EX_DATAERR, "damp the strings and tap the pickup's top with a screwdriver",
                       NULL, "only strings were heard, no taps");
    combine(t);
    if (!sb_tapmap_judge(&t->map))
        return sb_fail(EX_DATAERR,
                       "see whether lead and input are connected and the volume is up; tap the "
                       "pickup's top with a screwdriver",
                       NULL, "no taps were heard in any position");
    t->n_findings = sb_tapmap_compare(&t->map, t->findings);
    return EX_OK;
}
