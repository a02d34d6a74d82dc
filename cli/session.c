#include "cli/session.h"

#include <stdio.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/print.h"
#include "cli/term.h"
#include "core/pitch.h"

#define QUIET_S    1.2 /* no further note for so long: the player has finished */
#define MOST       6   /* plucks of each kind after which scatter is what it is */
#define PROMPT_MAX 40

typedef struct {
    const sb_session_options *options;
    const sb_task *task;
    sb_take *take;
    sb_measurement *m;
    sb_outcome outcome;
    sb_live live;
    double last_note_s; /* when the last whole note had been read; 0 = none yet */
    char prompt[PROMPT_MAX];
} session;

/* --- what to ask for ----------------------------------------------------------------- */

static size_t count(const session *s, sb_side side) {
    return s->outcome == SB_MEASURED ? s->m->side[side].plucks : 0;
}

static bool wants_open(const session *s) {
    switch (s->outcome) {
    case SB_MEASURED: return count(s, SB_OPEN) <= count(s, SB_FRETTED);
    case SB_NO_FRETTED:
    case SB_ONE_NOTE: return false; /* the first note is taken for the open string */
    default: return true;
    }
}

static bool enough(const void *context) {
    const session *s = context;
    size_t open = count(s, SB_OPEN), fretted = count(s, SB_FRETTED);
    size_t wanted = (size_t)s->options->plucks;
    if (open < wanted || fretted < wanted)
        return false;
    size_t most = wanted > MOST ? wanted : MOST;
    return s->m->interval.std_error_cents <= s->task->setting->tolerance_cents / 2 ||
           (open >= most && fretted >= most);
}

static void set_prompt(session *s) {
    if (enough(s))
        (void)snprintf(s->prompt, PROMPT_MAX, "enough; finishing");
    else if (wants_open(s))
        (void)snprintf(s->prompt, PROMPT_MAX, "pluck the open string");
    else
        (void)snprintf(s->prompt, PROMPT_MAX, "pluck it at fret %d", s->task->setting->fret);
}

/* Elsewhere than on a terminal the meter shows no prompt. */
static void say_prompt(void *context) {
    session *s = context;
    char before[PROMPT_MAX];
    (void)snprintf(before, sizeof before, "%s", s->prompt);
    set_prompt(s);
    if (!s->live.redraws && strcmp(before, s->prompt) != 0)
        sb_live_say(&s->live, "%s", s->prompt);
}

/* --- notes --------------------------------------------------------------------------- */

static void tell_note(session *s, const sb_reading *r, const char *what) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(sb_note_nearest(r->hz, s->task->a4_hz, NULL), note, sizeof note);
    sb_live_say(&s->live, "%-8s %8.3f Hz ± %.2g cents (%s)", what, r->hz, r->std_error_cents, note);
}

static void tell_error(session *s) {
    char text[64];
    sb_format_error(s->m->answer.error_cents, s->m->answer.std_error_cents, text, sizeof text);
    sb_live_say(&s->live, "error    %s", text);
}

static const char *kind_of_last(const session *s) {
    const sb_heard *last = &s->m->heard[s->m->n_heard - 1];
    if (s->outcome != SB_MEASURED)
        return s->outcome == SB_NO_OPEN                                   ? "fretted"
               : s->outcome == SB_NO_FRETTED || s->outcome == SB_ONE_NOTE ? "open"
                                                                          : "heard";
    return last->side == SB_OPEN ? "open" : last->side == SB_FRETTED ? "fretted" : "neither";
}

static void take_note(session *s, const sb_reading *r) {
    sb_take_add(s->take, r);
    s->last_note_s = sb_live_seconds(&s->live);
    s->outcome = sb_measure_take(s->task, s->take, s->m);
    if (r->fault != SB_PLUCK_GOOD)
        sb_live_say(&s->live, "left out: %s; %s", sb_pluck_fault_text(r->fault),
                    sb_pluck_advice(r->fault));
    else
        tell_note(s, r, kind_of_last(s));
    if (s->outcome == SB_MEASURED)
        tell_error(s);
    else if (s->outcome == SB_WRONG_STRING)
        sb_live_say(&s->live, "that is another string");
    else if (s->outcome == SB_WRONG_FRET)
        sb_live_say(&s->live, "that is not fret %d of the same string", s->task->setting->fret);
    say_prompt(s);
}

/* At once: the player waits for it. */
static void show_early(session *s, const sb_reading *r) {
    (void)snprintf(s->prompt, PROMPT_MAX, "%.2f Hz ± %.2g cents, ringing", r->hz,
                   r->std_error_cents);
    s->live.drawn_at_s = 0;
}

static void take_notes(void *context) {
    session *s = context;
    sb_reading reading;
    while (sb_listener_next(s->live.listener, &reading)) {
        if (!reading.still_sounding)
            take_note(s, &reading);
        else if (s->live.redraws && reading.fault == SB_PLUCK_GOOD)
            show_early(s, &reading);
    }
}

/* --- the loop ------------------------------------------------------------------------ */

static bool finished(const sb_hearer *h) {
    return h->enough(h->context) && !sb_listener_meter(h->live->listener).sounding &&
           sb_live_seconds(h->live) - *h->last_note_s >= QUIET_S;
}

static sb_live_state listen(const sb_hearer *h, double timeout_s) {
    sb_live_state state = SB_LIVE_ON;
    while (state == SB_LIVE_ON && !finished(h)) {
        if (timeout_s > 0 && sb_live_seconds(h->live) >= timeout_s)
            break;
        state = sb_live_step(h->live);
        if (state != SB_LIVE_ON)
            break;
        sb_take_examine(h->take, h->live->block, h->live->n);
        h->take_notes(h->context);
        sb_live_meter(h->live, h->prompt);
    }
    return state;
}

int sb_session_hear(const sb_session_options *options, const sb_hearer *h, bool *stopped) {
    int code = sb_live_open(&options->input, h->early, h->live);
    if (code != EX_OK)
        return code;
    h->take->rate_hz = h->live->rate_hz;
    sb_live_say(h->live, "listening to %s at %g Hz", sb_capture_device(h->live->capture),
                h->live->rate_hz);
    h->ask(h->context);
    double timeout_s = options->timeout_s > 0 ? options->timeout_s
                       : h->live->redraws     ? 0
                                              : SB_LIVE_UNWATCHED_S;
    sb_live_state state = listen(h, timeout_s);
    bool failed = state == SB_LIVE_LOST || state == SB_LIVE_MEMORY;
    /* The note that still sounds is read for what it is worth by now. */
    if (!failed && !h->enough(h->context) && sb_listener_finish(h->live->listener) == SB_OK)
        h->take_notes(h->context);
    sb_live_close(h->live);
    *stopped = state == SB_LIVE_SIGNAL;
    return failed ? sb_live_failure(state) : EX_OK;
}

static int timed_out(const session *s) {
    if (s->outcome == SB_NO_PLUCK)
        return sb_complain_take(s->take, NULL);
    return sb_complain_outcome(s->outcome, s->task, s->m, s->take, NULL);
}

int sb_session_measure(const sb_session_options *options, const sb_task *task, sb_take *take,
                       sb_measurement *m) {
    session s = {.options = options, .task = task, .take = take, .m = m, .outcome = SB_NO_PLUCK};
    const sb_hearer hearer = {&s,         true,       &s.live, take, s.prompt, &s.last_note_s,
                              say_prompt, take_notes, enough};
    bool stopped;
    int code = sb_session_hear(options, &hearer, &stopped);
    if (code != EX_OK)
        return code;
    if (s.outcome != SB_MEASURED)
        return stopped ? sb_live_failure(SB_LIVE_SIGNAL) : timed_out(&s);
    if (!enough(&s))
        sb_warn(NULL, "stopped early: plucks that the figure rests on: %zu open, %zu fretted",
                m->side[SB_OPEN].plucks, m->side[SB_FRETTED].plucks);
    return EX_OK;
}
