/* quiet: noise and hum of an instrument, position by position. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/quiet.h"
#include "cli/term.h"

#define NOT_GIVEN (-1)

typedef struct {
    sb_texts takes;
    const char *positions;
    int when;
    bool json;
    sb_session_options live;
    sb_book_at at;
} quiet_args;

static const sb_option sound_options[] = {
    {"take", SB_OPT_TEXTS, offsetof(quiet_args, takes), "[POSITION=]FILE",
     "a recording of a few seconds' silence and then a pluck, in that position of the selector; "
     "given several times, of several positions",
     0, 0, false},
};

static const sb_option live_options[] = {
    {"positions", SB_OPT_TEXT, offsetof(quiet_args, positions), "LIST",
     "the selector's positions to listen to one after another, such as 1,2,3", 0, 0, false},
    SB_ROW_TIMEOUT(quiet_args, live.timeout_s),
};

static const sb_option answer_options[] = {
    {"when", SB_OPT_CHOICE, offsetof(quiet_args, when), "before|after",
     "whether this is before or after the work (default: the first of a visit is before)", 0, 0,
     false},
    {"json", SB_OPT_FLAG, offsetof(quiet_args, json), NULL, "print one JSON object a position", 0,
     0, false},
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sound", sound_options, COUNT(sound_options), 0},
    {"live", live_options, COUNT(live_options), 0},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(quiet_args, live.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(quiet_args, at)},
    {NULL, NULL, 0, 0},
};

typedef struct {
    quiet_args args;
    sb_book_named named;
    sb_quiet_log log;
    sb_quiet quiet[SB_QUIET_POSITIONS];
    size_t n;
    sb_signal_events events;
} work;

/* --- listening ------------------------------------------------------------------------------ */

static int check(work *w) {
    sb_signal_take take;
    char names[SB_QUIET_POSITIONS][SB_SIGNAL_NAME_MAX];
    size_t n = w->args.takes.n;
    if (n > 0 && w->args.positions)
        return sb_fail(EX_USAGE, "write --take POSITION=FILE", NULL,
                       "--positions does not go with --take");
    if (n > SB_QUIET_POSITIONS)
        return sb_fail(EX_USAGE, "measure fewer at a time", NULL, "at most %d recordings",
                       SB_QUIET_POSITIONS);
    for (size_t i = 0; i < n; i++) {
        int code = sb_signal_take_parse(w->args.takes.item[i], false, &take);
        if (code != EX_OK)
            return code;
        if (sb_signal_find(take.position, (const char(*)[SB_SIGNAL_NAME_MAX])names, i) < i)
            return sb_fail(EX_USAGE, "write --take POSITION=FILE, each position once",
                           w->args.takes.item[i], "two recordings of the same position");
        memcpy(names[i], take.position, sizeof names[i]);
    }
    return EX_OK;
}

/* One bad recording does not keep the others from being measured. */
static int measure_takes(work *w) {
    int worst = EX_OK;
    for (size_t i = 0; i < w->args.takes.n && worst != EX_OSERR; i++) {
        sb_signal_heard heard;
        sb_signal_take take;
        sb_quiet *q = &w->quiet[w->n];
        int code = sb_signal_take_parse(w->args.takes.item[i], false, &take);
        if (code != EX_OK)
            return code;
        *q = (sb_quiet){.path = take.path};
        memcpy(q->position, take.position, sizeof q->position);
        code = sb_signal_load(take.path, w->args.live.input.channel, SB_SILENCE_KEEP_S, &heard);
        if (code == EX_OK)
            code = sb_quiet_measure(&heard, &w->log, q);
        sb_signal_release(&heard);
        w->n += code == EX_OK;
        worst = worst == EX_OK ? code : worst;
    }
    return worst;
}

static int measure_live(work *w) {
    char names[SB_QUIET_POSITIONS][SB_SIGNAL_NAME_MAX];
    size_t n = 1;
    if (w->args.positions) {
        int code = sb_signal_names(w->args.positions, "positions", names, SB_QUIET_POSITIONS, &n);
        if (code != EX_OK)
            return code;
        for (size_t i = 0; i < n; i++)
            memcpy(w->quiet[i].position, names[i], sizeof names[i]);
    }
    return sb_quiet_listen(&w->args.live, &w->log, w->quiet, n, &w->n);
}

/* --- the answer ----------------------------------------------------------------------------- */

static int conclude(work *w, int code) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    bool whole = true;
    if (code == EX_OSERR)
        return code; /* for want of memory nothing else is tried */
    for (size_t i = 0; i < w->n; i++) {
        sb_quiet_place(&w->log, w->args.when, &w->quiet[i]);
        sb_signal_add(&w->events, 0, sb_quiet_data(&w->quiet[i], NULL));
    }
    if (w->n == 0)
        return code;
    int kept = sb_signal_keep(&w->named, &w->args.at, &w->events);
    if (kept != EX_OK)
        return kept;
    for (size_t i = 0; i < w->n && whole; i++) {
        if (w->args.json)
            whole = sb_signal_print(sb_quiet_data(&w->quiet[i], w->named.name));
        else
            sb_quiet_print(&page, &w->quiet[i]);
    }
    if (!w->args.json) {
        (void)fputc('\n', stdout);
        sb_print_paragraph(&page, "Hum changes as the instrument turns: hold it alike before and "
                                  "after, and leave the input's level as it is.");
        sb_print_paragraph(&page, SB_SIGNAL_CAUTION);
    }
    return whole ? code : sb_complain_memory();
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    sb_texts operands = {.n = 0};
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args.when = NOT_GIVEN;
    int code = sb_command_args(self, argc, argv, &w->args, &operands);
    if (code == EX_OK)
        code = check(w);
    if (code == EX_OK)
        code = sb_book_open_named(&w->args.at, &operands, SB_BOOK_WRITE, &w->named);
    if (code == EX_OK) {
        code = sb_book_complain(sb_quiet_read_log(w->named.book, w->named.id, &w->log),
                                w->args.at.path, w->named.name);
        if (code == EX_OK)
            code = conclude(w, w->args.takes.n > 0 ? measure_takes(w) : measure_live(w));
        sb_book_close(w->named.book);
    }
    free(w);
    return code;
}

static const char *const usage[] = {
    "INSTRUMENT --take [POSITION=]FILE... [OPTIONS]",
    "INSTRUMENT [--positions LIST] [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback quiet practice --positions 1,2,3",
    "setback quiet practice --take 1=bridge.wav --take 2=both.wav --take 3=neck.wav",
    "setback quiet practice --when after --take 1=again.wav --json",
    NULL,
};

const sb_command sb_cmd_quiet = {
    "quiet",
    "measure noise and mains hum in each position of the selector",
    "Plug the instrument into the input, volume and tone full up, damp the strings with a cloth, "
    "hands off (a hand on them grounds them, which hides hum), and wait five seconds; then pluck "
    "one. Tells mains hum (50 or 60 Hz and its harmonics) from "
    "noise, says how far both lie below that pluck, or else below the last one in the book, and "
    "compares with what was measured before.\n" SB_SIGNAL_CAUTION,
    usage,
    examples,
    groups,
    run,
};
