#include "cli/rechecked.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/bench_log.h"

/* --- what was kept ----------------------------------------------------------------------- */

typedef struct {
    sb_rechecked *out;
    int64_t ended, ended_ms, read_ms; /* events and times; 0 = none */
} search;

static bool find_end(void *context, const sb_event *event) {
    search *s = context;
    if (event->kind == SB_EVENT_READING)
        s->read_ms = event->at_ms;
    if (event->kind != SB_EVENT_VISIT || sb_log_read(event).begun)
        return true;
    s->ended = event->id;
    s->ended_ms = event->at_ms;
    return true;
}

static size_t take_kept(const sb_progress *progress, sb_rechecked *out) {
    size_t n = progress->instrument.n_strings, kept = 0;
    for (size_t i = 0; i < out->d.instrument.n_strings && i < n; i++) {
        const sb_string_progress *p = &progress->strings[i];
        if (!p->has_reading)
            continue;
        out->strings[i].was = p->reading;
        out->strings[i].compromise = p->state == SB_STRING_NEAREST;
        kept++;
    }
    return kept;
}

static const char *what_changed(const sb_event *event) {
    if (event->kind == SB_EVENT_STRINGS)
        return "strings";
    if (event->kind == SB_EVENT_MOVE)
        return "saddle";
    sb_log_facts facts = sb_log_read(event);
    return event->kind == SB_EVENT_MEASURED && facts.is_change && facts.changed
               ? sb_change_text(facts.change)
               : NULL;
}

/* The strings that an event is about: its own, those on its saddle, or all. */
static void range_of(const sb_instrument *it, const sb_event *event, size_t *first, size_t *last) {
    *first = event->string > 0 ? (size_t)event->string : 1;
    *last = event->string > 0 ? *first : SB_STRINGS_MAX;
    for (size_t s = 0; event->kind == SB_EVENT_MOVE && s < it->n_saddles; s++) {
        if (it->saddles[s].first <= *first && *first <= it->saddles[s].last) {
            *first = it->saddles[s].first;
            *last = it->saddles[s].last;
            return;
        }
    }
}

/* What was changed after the reading that was kept. That another visit begun makes readings stale
 * for the bench is none of a recheck's business. */
static bool note_change(void *context, const sb_event *event) {
    const search *s = context;
    size_t first = 0, last = 0;
    bool kept = event->kind == SB_EVENT_READING && (s->ended == 0 || event->id <= s->ended);
    const char *what = kept ? NULL : what_changed(event);
    range_of(&s->out->d.instrument, event, &first, &last);
    for (size_t i = first; (kept || what) && i <= last && i <= SB_STRINGS_MAX; i++)
        s->out->strings[i - 1].since = what;
    return true;
}

sb_book_status sb_rechecked_begin(sb_book *book, int64_t id, const char *name,
                                  const sb_bench_options *options, sb_rechecked *out) {
    sb_bench_options aside = *options;
    sb_bench *bench = NULL;
    search found = {.out = out};
    memset(out, 0, sizeof *out);
    out->name = name;
    out->tolerance_cents = options->progress.tolerance_cents;
    out->fret = options->progress.fret;
    out->a4_hz = options->a4_hz;
    sb_book_status status = sb_book_describe(book, id, &out->d);
    if (status == SB_BOOK_OK)
        status = sb_book_read(book, id, 0, find_end, &found);
    aside.aside = true;
    aside.until = found.ended;
    aside.tell = NULL;
    if (status == SB_BOOK_OK)
        status = sb_bench_new(&aside, book, id, name, &bench);
    if (status == SB_BOOK_OK && take_kept(&bench->progress, out) == 0)
        status = SB_BOOK_BAD_DATA;
    sb_bench_free(bench);
    out->ended = found.ended > 0;
    out->kept_ms = out->ended ? found.ended_ms : found.read_ms;
    if (status == SB_BOOK_OK)
        status = sb_book_read(book, id, 0, note_change, &found);
    return status == SB_BOOK_OK ? sb_rechecked_past(book, id, out) : status;
}

/* --- the judgement ----------------------------------------------------------------------- */

/* A saddle that was moved, or another neck, accounts for another error. */
static sb_figure error_of(sb_error_reading reading, const char *since) {
    return reading.std_error > 0 && !since ? (sb_figure){reading.cents, reading.std_error}
                                           : SB_NO_FIGURE;
}

/* Whether the errors of all strings on a saddle changed the same way, none by less than half of the
 * most: then it is the saddle. A slanted one may move more at one end. */
static bool changed_together(const sb_rechecked *r, const sb_saddle *saddle) {
    double least = (double)INFINITY, most = 0;
    double way = r->strings[saddle->first - 1].result.change_cents < 0 ? -1 : 1;
    for (size_t i = saddle->first - 1; i < saddle->last; i++) {
        const sb_rechecked_string *s = &r->strings[i];
        double change = way * s->result.change_cents;
        bool known = s->now.std_error > 0 && s->was.std_error > 0 && !s->since;
        if (!known || change <= 2 * s->result.std_error_cents)
            return false;
        least = fmin(least, change);
        most = fmax(most, change);
    }
    return 2 * least >= most;
}

/* Of a saddle that slipped under several strings the error speaks against none of them. */
static void acquit(sb_rechecked *r, const sb_saddle *saddle, sb_suspicion found[]) {
    bool any = false;
    for (size_t i = saddle->first - 1; i < saddle->last; i++)
        any = any || found[i].signs[SB_SIGN_ERROR];
    bool slipped = any && sb_saddle_shared(saddle) && changed_together(r, saddle);
    for (size_t i = saddle->first - 1; i < saddle->last; i++) {
        r->strings[i].slipped = slipped;
        if (!slipped)
            continue;
        found[i].signs[SB_SIGN_ERROR] = found[i].suspect = false;
        for (int k = 0; k < SB_SIGNS; k++)
            found[i].suspect = found[i].suspect || found[i].signs[k];
    }
}

void sb_rechecked_judge(sb_rechecked *r) {
    sb_string_signs signs[SB_STRINGS_MAX] = {{.expected = {0}}};
    sb_suspicion found[SB_STRINGS_MAX];
    size_t n = r->d.instrument.n_strings;
    r->heard = r->inside = 0;
    for (size_t i = 0; i < n; i++) {
        sb_rechecked_string *s = &r->strings[i];
        s->result = sb_recheck_compare(s->now, s->was, r->tolerance_cents, s->compromise);
        r->heard += s->result.verdict != SB_RECHECK_NOT_HEARD;
        r->inside += s->result.inside == SB_INSIDE;
        s->signs.now[SB_SIGN_ERROR] = error_of(s->now, NULL);
        s->signs.was[SB_SIGN_ERROR] = error_of(s->was, s->since);
        signs[i] = s->signs;
    }
    sb_suspect(signs, n, found);
    for (size_t i = 0; i < r->d.instrument.n_saddles; i++)
        acquit(r, &r->d.instrument.saddles[i], found);
    r->any_suspect = false;
    for (size_t i = 0; i < n; i++) {
        r->strings[i].suspicion = found[i];
        r->any_suspect = r->any_suspect || found[i].suspect;
    }
}
