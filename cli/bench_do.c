/* What a session is told to do. */
#include <math.h>

#include "cli/bench_log.h"
#include "cli/bench_parts.h"

#define LEAST_TURN_MM 0.05
#define TURN_READING  (1.0 / 16.0) /* an eighth of a turn is read to half of that */

static double turned_mm(const sb_saddle *saddle, const sb_order *order) {
    bool back = (order->turn == SB_TURN_CLOCKWISE) == (saddle->screw == SB_SCREW_PULLS);
    return (back ? 1 : -1) * order->turns * saddle->thread_mm;
}

/* How exactly a move is known: a ruler's tenth, or a part of a turn and, where the screw was
 * turned the other way than before, its slack. */
static double move_std_mm(const sb_bench *b, size_t s, const sb_order *order, double move_mm) {
    double thread = b->progress.instrument.saddles[s].thread_mm;
    if (!order->in_turns)
        return SB_HAND_MM;
    double std = fmax(LEAST_TURN_MM, thread * TURN_READING);
    bool same_way = b->last_way[s] * move_mm > 0;
    return same_way ? std : hypot(std, SB_BACKLASH_MM);
}

static sb_book_status move_saddle(sb_bench *b, size_t s, const sb_order *order,
                                  const char **fault) {
    const sb_saddle *saddle = &b->progress.instrument.saddles[s];
    const sb_saddle_progress *at = &b->progress.saddles[s];
    double move_mm = order->move_mm, end_mm = order->end_mm;
    if (order->as_asked) {
        move_mm = at->move_mm;
        end_mm = at->end_mm;
        *fault = at->due ? NULL : "no move was asked for there: say by how much it was moved";
    } else if (order->in_turns) {
        move_mm = end_mm = turned_mm(saddle, order);
        *fault = saddle->thread_mm > 0 ? NULL : "its thread is not known: give the move in mm";
    } else if (move_mm != end_mm && saddle->shape == SB_SHAPE_FLAT) {
        *fault = "it moves as a whole: give one amount";
    }
    if (*fault)
        return SB_BOOK_BAD_DATA;
    size_t first = saddle->first;
    sb_book_status status =
        sb_bench_append(b, SB_EVENT_MOVE, first,
                        sb_log_move(move_mm, end_mm, move_std_mm(b, s, order, move_mm),
                                    order->as_asked   ? "as asked"
                                    : order->in_turns ? "turns"
                                                      : "mm"));
    if (status == SB_BOOK_OK)
        sb_bench_tell(
            b, &(sb_news){
                   .kind = SB_NEWS_MOVED, .string = first, .move_mm = move_mm, .end_mm = end_mm});
    return status;
}

static sb_book_status move_all(sb_bench *b, const sb_order *order, const char **fault) {
    bool due[SB_STRINGS_MAX] = {false}, any = false;
    sb_book_status status = SB_BOOK_OK;
    for (size_t s = 0; s < b->progress.instrument.n_saddles; s++) {
        due[s] = b->progress.saddles[s].due;
        any = any || due[s];
    }
    for (size_t s = 0; s < b->progress.instrument.n_saddles && status == SB_BOOK_OK; s++)
        if (due[s])
            status = move_saddle(b, s, order, fault);
    if (!any)
        *fault = "no move was asked for";
    return any ? status : SB_BOOK_BAD_DATA;
}

static sb_book_status do_move(sb_bench *b, const sb_order *order, const char **fault) {
    size_t string = order->string ? order->string : b->last_string;
    if (order->all)
        return move_all(b, order, fault);
    if (string == 0)
        *fault = "say which string: moved 3 1.7 back";
    if (string > b->progress.instrument.n_strings)
        *fault = "there is no such string";
    return *fault ? SB_BOOK_BAD_DATA
                  : move_saddle(b, sb_progress_saddle(&b->progress, string), order, fault);
}

static sb_book_status do_change(sb_bench *b, const sb_order *order, const char **fault) {
    if (order->string > b->progress.instrument.n_strings) {
        *fault = "there is no such string";
        return SB_BOOK_BAD_DATA;
    }
    sb_book_status status =
        order->change == SB_CHANGE_STRINGS
            ? sb_bench_append(b, SB_EVENT_STRINGS, order->string,
                              sb_log_strings(&b->progress.instrument))
            : sb_bench_append(b, SB_EVENT_MEASURED, order->string, sb_log_change(order->change));
    if (status == SB_BOOK_OK)
        sb_bench_tell(
            b,
            &(sb_news){.kind = SB_NEWS_CHANGED, .string = order->string, .change = order->change});
    return status;
}

sb_book_status sb_bench_restring(sb_bench *bench, const sb_string strings[], bool trial,
                                 const char **fault) {
    sb_instrument fitted = bench->progress.instrument;
    for (size_t i = 0; i < fitted.n_strings; i++)
        fitted.strings[i] = strings[i];
    *fault = sb_instrument_fault(&fitted);
    if (*fault)
        return SB_BOOK_BAD_DATA;
    if (trial)
        return SB_BOOK_OK;
    sb_book_status status = sb_bench_append(bench, SB_EVENT_STRINGS, 0, sb_log_strings(&fitted));
    if (status == SB_BOOK_OK)
        sb_bench_tell(bench, &(sb_news){.kind = SB_NEWS_CHANGED, .change = SB_CHANGE_STRINGS});
    return status;
}

static sb_book_status do_visit(sb_bench *b) {
    sb_book_status status = sb_bench_append(b, SB_EVENT_VISIT, 0, sb_log_visit());
    if (status == SB_BOOK_OK)
        sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_CHANGED, .change = SB_CHANGE_VISIT});
    return status;
}

static sb_book_status do_note(sb_bench *b, const sb_order *order, const char **fault) {
    char *data = sb_log_note(order->text);
    if (!data) {
        *fault = "a note is written in UTF-8";
        return SB_BOOK_BAD_DATA;
    }
    sb_book_status status = sb_bench_append(b, SB_EVENT_NOTE, 0, data);
    if (status == SB_BOOK_OK)
        sb_bench_tell(b, &(sb_news){.kind = SB_NEWS_NOTED, .text = order->text});
    return status;
}

sb_book_status sb_bench_do(sb_bench *bench, const sb_order *order, const char **fault) {
    *fault = NULL;
    sb_book_status status = sb_bench_refresh(bench);
    if (status != SB_BOOK_OK)
        return status;
    switch (order->kind) {
    case SB_ORDER_MOVED: return do_move(bench, order, fault);
    case SB_ORDER_CHANGED: return do_change(bench, order, fault);
    case SB_ORDER_VISIT: return do_visit(bench);
    case SB_ORDER_NOTE: return do_note(bench, order, fault);
    case SB_ORDER_STRING:
        if (order->string > bench->progress.instrument.n_strings) {
            *fault = "there is no such string";
            return SB_BOOK_BAD_DATA;
        }
        if (bench->trying)
            return SB_BOOK_OK;
        bench->only = order->string;
        if (order->string > 0)
            bench->last_string = order->string;
        sb_whose_only(&bench->whose, order->string);
        return SB_BOOK_OK;
    default: return SB_BOOK_OK;
    }
}

sb_book_status sb_bench_try(sb_bench *bench, const sb_order *order, const char **fault) {
    bench->trying = true;
    sb_book_status status = sb_bench_do(bench, order, fault);
    bench->trying = false;
    return status;
}
