#include "cli/sitting.h"

#include <stddef.h>
#include <unistd.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/term.h"
#include "cli/view.h"

const sb_option sb_sitting_sound[SB_SITTING_SOUND] = {
    {"take", SB_OPT_TEXTS, offsetof(sb_sitting_options, takes), "FILE",
     "hear a recording in place of a device; several are heard in the order given", 0, 0, false},
    {"pace", SB_OPT_NUMBER, offsetof(sb_sitting_options, pace), "X",
     "how fast recordings are played: 1 as they were, 2 twice as fast, 0 at once (default 1 on "
     "the screen, else 0)",
     0, 1000, false},
    {"timeout", SB_OPT_NUMBER, offsetof(sb_sitting_options, timeout_s), "S",
     "end by itself after this time (default: when told to; 60 where there is no terminal)", 1,
     86400, false},
};

const sb_option sb_sitting_answer[SB_SITTING_ANSWER] = {
    {"plain", SB_OPT_FLAG, offsetof(sb_sitting_options, plain), NULL,
     "print lines in place of a screen, for logs, scripts and screen readers", 0, 0, false},
    {"json", SB_OPT_FLAG, offsetof(sb_sitting_options, json), NULL,
     "print one JSON object an event, the last one the summary", 0, 0, false},
    {"commands", SB_OPT_FLAG, offsetof(sb_sitting_options, commands), NULL,
     "with --take and --plain or --json: go on with what is typed on standard input (help lists "
     "it), until its end or quit",
     0, 0, false},
};

/* --- before ------------------------------------------------------------------------------ */

static int check_takes(const sb_sitting_options *o) {
    for (size_t i = 0; i < o->takes.n; i++) {
        sb_recording *recording = NULL;
        double rate_hz = 0;
        sb_status status =
            sb_recording_open(o->takes.item[i], o->input.channel, &rate_hz, &recording);
        if (status != SB_OK)
            return sb_complain_recording(status, o->takes.item[i], rate_hz, o->input.channel);
        sb_recording_discard(recording);
    }
    return EX_OK;
}

int sb_sitting_check(const sb_sitting_options *options) {
    if (options->plain && options->json)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--plain does not go with --json");
    return check_takes(options);
}

static int open_source(const sb_sitting *s, sb_source *source) {
    const sb_sitting_options *o = s->options;
    bool at_once = o->takes.n > 0 || (o->commands && !s->screen);
    if (!at_once)
        return sb_source_open_live(source, &o->input);
    double pace = o->pace >= 0 ? o->pace : s->screen ? 1 : 0;
    sb_term_catch_signals();
    sb_source_open_takes(source, pace, o->input.channel, s->screen);
    for (size_t i = 0; i < o->takes.n; i++)
        if (!sb_source_add(source, o->takes.item[i]))
            return sb_complain_memory();
    return EX_OK;
}

/* --- the session ------------------------------------------------------------------------- */

static int conclude(const sb_bench_end *end, const char *path) {
    if (end->status != SB_BOOK_OK)
        return sb_book_complain(end->status, path, NULL);
    if (end->state == SB_SOURCE_LOST)
        return sb_live_failure(SB_LIVE_LOST);
    if (end->state == SB_SOURCE_MEMORY)
        return sb_complain_memory();
    if (end->bad_takes > 0 || end->empty_takes > 0)
        return EX_DATAERR;
    return EX_OK;
}

/* Runs it on what it listens to, open by now, through a front. */
static int run_session(const sb_sitting *s, sb_source *source, const sb_front *front) {
    bool unwatched = source->is_live && !s->screen && !isatty(STDIN_FILENO);
    double timeout_s = s->options->timeout_s > 0 ? s->options->timeout_s
                       : unwatched               ? SB_LIVE_UNWATCHED_S
                                                 : 0;
    sb_bench_run run = {.front = front,
                        .bench = s->bench,
                        .source = source,
                        .stays = s->screen || s->options->commands,
                        .typist = s->screen ? NULL : s->lines,
                        .enough = s->enough,
                        .timeout_s = timeout_s};
    sb_bench_end end = sb_bench_loop(&run);
    bool whole = front->end(front->context, s->bench);
    int code = conclude(&end, s->book);
    return whole || code != EX_OK ? code : sb_complain_memory();
}

static int before(const sb_sitting *s, bool trial) {
    return s->before ? s->before(s->context, trial) : EX_OK;
}

/* The screen is taken last, so that what goes wrong before is said on it as it was. */
int sb_sitting_run(const sb_sitting *s) {
    sb_source source;
    sb_view *view = NULL;
    sb_front front = *s->front;
    int code = before(s, true); /* all of it or nothing */
    if (code == EX_OK)
        code = open_source(s, &source);
    if (code != EX_OK)
        return code;
    if (s->screen)
        code = sb_view_open(&view);
    if (s->screen && code == EX_OK)
        front = sb_view_front(view);
    if (code == EX_OK) {
        s->bench->options.tell = front.tell;
        s->bench->options.context = front.context;
        front.begin(front.context, s->bench);
        code = before(s, false);
    }
    if (code == EX_OK)
        code = run_session(s, &source, &front);
    sb_view_close(view);
    sb_source_close(&source);
    return code;
}
