#include "cli/bench.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench_log.h"
#include "cli/bench_parts.h"
#include "core/pitch.h"

/* --- news ------------------------------------------------------------------------------ */

void sb_bench_tell(sb_bench *b, const sb_news *news) {
    if (b->options.tell && !b->trying)
        b->options.tell(b->options.context, b, news);
}

/* --- beginning and end ----------------------------------------------------------------- */

static sb_book_status begin(sb_bench *b) {
    sb_book_status status = sb_bench_catch_up(b);
    if (status == SB_BOOK_OK && !b->begun)
        status = SB_BOOK_DAMAGED;
    if (status == SB_BOOK_OK && !b->progress.in_visit && !b->options.aside)
        status = sb_bench_append(b, SB_EVENT_VISIT, 0, sb_log_visit());
    return status;
}

sb_book_status sb_bench_new(const sb_bench_options *options, sb_book *book, int64_t id,
                            const char *name, sb_bench **out) {
    sb_bench *b = calloc(1, sizeof *b);
    if (!b)
        return SB_BOOK_MEMORY;
    b->options = *options;
    b->book = book;
    b->id = id;
    b->session = sb_book_now_ms() * 100000 + getpid() % 100000;
    (void)snprintf(b->name, sizeof b->name, "%s", name);
    sb_book_status status = begin(b);
    if (status == SB_BOOK_OK)
        *out = b;
    else
        sb_bench_free(b);
    return status;
}

void sb_bench_free(sb_bench *bench) {
    free(bench);
}

sb_book_status sb_bench_leave(sb_bench *bench) {
    return bench->progress.in_visit ? sb_bench_append(bench, SB_EVENT_VISIT, 0, sb_log_visit_end())
                                    : SB_BOOK_OK;
}

void sb_bench_take(sb_bench *bench, const char *take) {
    bench->take = take;
    bench->take_number++;
}

/* --- notes ----------------------------------------------------------------------------- */

/* Whether what is heard of a new string is a new verdict. */
static bool watch_settling(sb_bench *b, size_t string, const sb_pluck *p) {
    sb_new_string *s = &b->new_strings[string - 1];
    if (!s->fitted || p->fretted)
        return false;
    if (s->take != b->take_number)
        s->n = 0; /* plucks of different recordings have no common clock */
    s->take = b->take_number;
    if (s->n == SB_BENCH_OPENS) {
        s->n--;
        memmove(s->time_s, s->time_s + 1, s->n * sizeof *s->time_s);
        memmove(s->cents, s->cents + 1, s->n * sizeof *s->cents);
    }
    s->time_s[s->n] = p->time_s;
    s->cents[s->n++] = sb_cents_between(SB_A4_HZ, p->hz);
    s->settling = sb_settle_judge(s->time_s, s->cents, s->n);
    return s->settling.kind != SB_SETTLE_UNKNOWN && s->settling.kind != s->verdict;
}

static void tell_measured(sb_bench *b, size_t string, const sb_interval *interval,
                          double inferred_before) {
    double inferred = b->progress.strings[string - 1].learner.inferred_mm;
    if (inferred != 0 && inferred != inferred_before)
        sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_MOVED,
                                    .string = string,
                                    .move_mm = inferred,
                                    .end_mm = inferred,
                                    .inferred = true});
    sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_READING, .string = string, .interval = interval});
}

/* A verdict comes first: the reading of the same note is of a string that has settled. */
static sb_book_status write_note(sb_bench *b, const sb_whose_answer *a, const sb_waiting_note *w,
                                 const sb_interval *interval, bool settling) {
    sb_bench_entry entries[SB_BENCH_AT_ONCE];
    size_t n = 0;
    if (settling)
        entries[n++] = (sb_bench_entry){SB_EVENT_MEASURED,
                                        sb_log_settled(&b->new_strings[a->string - 1].settling)};
    entries[n++] = (sb_bench_entry){SB_EVENT_PLUCK, sb_log_pluck(a->fretted ? "fretted" : "open",
                                                                 &w->reading, w->at_s, b->take)};
    if (interval)
        entries[n++] =
            (sb_bench_entry){SB_EVENT_READING, sb_log_reading(interval, b->rounds[a->string - 1].id,
                                                              b->options.progress.fret)};
    return sb_bench_append_all(b, a->string, entries, n);
}

static sb_book_status keep_note(sb_bench *b, const sb_whose_answer *a, const sb_waiting_note *w) {
    const sb_reading *r = &w->reading;
    sb_round *round = &b->rounds[a->string - 1];
    const double inferred = b->progress.strings[a->string - 1].learner.inferred_mm;
    const sb_pluck pluck = {.time_s = w->at_s,
                            .hz = r->hz,
                            .std_error_cents = r->std_error_cents,
                            .fretted = a->fretted};
    sb_interval interval;
    sb_round_add(b, round, &pluck, w->take);
    bool measured = sb_round_complete(round) && sb_round_combine(b, round, &interval);
    bool settling = !b->options.aside && watch_settling(b, a->string, &pluck);
    sb_book_status status =
        b->options.aside ? SB_BOOK_OK : write_note(b, a, w, measured ? &interval : NULL, settling);
    if (status != SB_BOOK_OK)
        return status;
    b->notes++;
    b->last_string = a->string;
    sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_NOTE,
                                .string = a->string,
                                .fretted = a->fretted,
                                .reading = r,
                                .at_s = w->at_s,
                                .take = b->take});
    if (settling)
        sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_SETTLING,
                                    .string = a->string,
                                    .settling = b->new_strings[a->string - 1].settling});
    if (measured)
        tell_measured(b, a->string, &interval, inferred);
    return SB_BOOK_OK;
}

static void leave_out(sb_bench *b, const sb_reading *r, double at_s, const char *why) {
    sb_bench_tell(
        b, &(sb_news){
               .kind = SB_NEWS_LEFT_OUT, .reading = r, .at_s = at_s, .take = b->take, .text = why});
}

static sb_waiting_note *waiting_note(sb_bench *b, size_t note, bool used) {
    for (size_t i = 0; i < SB_WHOSE_WAITING + 1; i++)
        if (b->waiting[i].used == used && (!used || b->waiting[i].note == note))
            return &b->waiting[i];
    return &b->waiting[0];
}

/* All notes whose string is known by now. */
static sb_book_status place_notes(sb_bench *b) {
    sb_whose_answer a;
    sb_book_status status = SB_BOOK_OK;
    while (status == SB_BOOK_OK && sb_whose_next(&b->whose, &a)) {
        sb_waiting_note *w = waiting_note(b, a.note, true);
        w->used = false;
        if (a.string > 0)
            status = keep_note(b, &a, w);
        else
            leave_out(b, &w->reading, w->at_s,
                      a.unsure ? "it may be one of several strings"
                               : "no open or fretted note of this instrument");
    }
    return status;
}

sb_book_status sb_bench_hear(sb_bench *bench, const sb_reading *reading, double at_s) {
    if (reading->still_sounding) {
        if (reading->fault != SB_PLUCK_GOOD)
            return SB_BOOK_OK;
        sb_whose_answer guess = sb_whose_guess(&bench->whose, reading->hz);
        sb_bench_tell(bench, &(sb_news){.kind = SB_NEWS_SOUNDING,
                                        .string = guess.string,
                                        .fretted = guess.fretted,
                                        .reading = reading,
                                        .at_s = at_s,
                                        .take = bench->take});
        return SB_BOOK_OK;
    }
    if (reading->fault != SB_PLUCK_GOOD || !(reading->std_error_cents > 0)) {
        leave_out(bench, reading, at_s, sb_pluck_fault_text(reading->fault));
        return SB_BOOK_OK;
    }
    sb_waiting_note *w = waiting_note(bench, 0, false);
    sb_book_status status = sb_bench_refresh(bench);
    if (status != SB_BOOK_OK)
        return status;
    *w = (sb_waiting_note){.reading = *reading,
                           .note = sb_whose_hear(&bench->whose, reading->hz),
                           .at_s = at_s,
                           .take = bench->take_number,
                           .used = true};
    status = place_notes(bench);
    if (status == SB_BOOK_OK && w->used)
        sb_bench_tell(bench, &(sb_news){.kind = SB_NEWS_UNDECIDED,
                                        .reading = &w->reading,
                                        .at_s = at_s,
                                        .take = bench->take});
    return status;
}

sb_book_status sb_bench_settle(sb_bench *bench) {
    sb_whose_finish(&bench->whose);
    sb_book_status status = place_notes(bench);
    bench->whose.finished = false;
    return status;
}
