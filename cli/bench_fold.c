/* From the log to the state of a session, and additions to the log. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/bench_log.h"
#include "cli/bench_parts.h"

static void end_rounds(sb_bench *b, size_t first, size_t last) {
    for (size_t i = first; i <= last && i <= SB_STRINGS_MAX; i++)
        b->rounds[i - 1].ended = true;
}

static void end_rounds_of(sb_bench *b, int string) {
    if (string > 0)
        end_rounds(b, (size_t)string, (size_t)string);
    else
        end_rounds(b, 1, SB_STRINGS_MAX);
}

static void fold_description(sb_bench *b, const sb_event *event) {
    if (!sb_event_describes(event, &b->description))
        return;
    if (!b->begun)
        sb_progress_begin(&b->progress, &b->description.instrument, &b->options.progress);
    else
        sb_progress_describe(&b->progress, &b->description.instrument);
    b->begun = true;
    end_rounds(b, 1, SB_STRINGS_MAX);
    memset(b->waiting, 0, sizeof b->waiting);
    sb_whose_begin(&b->whose, &b->description.instrument, b->options.progress.fret,
                   b->options.a4_hz);
    sb_whose_only(&b->whose, b->only);
    if (event->kind != SB_EVENT_STRINGS)
        return;
    sb_progress_change(&b->progress, (size_t)event->string, SB_CHANGE_STRINGS);
    for (size_t i = 0; i < b->description.instrument.n_strings; i++)
        if (event->string == 0 || (size_t)event->string == i + 1)
            b->new_strings[i] = (sb_new_string){.fitted = true};
}

static void fold_reading(sb_bench *b, const sb_event *event, const sb_log_facts *facts) {
    size_t string = (size_t)event->string;
    if (string < 1 || string > b->progress.instrument.n_strings || !(facts->std_error > 0))
        return;
    char *last = b->last_round[string - 1];
    bool fresh = facts->round[0] == '\0' || strcmp(last, facts->round) != 0;
    memcpy(last, facts->round, sizeof b->last_round[0]);
    sb_progress_read(&b->progress, string, (sb_error_reading){facts->cents, facts->std_error},
                     fresh);
    if (strcmp(b->rounds[string - 1].id, facts->round) == 0)
        return;
    b->rounds[string - 1].ended = true; /* another session reads this string too */
    if (facts->open_hz > 0)
        sb_whose_known(&b->whose, string, facts->open_hz);
}

static void fold_move(sb_bench *b, const sb_event *event, const sb_log_facts *facts) {
    size_t string = event->string > 0 ? (size_t)event->string : 1;
    if (string > b->progress.instrument.n_strings)
        return;
    size_t s = sb_progress_saddle(&b->progress, string);
    const sb_saddle *saddle = &b->progress.instrument.saddles[s];
    sb_progress_move(&b->progress, string, facts->move_mm, facts->end_mm, facts->std_error_mm);
    b->last_way[s] = facts->move_mm < 0 ? -1 : 1;
    end_rounds(b, saddle->first, saddle->last);
}

static void fold_measured(sb_bench *b, const sb_event *event, const sb_log_facts *facts) {
    if (!facts->is_change)
        return;
    if (!facts->changed) {
        sb_progress_see(&b->progress, facts->change);
        return;
    }
    sb_progress_change(&b->progress, (size_t)event->string, facts->change);
    end_rounds_of(b, event->string);
}

static void fold_visit(sb_bench *b, const sb_log_facts *facts) {
    if (!facts->begun) {
        sb_progress_leave(&b->progress);
        return;
    }
    sb_progress_change(&b->progress, 0, SB_CHANGE_VISIT);
    end_rounds(b, 1, SB_STRINGS_MAX);
    memset(b->new_strings, 0, sizeof b->new_strings);
}

static bool fold(void *context, const sb_event *event) {
    sb_bench *b = context;
    b->seen = event->id;
    if (b->options.until > 0 && event->id > b->options.until)
        return true;
    if (event->kind == SB_EVENT_DESCRIBED || event->kind == SB_EVENT_STRINGS) {
        fold_description(b, event);
        return true;
    }
    if (!b->begun)
        return true;
    sb_log_facts facts = sb_log_read(event);
    switch (event->kind) {
    case SB_EVENT_READING: fold_reading(b, event, &facts); break;
    case SB_EVENT_MOVE: fold_move(b, event, &facts); break;
    case SB_EVENT_MEASURED: fold_measured(b, event, &facts); break;
    case SB_EVENT_VISIT: fold_visit(b, &facts); break;
    default: break;
    }
    return true;
}

sb_book_status sb_bench_catch_up(sb_bench *b) {
    sb_book_status status = sb_book_read(b->book, b->id, b->seen, fold, b);
    sb_progress_judge(&b->progress);
    return status;
}

sb_book_status sb_bench_refresh(sb_bench *bench) {
    int64_t seen = bench->seen;
    sb_book_status status = sb_bench_catch_up(bench);
    if (status == SB_BOOK_OK && bench->seen != seen)
        sb_bench_tell(bench, &(sb_news){.kind = SB_NEWS_ELSEWHERE});
    return status;
}

/* Takes `data` over. What others wrote meanwhile is taken in first, in the log's order. */
static sb_event event_of(sb_event_kind kind, size_t string, const char *data) {
    return (sb_event){.at_ms = sb_book_now_ms(), .kind = kind, .string = (int)string, .data = data};
}

sb_book_status sb_bench_append(sb_bench *b, sb_event_kind kind, size_t string, char *data) {
    sb_event event = event_of(kind, string, data);
    sb_book_status status = SB_BOOK_OK;
    if (!data)
        status = SB_BOOK_MEMORY;
    else if (!b->trying)
        status = sb_book_append(b->book, b->id, &event, NULL);
    free(data);
    return status == SB_BOOK_OK ? sb_bench_catch_up(b) : status;
}

sb_book_status sb_bench_append_pluck(sb_bench *b, size_t string, char *pluck, bool measured,
                                     char *reading) {
    sb_event events[] = {event_of(SB_EVENT_PLUCK, string, pluck),
                         event_of(SB_EVENT_READING, string, reading)};
    sb_book_status status = pluck && (reading || !measured)
                                ? sb_book_append_all(b->book, b->id, events, measured ? 2 : 1)
                                : SB_BOOK_MEMORY;
    free(pluck);
    free(reading);
    return status == SB_BOOK_OK ? sb_bench_catch_up(b) : status;
}
