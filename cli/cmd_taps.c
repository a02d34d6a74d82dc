/* taps: which pickup sounds in which position of the selector. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/tapping.h"
#include "cli/term.h"

typedef struct {
    sb_texts takes;
    const char *order, *positions, *meant;
    double pause_s, weak_db, dead_db;
    bool json;
    sb_session_options live;
    sb_book_at at;
} taps_args;

static const sb_option sound_options[] = {
    {"order", SB_OPT_TEXT, offsetof(taps_args, order), "LIST",
     "the pickups in the order in which they are tapped, such as neck,middle,bridge", 0, 0, false},
    {"take", SB_OPT_TEXTS, offsetof(taps_args, takes), "[POSITION=]FILE",
     "a recording of taps in that position of the selector: each pickup a few times in the order "
     "told, with a pause between pickups; or POSITION:PICKUP=FILE, of one pickup",
     0, 0, false},
    {"pause", SB_OPT_NUMBER, offsetof(taps_args, pause_s), "S",
     "how long a pause divides two pickups' taps (default 1.5)", 0.3, 60, false},
};

static const sb_option live_options[] = {
    {"positions", SB_OPT_TEXT, offsetof(taps_args, positions), "LIST",
     "the selector's positions to go through, such as 1,2,3 (default: those of --meant)", 0, 0,
     false},
    SB_ROW_TIMEOUT(taps_args, live.timeout_s),
};

static const sb_option answer_options[] = {
    {"meant", SB_OPT_TEXT, offsetof(taps_args, meant), "MAP",
     "which pickups each position is meant to have: 1=bridge,2=bridge+middle,3=none", 0, 0, false},
    {"weak", SB_OPT_NUMBER, offsetof(taps_args, weak_db), "DB",
     "the level against the loudest under which a pickup is weak (default -12)", -60, -1, false},
    {"dead", SB_OPT_NUMBER, offsetof(taps_args, dead_db), "DB",
     "and that under which it is dead (default -24)", -80, -2, false},
    {"json", SB_OPT_FLAG, offsetof(taps_args, json), NULL, "print one JSON object", 0, 0, false},
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sound", sound_options, COUNT(sound_options), 0},
    {"live", live_options, COUNT(live_options), 0},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(taps_args, live.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(taps_args, at)},
    {NULL, NULL, 0, 0},
};

typedef struct {
    taps_args args;
    sb_book_named named;
    sb_tapping tapping;
    size_t order[SB_TAP_PICKUPS], n_order;
    sb_signal_take take[SB_TEXTS_MAX];
    sb_signal_events events;
} work;

/* --- what is asked -------------------------------------------------------------------------- */

static int read_order(work *w) {
    char names[SB_TAP_PICKUPS][SB_SIGNAL_NAME_MAX];
    if (!w->args.order)
        return EX_OK;
    int code = sb_signal_names(w->args.order, "order", names, SB_TAP_PICKUPS, &w->n_order);
    for (size_t i = 0; i < w->n_order && code == EX_OK; i++)
        code = sb_tapping_pickup(&w->tapping, names[i], &w->order[i]);
    return code;
}

static int read_positions(work *w) {
    char names[SB_TAP_POSITIONS][SB_SIGNAL_NAME_MAX];
    size_t n = 0, place;
    if (!w->args.positions)
        return EX_OK;
    int code = sb_signal_names(w->args.positions, "positions", names, SB_TAP_POSITIONS, &n);
    for (size_t i = 0; i < n && code == EX_OK; i++)
        code = sb_tapping_position(&w->tapping, names[i], &place);
    return code;
}

static bool same_cell(const sb_signal_take *a, const sb_signal_take *b) {
    return strcmp(a->position, b->position) == 0 &&
           (a->pickup[0] == '\0' || b->pickup[0] == '\0' || strcmp(a->pickup, b->pickup) == 0);
}

static int read_takes(work *w) {
    for (size_t i = 0; i < w->args.takes.n; i++) {
        int code = sb_signal_take_parse(w->args.takes.item[i], true, &w->take[i]);
        if (code != EX_OK)
            return code;
        for (size_t j = 0; j < i; j++)
            if (same_cell(&w->take[i], &w->take[j]))
                return sb_fail(EX_USAGE, "give each position, or each pickup in it, once",
                               w->args.takes.item[i], "two recordings of the same");
        if (!w->take[i].pickup[0] && w->n_order == 0)
            return sb_fail(EX_USAGE, "tell the pickups as they were tapped: --order neck,bridge",
                           w->args.takes.item[i], "--order is needed");
    }
    if (w->args.takes.n == 0 && w->n_order == 0)
        return sb_fail(EX_USAGE, "tell the pickups as you will tap them: --order neck,bridge", NULL,
                       "--order is needed");
    return EX_OK;
}

static int prepare(work *w) {
    w->tapping.map.weak_db = w->args.weak_db;
    w->tapping.map.dead_db = w->args.dead_db;
    if (!(w->args.dead_db < w->args.weak_db))
        return sb_fail(EX_USAGE, "such as --weak -12 --dead -24", NULL,
                       "--dead is not below --weak");
    if (w->args.takes.n > 0 && w->args.positions)
        return sb_fail(EX_USAGE, "write --take POSITION=FILE", NULL,
                       "--positions does not go with --take");
    int code = read_order(w);
    if (code == EX_OK)
        code = read_positions(w);
    if (code == EX_OK && w->args.meant)
        code = sb_tapping_meant(&w->tapping, w->args.meant);
    if (code == EX_OK)
        code = read_takes(w);
    return code;
}

/* --- listening ------------------------------------------------------------------------------ */

static int hear_takes(work *w) {
    for (size_t i = 0; i < w->args.takes.n; i++) {
        sb_signal_heard heard;
        int code = sb_signal_load(w->take[i].path, w->args.live.input.channel, 0, &heard);
        if (code == EX_OK)
            code = sb_tapping_sort(&w->tapping, &heard, &w->take[i], w->order, w->n_order,
                                   w->args.pause_s);
        sb_signal_release(&heard);
        if (code != EX_OK)
            return code;
    }
    return EX_OK;
}

static int hear_live(work *w) {
    size_t place;
    int code = EX_OK;
    if (w->tapping.map.n_positions == 0)
        code = sb_tapping_position(&w->tapping, "", &place);
    return code == EX_OK ? sb_tapping_listen(&w->args.live, &w->tapping, w->order, w->n_order)
                         : code;
}

/* --- the answer ----------------------------------------------------------------------------- */

static int keep(work *w) {
    const sb_tapping *t = &w->tapping;
    for (size_t p = 0; p < t->map.n_positions; p++)
        for (size_t q = 0; q < t->map.n_pickups; q++)
            if (t->map.cell[p][q].tried)
                sb_signal_add(&w->events, 0, sb_tapping_data(t, p, q));
    return sb_signal_keep(&w->named, &w->args.at, &w->events);
}

static int conclude(work *w) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    int code = sb_tapping_judge(&w->tapping);
    if (code == EX_OK)
        code = keep(w);
    if (code != EX_OK)
        return code;
    if (!w->args.json)
        sb_tapping_print(&page, &w->tapping);
    else if (!sb_signal_print(sb_tapping_json(&w->tapping, w->named.name)))
        return sb_complain_memory();
    return w->tapping.n_findings > 0 ? SB_EX_NOT_RIGHT : EX_OK;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    sb_texts operands = {.n = 0};
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args.pause_s = SB_TAPPING_PAUSE_S;
    w->args.weak_db = SB_TAP_WEAK_DB;
    w->args.dead_db = SB_TAP_DEAD_DB;
    int code = sb_command_args(self, argc, argv, &w->args, &operands);
    if (code == EX_OK)
        code = prepare(w);
    if (code == EX_OK)
        code = sb_book_open_named(&w->args.at, &operands, SB_BOOK_WRITE, &w->named);
    if (code == EX_OK) {
        code = w->args.takes.n > 0 ? hear_takes(w) : hear_live(w);
        if (code == EX_OK)
            code = conclude(w);
        sb_book_close(w->named.book);
    }
    free(w);
    return code;
}

static const char *const usage[] = {
    "INSTRUMENT --order LIST --take POSITION=FILE... [OPTIONS]",
    "INSTRUMENT --take POSITION:PICKUP=FILE... [OPTIONS]",
    "INSTRUMENT --order LIST [--positions LIST] [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback taps practice --order neck,middle,bridge --meant "
    "1=bridge,2=bridge+middle,3=middle,4=middle+neck,5=neck",
    "setback taps practice --order neck,bridge --take 1=down.wav --take 2=mid.wav --take 3=up.wav",
    "setback taps practice --take 2:neck=a.wav --take 2:bridge=b.wav --meant 2=neck+bridge --json",
    NULL,
};

const sb_command sb_cmd_taps = {
    "taps",
    "tap the pickups, and see which sounds in which position",
    "Plug the instrument into the input, volume full up, damp the strings, and tap each pickup's "
    "top lightly with a small screwdriver, three times, in each position of the selector. Prints "
    "which pickup is live, weak or dead where, by the levels of the taps against the loudest, and "
    "says what disagrees with what the selector is meant to do.\n"
    "A pickup that is silent in a position leaves no taps to count: live, its turn passes; with "
    "recordings give one of each pickup.\n"
    "Exits with 1 when what was tapped does not sound as --meant says.\n" SB_SIGNAL_CAUTION,
    usage,
    examples,
    groups,
    run,
};
