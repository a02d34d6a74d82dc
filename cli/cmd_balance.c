/* balance: how loud each string is, and whether the pickup stands straight. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/balance.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/term.h"
#include "core/pitch.h"

typedef struct {
    sb_texts takes;
    const char *position;
    sb_numbers order;
    double a4_hz, tolerance_db, height_mm;
    bool json;
    sb_session_options live;
    sb_book_at at;
} balance_args;

static const sb_option sound_options[] = {
    {"take", SB_OPT_TEXTS, offsetof(balance_args, takes), "[POSITION=]FILE",
     "a recording of open strings, each plucked a few times, in that position of the selector; "
     "several of one position count together",
     0, 0, false},
    {"order", SB_OPT_NUMBERS, offsetof(balance_args, order), "N,N,...",
     "with recordings: which strings were plucked, --plucks times each, one after another, such as "
     "6,5,4,3,2,1 (default: their pitch tells)",
     1, SB_STRINGS_MAX, false},
    {"plucks", SB_OPT_WHOLE, offsetof(balance_args, live.plucks), "N",
     "how many plucks of each string: to wait for, live, or that were made (default 3)", 2, 20,
     false},
    SB_ROW_A4(balance_args, a4_hz, 480),
};

static const sb_option live_options[] = {
    {"position", SB_OPT_TEXT, offsetof(balance_args, position), "NAME",
     "which position of the selector it is in", 0, 0, false},
    SB_ROW_TIMEOUT(balance_args, live.timeout_s),
};

static const sb_option answer_options[] = {
    {"height", SB_OPT_LENGTH, offsetof(balance_args, height_mm), "LEN",
     "how far the outer string now is from the pickup's pole on the louder side (default: the "
     "height in the book, pickup-POSITION-treble or pickup-treble and so for bass, else 2.8 mm, "
     "give or take 0.8)",
     0.3, 30, false},
    {"tolerance", SB_OPT_NUMBER, offsetof(balance_args, tolerance_db), "DB",
     "the tilt that may stay, from side to side (default 2)", 0.2, 20, false},
    {"json", SB_OPT_FLAG, offsetof(balance_args, json), NULL, "print one JSON object a position", 0,
     0, false},
};

#define COUNT(rows) (sizeof(rows) / sizeof(rows)[0])

static const sb_option_group groups[] = {
    {"the sound", sound_options, COUNT(sound_options), 0},
    {"live", live_options, COUNT(live_options), 0},
    {"the answer", answer_options, COUNT(answer_options), 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(balance_args, live.input)},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(balance_args, at)},
    {NULL, NULL, 0, 0},
};

typedef struct {
    balance_args args;
    sb_book_named named;
    sb_description description;
    size_t order[SB_NUMBERS_MAX];
    sb_signal_take take[SB_TEXTS_MAX];
    char position[SB_BALANCE_POSITIONS][SB_SIGNAL_NAME_MAX];
    size_t n;
    sb_balance balance[SB_BALANCE_POSITIONS];
    bool bad[SB_BALANCE_POSITIONS];
    sb_signal_events events;
} work;

/* --- what is asked -------------------------------------------------------------------------- */

static int check(work *w) {
    const balance_args *a = &w->args;
    if (a->takes.n == 0 && a->order.n > 0)
        return sb_fail(EX_USAGE, "live the strings are told by their pitch", NULL,
                       "--order goes with --take");
    if (a->takes.n > 0 && a->position)
        return sb_fail(EX_USAGE, "write --take POSITION=FILE", NULL,
                       "--position does not go with --take");
    for (size_t i = 0; i < a->takes.n; i++) {
        int code = sb_signal_take_parse(a->takes.item[i], false, &w->take[i]);
        if (code != EX_OK)
            return code;
        size_t p = sb_signal_find(w->take[i].position,
                                  (const char(*)[SB_SIGNAL_NAME_MAX])w->position, w->n);
        if (p == SB_BALANCE_POSITIONS)
            return sb_fail(EX_USAGE, "measure fewer at a time", NULL, "at most %d positions",
                           SB_BALANCE_POSITIONS);
        if (p == w->n)
            memcpy(w->position[w->n++], w->take[i].position, SB_SIGNAL_NAME_MAX);
    }
    if (a->takes.n > 0)
        return EX_OK;
    w->n = 1;
    if (a->position && !sb_signal_name_good(a->position, strlen(a->position)))
        return sb_fail(EX_USAGE, "up to 31 letters or digits", a->position,
                       "--position cannot be understood");
    (void)snprintf(w->position[0], SB_SIGNAL_NAME_MAX, "%s", a->position ? a->position : "");
    return EX_OK;
}

static int read_order(work *w) {
    for (size_t i = 0; i < w->args.order.n; i++) {
        double number = w->args.order.item[i];
        if (number != floor(number) || number > (double)w->description.instrument.n_strings)
            return sb_fail(EX_USAGE, "give the strings by their numbers, 1 being the first", NULL,
                           "--order: no string %g", number);
        w->order[i] = (size_t)number;
    }
    return EX_OK;
}

static sb_book_status begin(work *w) {
    sb_book_status status = SB_BOOK_OK;
    for (size_t p = 0; p < w->n && status == SB_BOOK_OK; p++) {
        sb_balance *b = &w->balance[p];
        b->instrument = &w->description.instrument;
        b->a4_hz = w->args.a4_hz;
        b->tolerance_db = w->args.tolerance_db;
        b->height_mm[0] = b->height_mm[1] = w->args.height_mm;
        b->height_error_mm = 0.1;
        memcpy(b->position, w->position[p], sizeof b->position);
        if (!(w->args.height_mm > 0))
            status = sb_balance_read_heights(b, w->named.book, w->named.id);
    }
    return status;
}

/* --- listening ------------------------------------------------------------------------------ */

static int hear_take(work *w, const sb_signal_take *take, sb_balance *b) {
    sb_signal_heard heard;
    int code = sb_signal_load(take->path, w->args.live.input.channel, 0, &heard);
    b->path = take->path;
    if (code == EX_OK)
        code = w->args.order.n > 0 ? sb_balance_add_in_order(b, &heard, w->order, w->args.order.n,
                                                             (size_t)w->args.live.plucks)
                                   : sb_balance_add(b, &heard);
    sb_signal_release(&heard);
    return code;
}

/* One bad recording spoils its own position alone. */
static int hear_takes(work *w) {
    int worst = EX_OK;
    for (size_t i = 0; i < w->args.takes.n && worst != EX_OSERR; i++) {
        size_t p = sb_signal_find(w->take[i].position,
                                  (const char(*)[SB_SIGNAL_NAME_MAX])w->position, w->n);
        int code = w->bad[p] ? EX_OK : hear_take(w, &w->take[i], &w->balance[p]);
        w->bad[p] = w->bad[p] || code != EX_OK;
        worst = worst == EX_OK ? code : worst;
    }
    return worst;
}

static int judge(work *w, int worst) {
    for (size_t p = 0; p < w->n; p++) {
        int code = w->bad[p] ? EX_OK : sb_balance_judge(&w->balance[p]);
        w->bad[p] = w->bad[p] || code != EX_OK;
        worst = worst == EX_OK ? code : worst;
    }
    return worst;
}

/* --- the answer ----------------------------------------------------------------------------- */

static int keep(work *w) {
    for (size_t p = 0; p < w->n; p++)
        for (size_t i = 0; i < w->balance[p].n_heard && !w->bad[p]; i++)
            sb_signal_add(&w->events, (int)w->balance[p].heard[i] + 1,
                          sb_balance_data(&w->balance[p], i));
    return sb_signal_keep(&w->named, &w->args.at, &w->events);
}

static int show(work *w) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    bool shown = false;
    for (size_t p = 0; p < w->n; p++) {
        if (w->bad[p])
            continue;
        if (w->args.json) {
            if (!sb_signal_print(sb_balance_json(&w->balance[p], w->named.name)))
                return sb_complain_memory();
            continue;
        }
        if (shown)
            (void)fputc('\n', stdout);
        sb_balance_print(&page, &w->balance[p]);
        shown = true;
    }
    return EX_OK;
}

static int conclude(work *w) {
    int worst = w->args.takes.n > 0 ? hear_takes(w) : sb_balance_listen(&w->args.live, w->balance);
    if (worst != EX_OK && (w->args.takes.n == 0 || worst == EX_OSERR))
        return worst; /* for want of memory nothing else is tried */
    worst = judge(w, worst);
    int code = keep(w);
    if (code == EX_OK)
        code = show(w);
    return code != EX_OK ? code : worst;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    sb_texts operands = {.n = 0};
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args.a4_hz = SB_A4_HZ;
    w->args.tolerance_db = SB_TILT_TOLERANCE_DB;
    w->args.live.plucks = SB_BALANCE_PLUCKS;
    int code = sb_command_args(self, argc, argv, &w->args, &operands);
    if (code == EX_OK)
        code = check(w);
    if (code == EX_OK)
        code = sb_book_open_named(&w->args.at, &operands, SB_BOOK_WRITE, &w->named);
    if (code == EX_OK) {
        code = sb_book_complain(sb_book_describe(w->named.book, w->named.id, &w->description),
                                w->args.at.path, w->named.name);
        if (code == EX_OK)
            code = read_order(w);
        if (code == EX_OK)
            code = sb_book_complain(begin(w), w->args.at.path, w->named.name);
        if (code == EX_OK)
            code = conclude(w);
        sb_book_close(w->named.book);
    }
    free(w);
    return code;
}

static const char *const usage[] = {
    "INSTRUMENT --take [POSITION=]FILE... [OPTIONS]",
    "INSTRUMENT [--position NAME] [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback balance practice --position bridge",
    "setback balance practice --take bridge=b.wav --take neck=n.wav --height 2.4mm",
    "setback balance practice --take all.wav --order 6,5,4,3,2,1 --plucks 4 --json",
    NULL,
};

const sb_command sb_cmd_balance = {
    "balance",
    "compare the strings' levels, and say which side of a pickup stands high",
    "Turn the amplifier down before you plug in. Pluck each open string a few times, equally hard "
    "and in the same place, one at a time, and "
    "damp it before the next; their pitch tells them apart. Prints each string's level with its "
    "error, lays a line across them, and says which side of the pickup stands high and about how "
    "far to lower it, or that the plucks scatter too much to tell.\n"
    "The level is the RMS from 0.2 to 0.7 s after the attack, not weighted: what the pickup gives, "
    "not how loud it is heard.",
    usage,
    examples,
    groups,
    run,
};
