#include "cli/survey_take.h"

#include <math.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "core/interval.h"

/* A hand's scatter is many times the ear's error; fewer plucks of a fret than these do not show
 * it, and the survey has to learn it from how the frets lie about the fit. */
#define SCATTER_FROM 3

/* --- sorting ---------------------------------------------------------------------------- */

static size_t good_notes(const sb_take *take, double hz[], size_t index[]) {
    size_t n = 0;
    for (size_t i = 0; i < take->n && n < SB_FRET_NOTES_MAX; i++)
        if (take->readings[i].fault == SB_PLUCK_GOOD) {
            hz[n] = take->readings[i].hz;
            index[n++] = i;
        }
    return n;
}

sb_sorted sb_survey_sort(const sb_take *take, const sb_survey_plan *plan, const sb_open_notes *open,
                         sb_take_frets *frets) {
    double hz[SB_FRET_NOTES_MAX];
    size_t index[SB_FRET_NOTES_MAX];
    int fret[SB_FRET_NOTES_MAX];
    sb_fret_plan wanted = {
        .only_asked = plan->only_asked, .last = plan->last, .open_hz = open->hz, .n_open = open->n};
    memcpy(wanted.cents, plan->cents, sizeof wanted.cents);
    memcpy(wanted.asked, plan->asked, sizeof wanted.asked);
    size_t n = good_notes(take, hz, index);
    if (n == 0)
        return SB_SORTED_NOTHING;
    sb_status status = sb_frets_sort(hz, n, &wanted, fret, &frets->open_hz);
    if (status != SB_OK)
        return status == SB_E_TOO_SHORT ? SB_SORTED_OPEN : SB_SORTED_NO_STRING;
    memset(frets->count, 0, sizeof frets->count);
    for (size_t i = 0; i < take->n; i++)
        frets->fret[i] = -1;
    for (size_t i = 0; i < n; i++) {
        frets->fret[index[i]] = fret[i];
        if (fret[i] >= 0)
            frets->count[fret[i]]++;
    }
    return SB_SORTED;
}

/* --- combining -------------------------------------------------------------------------- */

static size_t gather(const sb_take *take, const sb_take_frets *frets, int fret, size_t most,
                     sb_pluck plucks[]) {
    size_t n = 0;
    for (size_t i = 0; i < take->n && n < most; i++)
        if (frets->fret[i] == fret)
            plucks[n++] = sb_take_pluck(&take->readings[i], fret > 0);
    return n;
}

static void add_reading(sb_surveyed *s, int fret, double error_cents, double std_error_cents,
                        size_t plucks) {
    bool told = plucks >= SCATTER_FROM;
    s->plucks[s->n] = plucks;
    s->readings[s->n++] =
        (sb_survey_reading){.fret = fret,
                            .fret_cents = s->plan->cents[fret],
                            .error_cents = error_cents,
                            .std_error_cents = told ? fmin(fmax(std_error_cents, 1e-4), 100) : 0,
                            .weight = s->plan->weight[fret]};
}

/* One fret against the open string. */
static bool combine_fret(sb_surveyed *s, const sb_take *take, const sb_take_frets *frets, int fret,
                         sb_interval *interval) {
    sb_pluck plucks[SB_MAX_PLUCKS];
    size_t open = gather(take, frets, 0, SB_MAX_PLUCKS / 2, plucks);
    size_t all = open + gather(take, frets, fret, SB_MAX_PLUCKS - open, plucks + open);
    sb_interval_options options = {.interval_cents = s->plan->cents[fret]};
    if (sb_interval_combine(plucks, all, &options, interval) != SB_OK ||
        fabs(interval->error_cents) > 100)
        return false;
    return true;
}

/* B of the open string, its plucks weighted by their errors. */
static void add_inharmonicity(sb_surveyed *s, const sb_take *take, const sb_take_frets *frets) {
    double weights = 0, sum = 0;
    for (size_t i = 0; i < take->n; i++) {
        const sb_reading *r = &take->readings[i];
        if (frets->fret[i] != 0 || !(r->inharmonicity_std_error > 0))
            continue;
        double weight = 1 / (r->inharmonicity_std_error * r->inharmonicity_std_error);
        weights += weight;
        sum += weight * r->inharmonicity;
    }
    if (weights > 0 && sum > 0) {
        s->inharmonicity = sum / weights;
        s->inharmonicity_std_error = 1 / sqrt(weights);
    }
}

void sb_survey_combine(sb_surveyed *s, const sb_take *take, const sb_take_frets *frets) {
    double open_error = 0;
    size_t used = 0, open_used = 0;
    s->n = 0;
    add_reading(s, 0, 0, 1, frets->count[0]);
    for (int f = 1; f <= s->plan->last; f++) {
        sb_interval interval;
        if (frets->count[f] == 0 || !combine_fret(s, take, frets, f, &interval))
            continue;
        add_reading(s, f, interval.error_cents, interval.fretted_std_error_cents,
                    interval.n_fretted);
        open_error = fmax(open_error, interval.open_std_error_cents);
        open_used = interval.n_open > open_used ? interval.n_open : open_used;
    }
    s->readings[0].std_error_cents =
        open_used >= SCATTER_FROM ? fmin(fmax(open_error, 1e-4), 100) : 0;
    s->plucks[0] = open_used;
    for (size_t i = 0; i < s->n; i++)
        used += s->plucks[i];
    s->left_out = take->n - used;
    s->open_hz = frets->open_hz;
    add_inharmonicity(s, take, frets);
}

/* --- words ------------------------------------------------------------------------------ */

int sb_survey_complain(sb_sorted why, const sb_take *take, const char *path) {
    switch (why) {
    case SB_SORTED: return EX_OK;
    case SB_SORTED_NOTHING: return sb_complain_take(take, path);
    case SB_SORTED_OPEN:
        return sb_fail(EX_DATAERR, "pluck the same string at frets 1, 2, 3, 5, 7, 9, 12, ... too",
                       path, "only the open string was heard");
    case SB_SORTED_NO_STRING:
        return sb_fail(EX_DATAERR,
                       "pluck the open string and the same string's frets; --frets tells which, "
                       "--note which string",
                       path, "the notes are not the open string and frets of one string");
    }
    return EX_SOFTWARE;
}

static int wrong_string(double open_hz, double a4_hz, const char *path) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(sb_note_nearest(open_hz, a4_hz, NULL), note, sizeof note);
    return sb_fail(EX_DATAERR, "see whether it is the right string, and tuned", path,
                   "wrong string: it sounds %s (%.1f Hz)", note, open_hz);
}

/* --- recordings ------------------------------------------------------------------------- */

int sb_survey_load_take(const char *path, int channel, const sb_survey_plan *plan,
                        const sb_open_notes *open, sb_take *take, sb_take_frets *frets) {
    const sb_open_notes any = {.n = 0};
    sb_take_reset(take);
    int code = sb_load_take(take, path, channel, NULL);
    if (code != EX_OK)
        return code;
    sb_sorted sorted = sb_survey_sort(take, plan, open, frets);
    if (sorted == SB_SORTED_NO_STRING && open->n > 0 &&
        sb_survey_sort(take, plan, &any, frets) == SB_SORTED)
        return wrong_string(frets->open_hz, plan->a4_hz, path);
    return sb_survey_complain(sorted, take, path);
}
