/* bench_parts: what the files of the bench share; no one else includes it.
 */
#ifndef SB_BENCH_PARTS_H
#define SB_BENCH_PARTS_H

#include "cli/bench.h"

void sb_bench_tell(sb_bench *bench, const sb_news *news);

/* Reads what is new in the log into the state, and judges it. */
sb_book_status sb_bench_catch_up(sb_bench *bench);

/* Adds to the log and catches up; `data` (NULL: out of memory) is freed. */
sb_book_status sb_bench_append(sb_bench *bench, sb_event_kind kind, size_t string, char *data);

/* The same for several of one string, all or none. */
#define SB_BENCH_AT_ONCE 3
typedef struct {
    sb_event_kind kind;
    char *data;
} sb_bench_entry;
sb_book_status sb_bench_append_all(sb_bench *bench, size_t string, const sb_bench_entry entries[],
                                   size_t n);

/* Adds a pluck to a string's round, or begins another with it. `take`: which recording. */
void sb_round_add(sb_bench *bench, sb_round *round, const sb_pluck *pluck, int take);

size_t sb_round_count(const sb_round *round, bool fretted);

/* Whether both notes are in. */
bool sb_round_complete(const sb_round *round);

/* The last pluck of a kind; NULL if there is none. */
const sb_pluck *sb_round_last(const sb_round *round, bool fretted);

/* The interval of a complete round; false where it is no reading of a saddle. */
bool sb_round_combine(const sb_bench *bench, const sb_round *round, sb_interval *out);

#endif
