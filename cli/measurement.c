#include "cli/measurement.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/measurement_pairs.h"
#include "core/order.h"
#include "core/pitch.h"

static double interval_cents(const sb_task *task) {
    return 100.0 * task->setting->fret;
}

static void leave_out(sb_heard *h, const char *reason) {
    (void)snprintf(h->left_out, sizeof h->left_out, "%s", reason);
}

static bool used(const sb_heard *h) {
    return h->left_out[0] == '\0';
}

static void collect(sb_measurement *m, const sb_take *take, sb_side side) {
    for (size_t i = 0; i < take->n; i++) {
        sb_heard *h = &m->heard[m->n_heard++];
        *h = (sb_heard){.reading = &take->readings[i], .side = side};
        if (h->reading->fault != SB_PLUCK_GOOD)
            leave_out(h, sb_pluck_fault_text(h->reading->fault));
    }
}

/* No more plucks than can be combined: `most` of a side, the first ones. */
static void limit(sb_measurement *m, sb_side side, size_t most) {
    size_t n = 0;
    for (size_t i = 0; i < m->n_heard; i++)
        if (m->heard[i].side == side && used(&m->heard[i]) && n++ >= most)
            leave_out(&m->heard[i], "more than can be combined");
}

/* The pitches of a side's usable plucks, and which they are. */
static size_t pitches(const sb_measurement *m, sb_side side, double hz[], size_t index[]) {
    size_t n = 0;
    for (size_t i = 0; i < m->n_heard; i++)
        if (m->heard[i].side == side && used(&m->heard[i])) {
            hz[n] = m->heard[i].reading->hz;
            index[n++] = i;
        }
    return n;
}

static double median(const double hz[], size_t n) {
    double sorted[SB_MAX_PLUCKS];
    memcpy(sorted, hz, n * sizeof *hz);
    sb_sort_ascending(sorted, n);
    return sorted[n / 2];
}

static bool near(double hz, double wanted_hz) {
    return fabs(sb_cents_between(wanted_hz, hz)) <= SB_MAX_DETUNE_CENTS;
}

static double expected_hz(const sb_task *task) {
    return task->note == SB_NO_NOTE ? 0 : sb_note_hz(task->note, task->a4_hz);
}

/* --- sorting a take ------------------------------------------------------------------ */

static double lowest(const double hz[], size_t n) {
    double low = hz[0];
    for (size_t i = 1; i < n; i++)
        low = fmin(low, hz[i]);
    return low;
}

static bool any_near(const double hz[], size_t n, double wanted_hz) {
    for (size_t i = 0; i < n; i++)
        if (near(hz[i], wanted_hz))
            return true;
    return false;
}

static sb_outcome sort_failure(sb_measurement *m, sb_status status, int only_kind,
                               const double hz[], size_t n) {
    if (status == SB_E_TOO_SHORT) {
        m->heard_hz = median(hz, n);
        return only_kind == 0 ? SB_NO_FRETTED : only_kind == 1 ? SB_NO_OPEN : SB_ONE_NOTE;
    }
    double high = hz[0];
    for (size_t i = 1; i < n; i++)
        high = fmax(high, hz[i]);
    m->heard_cents = sb_cents_between(lowest(hz, n), high);
    return SB_WRONG_FRET;
}

static void assign(sb_measurement *m, const int kind[], const size_t index[], size_t n) {
    for (size_t i = 0; i < n; i++) {
        sb_heard *h = &m->heard[index[i]];
        h->side = kind[i] == 0 ? SB_OPEN : kind[i] == 1 ? SB_FRETTED : SB_NEITHER;
        if (h->side == SB_NEITHER)
            leave_out(h, "another note");
    }
}

/* A rejected pluck whose pitch is known belongs to the side that it was meant for. */
static void place_rejected(sb_measurement *m) {
    for (size_t i = 0; i < m->n_heard; i++) {
        double hz = m->heard[i].reading->hz;
        if (m->heard[i].side != SB_NEITHER || !(hz > 0))
            continue;
        double from_open = fabs(sb_cents_between(m->interval.open_hz, hz));
        double from_fretted = fabs(sb_cents_between(m->interval.fretted_hz, hz));
        if (fmin(from_open, from_fretted) <= SB_MAX_DETUNE_CENTS)
            m->heard[i].side = from_open < from_fretted ? SB_OPEN : SB_FRETTED;
    }
}

static sb_outcome sort_take(const sb_task *task, sb_measurement *m) {
    double hz[SB_MAX_PLUCKS];
    size_t index[SB_MAX_PLUCKS];
    int kind[SB_MAX_PLUCKS], only_kind = -1;
    limit(m, SB_NEITHER, SB_MAX_PLUCKS);
    size_t n = pitches(m, SB_NEITHER, hz, index);
    m->fault_side = SB_NEITHER;
    if (n == 0)
        return SB_NO_PLUCK;
    double expected = expected_hz(task);
    if (expected > 0 && !any_near(hz, n, expected) &&
        !any_near(hz, n, expected * sb_fret_ratio(task->setting->fret))) {
        m->heard_hz = lowest(hz, n); /* the open string, if both were plucked */
        return SB_WRONG_STRING;
    }
    sb_status status = sb_interval_sort(hz, n, interval_cents(task), expected, kind, &only_kind);
    if (status != SB_OK)
        return sort_failure(m, status, only_kind, hz, n);
    assign(m, kind, index, n);
    return SB_MEASURED;
}

/* --- two takes of one note each ------------------------------------------------------ */

/* Leaves out what is not the side's one note. */
static sb_outcome settle_side(sb_measurement *m, sb_side side, double *out_hz) {
    double hz[SB_MAX_PLUCKS];
    size_t index[SB_MAX_PLUCKS], kept = 0;
    limit(m, side, SB_MAX_PLUCKS / 2);
    size_t n = pitches(m, side, hz, index);
    m->fault_side = side;
    if (n == 0)
        return SB_NO_PLUCK;
    *out_hz = median(hz, n);
    for (size_t i = 0; i < n; i++) {
        if (near(hz[i], *out_hz))
            kept++;
        else
            leave_out(&m->heard[index[i]], "another note");
    }
    return 2 * kept > n ? SB_MEASURED : SB_MIXED_NOTES;
}

static sb_outcome check_pair(const sb_task *task, sb_measurement *m, double open_hz,
                             double fretted_hz) {
    double expected = expected_hz(task), cents = sb_cents_between(open_hz, fretted_hz);
    m->heard_cents = cents;
    m->heard_hz = open_hz;
    m->fault_side = SB_OPEN;
    if (fabs(cents) < 50)
        return SB_SAME_NOTE;
    if (fabs(cents + interval_cents(task)) < SB_MAX_ERROR_CENTS)
        return SB_SWAPPED;
    if (expected > 0 && !near(open_hz, expected))
        return SB_WRONG_STRING;
    return SB_MEASURED;
}

/* --- combining ----------------------------------------------------------------------- */

static size_t gather(const sb_measurement *m, bool timed, sb_pluck plucks[], size_t index[]) {
    size_t n = 0;
    for (size_t i = 0; i < m->n_heard; i++) {
        const sb_heard *h = &m->heard[i];
        if (!used(h) || h->side == SB_NEITHER || n == SB_MAX_PLUCKS)
            continue;
        plucks[n] = sb_take_pluck(h->reading, h->side == SB_FRETTED);
        if (!timed)
            plucks[n].time_s = 0;
        index[n++] = i;
    }
    return n;
}

static void name_outliers(sb_measurement *m, const sb_pluck plucks[], const size_t index[],
                          size_t n) {
    for (size_t i = 0; i < n; i++) {
        if (!plucks[i].outlier)
            continue;
        sb_heard *h = &m->heard[index[i]];
        double others = plucks[i].fretted ? m->interval.fretted_hz : m->interval.open_hz;
        (void)snprintf(h->left_out, sizeof h->left_out, "%+.1f cents from the others",
                       sb_cents_between(others, plucks[i].hz));
    }
}

static sb_summary summarize(const sb_measurement *m, sb_side side) {
    sb_summary s = {.hz = side == SB_OPEN ? m->interval.open_hz : m->interval.fretted_hz,
                    .std_error_cents = side == SB_OPEN ? m->interval.open_std_error_cents
                                                       : m->interval.fretted_std_error_cents};
    double weights = 0, squares = 0;
    for (size_t i = 0; i < m->n_heard; i++) {
        const sb_reading *r = m->heard[i].reading;
        if (m->heard[i].side != side || !used(&m->heard[i]))
            continue;
        double weight = 1 / (r->std_error_cents * r->std_error_cents);
        weights += weight;
        s.inharmonicity += weight * r->inharmonicity;
        squares += weight * weight * r->inharmonicity_std_error * r->inharmonicity_std_error;
        s.glide_cents += r->glide_cents;
        s.level_dbfs += r->level_dbfs;
        s.snr_db += r->snr_db;
        s.plucks++;
        if (!s.best || r->std_error_cents < s.best->std_error_cents)
            s.best = r;
    }
    double n = s.plucks ? (double)s.plucks : 1;
    s.inharmonicity /= weights > 0 ? weights : 1;
    s.inharmonicity_std_error = sqrt(squares) / (weights > 0 ? weights : 1);
    s.glide_cents /= n;
    s.level_dbfs /= n;
    s.snr_db /= n;
    return s;
}

/* The open string's octave partial lies above twice its fundamental by what its own stiffness
 * makes it; that much less is the error against it. */
static void compare_harmonic(const sb_task *task, sb_measurement *m) {
    double weights = 0, excess = 0;
    for (size_t i = 0; i < m->n_heard; i++) {
        const sb_reading *r = m->heard[i].reading;
        if (m->heard[i].side != SB_OPEN || !used(&m->heard[i]) || !(r->octave_partial_hz > 0))
            continue;
        double weight = 1 / (r->std_error_cents * r->std_error_cents);
        weights += weight;
        excess += weight * sb_cents_between(2 * r->hz, r->octave_partial_hz);
    }
    m->has_harmonic = task->setting->fret == 12 && weights > 0;
    if (m->has_harmonic)
        m->harmonic_error_cents = m->interval.error_cents - excess / weights;
}

static sb_outcome combine(const sb_task *task, bool timed, sb_measurement *m) {
    sb_pluck plucks[SB_MAX_PLUCKS];
    size_t index[SB_MAX_PLUCKS];
    size_t n = gather(m, timed, plucks, index);
    sb_interval_options options = {.interval_cents = interval_cents(task)};
    m->fault_side = SB_FRETTED;
    if (sb_interval_combine(plucks, n, &options, &m->interval) != SB_OK)
        return SB_NO_PLUCK;
    m->heard_cents = m->interval.error_cents + interval_cents(task);
    if (!(fabs(m->interval.error_cents) <= SB_MAX_ERROR_CENTS))
        return SB_WRONG_FRET;
    name_outliers(m, plucks, index, n);
    place_rejected(m);
    m->side[SB_OPEN] = summarize(m, SB_OPEN);
    m->side[SB_FRETTED] = summarize(m, SB_FRETTED);
    compare_harmonic(task, m);
    m->answer =
        sb_answer_for(task->setting, m->interval.error_cents, sb_measurement_pairs(task, m));
    return SB_MEASURED;
}

sb_outcome sb_measure_take(const sb_task *task, const sb_take *take, sb_measurement *out) {
    memset(out, 0, sizeof *out);
    collect(out, take, SB_NEITHER);
    sb_outcome outcome = sort_take(task, out);
    return outcome == SB_MEASURED ? combine(task, true, out) : outcome;
}

sb_outcome sb_measure_pair(const sb_task *task, const sb_take *open, const sb_take *fretted,
                           sb_measurement *out) {
    double open_hz = 0, fretted_hz = 0;
    memset(out, 0, sizeof *out);
    collect(out, open, SB_OPEN);
    collect(out, fretted, SB_FRETTED);
    sb_outcome outcome = settle_side(out, SB_OPEN, &open_hz);
    if (outcome == SB_MEASURED)
        outcome = settle_side(out, SB_FRETTED, &fretted_hz);
    if (outcome == SB_MEASURED)
        outcome = check_pair(task, out, open_hz, fretted_hz);
    return outcome == SB_MEASURED ? combine(task, false, out) : outcome;
}

size_t sb_measurement_left_out(const sb_measurement *m, sb_side side) {
    size_t n = 0;
    for (size_t i = 0; i < m->n_heard; i++)
        n += m->heard[i].side == side && !used(&m->heard[i]);
    return n;
}

size_t sb_measurement_overloaded(const sb_measurement *m, sb_side side) {
    size_t n = 0;
    for (size_t i = 0; i < m->n_heard; i++)
        n += m->heard[i].side == side && used(&m->heard[i]) && m->heard[i].reading->mended;
    return n;
}
