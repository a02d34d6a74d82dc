/* Noise and hum from a device, hands-free: silence, then a pluck, position by position. */
#include <stdio.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/quiet.h"
#include "cli/signal_live.h"

#define SILENCE_S 4.0 /* that is asked for */
#define LOOK_S    0.5
#define LONG_S    50.0 /* then what there is has to do */

typedef struct {
    sb_signal_live *live;
    const sb_quiet_log *log;
    sb_quiet *quiet;
    size_t n, done;
    bool silent; /* enough of it was heard here */
    double looked_s;
    int code;
} listening;

static void set_prompt(listening *l) {
    char *prompt = l->live->prompt;
    if (l->done == l->n) {
        (void)snprintf(prompt, SB_SIGNAL_PROMPT_MAX, "enough; finishing");
        return;
    }
    sb_signal_name name = sb_signal_clean(l->quiet[l->done].position, "");
    bool named = name.text[0] != '\0';
    (void)snprintf(prompt, SB_SIGNAL_PROMPT_MAX, "%s%s%s%s", named ? "position " : "", name.text,
                   named ? ": " : "",
                   l->silent ? "pluck a string once" : "damp the strings, hands off");
}

static void ask(void *context) {
    listening *l = context;
    set_prompt(l);
    sb_signal_say_prompt(l->live);
}

static void look_for_silence(listening *l) {
    double from_s, to_s, now_s = sb_signal_seconds(l->live);
    if (l->silent || now_s < l->looked_s + LOOK_S)
        return;
    l->looked_s = now_s;
    l->silent = sb_silence_find(l->live->heard.sound, &from_s, &to_s) &&
                (to_s - from_s >= SILENCE_S || now_s > LONG_S);
}

static void finish_position(listening *l) {
    int code = sb_quiet_measure(&l->live->heard, l->log, &l->quiet[l->done]);
    if (code == EX_OK)
        l->done++;
    else
        l->code = code;
    l->silent = false;
    l->looked_s = 0;
    sb_signal_next(l->live);
}

static void take_notes(void *context) {
    listening *l = context;
    sb_reading reading;
    sb_signal_feed(l->live);
    if (l->done < l->n && l->live->heard.sound)
        look_for_silence(l);
    while (sb_listener_next(l->live->live.listener, &reading)) {
        sb_take_add(l->live->heard.take, &reading);
        l->live->last_note_s = sb_live_seconds(&l->live->live);
        if (l->done == l->n || !l->silent)
            continue;
        if (reading.fault == SB_PLUCK_GOOD)
            finish_position(l);
        else
            sb_live_say(&l->live->live, "that pluck is no use (%s); %s",
                        sb_pluck_fault_text(reading.fault), sb_pluck_advice(reading.fault));
    }
    ask(l);
}

static bool enough(const void *context) {
    const listening *l = context;
    return l->done == l->n || l->code != EX_OK;
}

int sb_quiet_listen(const sb_session_options *options, const sb_quiet_log *log, sb_quiet quiet[],
                    size_t n, size_t *measured) {
    sb_signal_live live = {.options = options, .keep_s = SB_SILENCE_KEEP_S};
    listening l = {.live = &live, .log = log, .quiet = quiet, .n = n};
    const sb_hearer hearer = {
        .context = &l, .ask = ask, .take_notes = take_notes, .enough = enough};
    bool stopped = false;
    int code = sb_signal_hear(&live, &hearer, &stopped);
    if (code == EX_OK)
        code = l.code;
    /* Where no pluck came any more, its silence counts all the same. */
    if (code == EX_OK && l.done < n && l.silent) {
        finish_position(&l);
        code = l.code;
    }
    if (code == EX_OK && l.done == 0)
        code = stopped ? sb_live_failure(SB_LIVE_SIGNAL)
                       : sb_fail(EX_DATAERR, "leave the strings alone for five seconds, then pluck",
                                 NULL, "no silence was heard");
    sb_signal_release(&live.heard);
    *measured = l.done;
    return code;
}
