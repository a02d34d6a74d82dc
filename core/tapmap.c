#include "core/tapmap.h"

#include <math.h>

const char *sb_tap_verdict_text(sb_tap_verdict verdict) {
    switch (verdict) {
    case SB_TAP_UNTRIED: return "not tried";
    case SB_TAP_LIVE: return "live";
    case SB_TAP_WEAK: return "weak";
    case SB_TAP_DEAD: return "dead";
    }
    return "";
}

/* --- judging ------------------------------------------------------------------------------ */

static double allowed_db(const sb_tapmap *m, size_t position) {
    int together = 0;
    for (size_t q = 0; q < m->n_pickups; q++)
        together += m->has_meant[position] && m->meant[position][q];
    return together > 1 ? 20 * log10(together) : 0;
}

static void judge_cell(const sb_tapmap *m, size_t position, double loudest, sb_tap_cell *c) {
    c->verdict = !c->tried ? SB_TAP_UNTRIED : SB_TAP_DEAD;
    c->sure = true;
    c->relative_db = 0;
    if (!c->tried || !c->heard)
        return;
    c->relative_db = c->level_dbfs - loudest;
    double level = c->relative_db;
    if (m->has_meant[position])
        level += allowed_db(m, position);
    if (level >= m->weak_db)
        c->verdict = SB_TAP_LIVE;
    else if (level > m->dead_db)
        c->verdict = SB_TAP_WEAK;
    double off = fmin(fabs(level - m->weak_db), fabs(level - m->dead_db));
    c->sure = off > 2 * c->std_error_db;
}

bool sb_tapmap_judge(sb_tapmap *m) {
    double loudest = -HUGE_VAL;
    bool any = false;
    for (size_t p = 0; p < m->n_positions; p++)
        for (size_t q = 0; q < m->n_pickups; q++)
            if (m->cell[p][q].tried && m->cell[p][q].heard) {
                loudest = fmax(loudest, m->cell[p][q].level_dbfs);
                any = true;
            }
    for (size_t p = 0; any && p < m->n_positions; p++)
        for (size_t q = 0; q < m->n_pickups; q++)
            judge_cell(m, p, loudest, &m->cell[p][q]);
    return any;
}

/* --- comparing ---------------------------------------------------------------------------- */

typedef struct {
    size_t position, pickup; /* where what is meant is looked up */
} place;

static bool agrees(const sb_tapmap *m, size_t p, size_t q, place meant) {
    sb_tap_verdict verdict = m->cell[p][q].verdict;
    if (verdict == SB_TAP_UNTRIED || !m->has_meant[meant.position])
        return true;
    return verdict == (m->meant[meant.position][meant.pickup] ? SB_TAP_LIVE : SB_TAP_DEAD);
}

static bool all_agree(const sb_tapmap *m, bool reversed, size_t one, size_t other) {
    for (size_t p = 0; p < m->n_positions; p++)
        for (size_t q = 0; q < m->n_pickups; q++) {
            place meant = {reversed ? m->n_positions - 1 - p : p, q == one     ? other
                                                                  : q == other ? one
                                                                               : q};
            if (!agrees(m, p, q, meant))
                return false;
        }
    return true;
}

/* One thing that explains all. */
static bool explain(const sb_tapmap *m, sb_tap_finding *f) {
    for (size_t p = 0; p < m->n_positions; p++)
        if (!m->has_meant[p])
            return false;
    *f = (sb_tap_finding){.trouble = SB_TAP_REVERSED};
    if (m->n_positions > 1 && all_agree(m, true, 0, 0))
        return true;
    for (size_t a = 0; a < m->n_pickups; a++)
        for (size_t b = a + 1; b < m->n_pickups; b++)
            if (all_agree(m, false, a, b)) {
                *f = (sb_tap_finding){SB_TAP_EXCHANGED, 0, a, b};
                return true;
            }
    return false;
}

/* Whether it is so in every position where it is meant to sound and was tried, two or more. */
static bool everywhere(const sb_tapmap *m, size_t pickup, sb_tap_verdict verdict) {
    size_t positions = 0;
    for (size_t p = 0; p < m->n_positions; p++) {
        const sb_tap_cell *c = &m->cell[p][pickup];
        if (!m->has_meant[p] || !m->meant[p][pickup] || c->verdict == SB_TAP_UNTRIED)
            continue;
        if (c->verdict != verdict)
            return false;
        positions++;
    }
    return positions > 1;
}

static bool position_dead(const sb_tapmap *m, size_t position) {
    bool meant = false;
    for (size_t q = 0; q < m->n_pickups; q++) {
        sb_tap_verdict verdict = m->cell[position][q].verdict;
        if (verdict == SB_TAP_LIVE || verdict == SB_TAP_WEAK)
            return false;
        meant = meant || (verdict == SB_TAP_DEAD && m->meant[position][q]);
    }
    return meant && m->has_meant[position];
}

typedef struct {
    bool pickup[SB_TAP_PICKUPS];     /* dead or weak everywhere */
    bool position[SB_TAP_POSITIONS]; /* dead */
} general;

static size_t find_general(const sb_tapmap *m, general *g, sb_tap_finding findings[]) {
    size_t n = 0;
    for (size_t q = 0; q < m->n_pickups; q++) {
        bool dead = everywhere(m, q, SB_TAP_DEAD), weak = everywhere(m, q, SB_TAP_WEAK);
        g->pickup[q] = dead || weak;
        if (g->pickup[q])
            findings[n++] =
                (sb_tap_finding){dead ? SB_TAP_PICKUP_DEAD : SB_TAP_PICKUP_WEAK, 0, q, 0};
    }
    for (size_t p = 0; p < m->n_positions; p++) {
        bool explained = true; /* by pickups that are dead everywhere */
        for (size_t q = 0; q < m->n_pickups; q++)
            explained = explained && (!m->meant[p][q] || g->pickup[q]);
        g->position[p] = position_dead(m, p) && !explained;
        if (g->position[p])
            findings[n++] = (sb_tap_finding){SB_TAP_POSITION_DEAD, p, 0, 0};
    }
    return n;
}

static bool trouble_of(bool meant, sb_tap_verdict verdict, sb_tap_trouble *trouble) {
    if (verdict == SB_TAP_UNTRIED || verdict == (meant ? SB_TAP_LIVE : SB_TAP_DEAD))
        return false;
    if (meant)
        *trouble = verdict == SB_TAP_DEAD ? SB_TAP_MISSING : SB_TAP_FAINT;
    else
        *trouble = verdict == SB_TAP_LIVE ? SB_TAP_EXTRA : SB_TAP_LEAKS;
    return true;
}

size_t sb_tapmap_compare(const sb_tapmap *m, sb_tap_finding findings[SB_TAP_FINDINGS]) {
    general g = {.pickup = {false}};
    if (all_agree(m, false, 0, 0))
        return 0;
    if (explain(m, &findings[0]))
        return 1;
    size_t n = find_general(m, &g, findings);
    for (size_t p = 0; p < m->n_positions; p++)
        for (size_t q = 0; q < m->n_pickups && m->has_meant[p]; q++) {
            sb_tap_trouble trouble;
            bool explained = m->meant[p][q] && (g.pickup[q] || g.position[p]);
            if (!explained && trouble_of(m->meant[p][q], m->cell[p][q].verdict, &trouble) &&
                n < SB_TAP_FINDINGS)
                findings[n++] = (sb_tap_finding){trouble, p, q, 0};
        }
    return n;
}
