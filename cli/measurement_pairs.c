#include "cli/measurement_pairs.h"

#include <math.h>
#include <string.h>

#include "core/paired.h"
#include "core/pitch.h"

#define NUMBERS      128 /* partials up to here */
#define UNFIT        (SB_PARTIAL_HUM | SB_PARTIAL_OTHER_STRING | SB_PARTIAL_WEAK)
#define FAR_ESTIMATE 2.0 /* standard errors of the difference */

typedef struct {
    double weight, cents; /* sums over the plucks, from n times the pluck's pitch */
} sum;

static double weight_of(double std_error_cents) {
    const double weight = 1 / (std_error_cents * std_error_cents);
    return isfinite(weight) ? weight : 0;
}

static void add_reading(const sb_reading *r, sum sums[]) {
    for (size_t i = 0; i < r->n_partials; i++) {
        const sb_partial *p = &r->partials[i];
        if ((p->flags & UNFIT) || p->number < 1 || p->number >= NUMBERS || !(p->hz > 0))
            continue;
        const double weight = weight_of(p->std_error_cents);
        sums[p->number].weight += weight;
        sums[p->number].cents += weight * sb_cents_between(p->number * r->hz, p->hz);
    }
}

/* The partials of a side's plucks together, around the side's pitch. */
static size_t partials_of(const sb_measurement *m, sb_side side, sb_paired_partial partials[]) {
    sum sums[NUMBERS];
    size_t n = 0;
    memset(sums, 0, sizeof sums);
    for (size_t i = 0; i < m->n_heard; i++)
        if (m->heard[i].side == side && m->heard[i].left_out[0] == '\0')
            add_reading(m->heard[i].reading, sums);
    for (int k = 1; k < NUMBERS; k++)
        if (sums[k].weight > 0)
            partials[n++] = (sb_paired_partial){
                .number = k,
                .hz = k * m->side[side].hz * sb_ratio_from_cents(sums[k].cents / sums[k].weight),
                .std_error_cents = 1 / sqrt(sums[k].weight)};
    return n;
}

/* What the interval's error holds that pairing does not show: what shifts all partials of a pluck
 * alike, and scatter between plucks beyond their own errors. */
static double unseen_variance(const sb_measurement *m) {
    double weights[2] = {0, 0}, common[2] = {0, 0}, own = 0, shared = 0;
    for (size_t i = 0; i < m->n_heard; i++) {
        const sb_heard *h = &m->heard[i];
        if (h->side == SB_NEITHER || h->left_out[0] != '\0')
            continue;
        const double weight = weight_of(h->reading->std_error_cents);
        weights[h->side] += weight;
        common[h->side] += pow(weight * h->reading->common_std_error_cents, 2);
    }
    for (int side = 0; side < 2; side++) {
        own += 1 / weights[side];
        shared += common[side] / (weights[side] * weights[side]);
    }
    return shared + fmax(pow(m->interval.std_error_cents, 2) - own, 0);
}

static sb_paired_note note_of(const sb_measurement *m, sb_side side, sb_paired_partial partials[]) {
    return (sb_paired_note){.partials = partials,
                            .n = partials_of(m, side, partials),
                            .inharmonicity = m->side[side].inharmonicity,
                            .inharmonicity_std_error = m->side[side].inharmonicity_std_error};
}

static sb_by_pairs estimate(const sb_measurement *m) {
    sb_paired_partial partials[2][NUMBERS];
    const sb_paired_note open = note_of(m, SB_OPEN, partials[SB_OPEN]);
    const sb_paired_note fretted = note_of(m, SB_FRETTED, partials[SB_FRETTED]);
    sb_paired paired;
    if (sb_paired_error(&open, &fretted, &paired) != SB_OK)
        return (sb_by_pairs){.known = false};
    return (sb_by_pairs){.known = true,
                         .error_cents = paired.error_cents,
                         .std_error_cents = hypot(paired.std_error_cents, sqrt(unseen_variance(m))),
                         .pairs = paired.pairs};
}

double sb_measurement_pairs(const sb_task *task, sb_measurement *m) {
    const double std = m->interval.std_error_cents;
    m->by_pairs = (sb_by_pairs){.known = false};
    if (task->setting->fret == 12)
        m->by_pairs = estimate(m);
    if (!m->by_pairs.known)
        return std;
    const double difference = m->by_pairs.error_cents - m->interval.error_cents;
    m->by_pairs.disagrees =
        fabs(difference) > FAR_ESTIMATE * hypot(std, m->by_pairs.std_error_cents);
    return m->by_pairs.disagrees ? hypot(std, 0.5 * difference) : std;
}
