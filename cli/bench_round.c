/* The plucks of one string that are compared with each other. */
#include <math.h>
#include <string.h>

#include "cli/bench_parts.h"
#include "core/pitch.h"

#define PAUSE_S        12.0  /* a string left alone so long was worked on */
#define HALF_PAUSE_S   180.0 /* the same where its other note is still awaited */
#define RETUNED_CENTS  2.5   /* from one pluck to the next of a kind: it was retuned */
#define TRUSTED_PLUCKS 3     /* of each kind: fewer cannot tell their own scatter */

size_t sb_round_count(const sb_round *r, bool fretted) {
    size_t n = 0;
    for (size_t i = 0; i < r->n; i++)
        n += r->plucks[i].fretted == fretted;
    return n;
}

bool sb_round_complete(const sb_round *r) {
    return sb_round_count(r, false) > 0 && sb_round_count(r, true) > 0;
}

/* The last pluck of a kind; NULL if there is none. */
const sb_pluck *sb_round_last(const sb_round *r, bool fretted) {
    for (size_t i = r->n; i > 0; i--)
        if (r->plucks[i - 1].fretted == fretted)
            return &r->plucks[i - 1];
    return NULL;
}

static bool retuned(const sb_round *r, const sb_pluck *p) {
    const sb_pluck *last = sb_round_last(r, p->fretted);
    return last && fabs(sb_cents_between(last->hz, p->hz)) > RETUNED_CENTS;
}

static bool left_alone(const sb_round *r, const sb_pluck *p, int take) {
    if (r->take[r->n - 1] != take)
        return sb_round_complete(r);
    double gap_s = p->time_s - r->plucks[r->n - 1].time_s;
    return gap_s > (sb_round_complete(r) ? PAUSE_S : HALF_PAUSE_S);
}

static void begin_round(sb_bench *b, sb_round *r) {
    r->n = 0;
    r->ended = false;
    b->rounds_begun++;
    (void)snprintf(r->id, sizeof r->id, "%llx.%x", (unsigned long long)b->session, b->rounds_begun);
}

/* A fretted note that has moved away was tuned with the open plucks since the last one. */
static void begin_after(sb_bench *b, sb_round *r, bool fretted) {
    sb_round old = *r;
    begin_round(b, r);
    if (!fretted)
        return;
    size_t from = old.n;
    while (from > 0 && !old.plucks[from - 1].fretted)
        from--;
    for (size_t i = from; i < old.n; i++) {
        r->plucks[r->n] = old.plucks[i];
        r->take[r->n++] = old.take[i];
    }
}

void sb_round_add(sb_bench *b, sb_round *r, const sb_pluck *p, int take) {
    if (r->n == 0 || r->ended || left_alone(r, p, take))
        begin_round(b, r);
    else if (retuned(r, p))
        begin_after(b, r, p->fretted);
    if (r->n == SB_MAX_PLUCKS) {
        r->n--;
        memmove(r->plucks, r->plucks + 1, r->n * sizeof *r->plucks);
        memmove(r->take, r->take + 1, r->n * sizeof *r->take);
    }
    r->plucks[r->n] = *p;
    r->take[r->n++] = take;
}

/* Plucks of different recordings have no common clock. */
static bool one_clock(const sb_round *r) {
    for (size_t i = 1; i < r->n; i++)
        if (r->take[i] != r->take[0])
            return false;
    return true;
}

bool sb_round_combine(const sb_bench *b, const sb_round *r, sb_interval *out) {
    sb_pluck plucks[SB_MAX_PLUCKS];
    bool timed = one_clock(r);
    memcpy(plucks, r->plucks, r->n * sizeof *plucks);
    for (size_t i = 0; i < r->n && !timed; i++)
        plucks[i].time_s = 0;
    bool few =
        sb_round_count(r, false) < TRUSTED_PLUCKS || sb_round_count(r, true) < TRUSTED_PLUCKS;
    sb_interval_options options = {.interval_cents = 100.0 * b->options.progress.fret,
                                   .hand_scatter_cents = few ? SB_UNSEEN_SCATTER_CENTS : 0};
    return sb_interval_combine(plucks, r->n, &options, out) == SB_OK &&
           fabs(out->error_cents) <= SB_MAX_ERROR_CENTS && out->std_error_cents > 0;
}
