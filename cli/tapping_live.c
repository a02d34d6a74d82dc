/* Taps from a device, hands-free: each pickup in each position gets its turn, which ends when its
 * taps are in, or when it has stayed silent for so long that it counts as dead. */
#include <stdio.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/signal_live.h"
#include "cli/tapping.h"

#define LOOK_S   0.1
#define REST_S   1.0 /* after the last tap, before the next turn */
#define PATIENCE 8.0 /* seconds in which a live pickup would have been heard */
#define SWITCH_S 6.0 /* more in a new position */

typedef struct {
    sb_signal_live *live;
    sb_tapping *tapping;
    const size_t *order;
    size_t n_order, turn;
    size_t heard, strings; /* in this turn */
    double looked_s, last_s;
} listening;

static size_t turns(const listening *l) {
    return l->tapping->map.n_positions * l->n_order;
}

static void ask(void *context) {
    listening *l = context;
    char *prompt = l->live->prompt;
    if (l->turn == turns(l)) {
        (void)snprintf(prompt, SB_SIGNAL_PROMPT_MAX, "enough; finishing");
    } else {
        size_t p = l->turn / l->n_order, q = l->order[l->turn % l->n_order];
        sb_signal_name position = sb_signal_clean(l->tapping->position[p], "");
        sb_signal_name pickup = sb_signal_clean(l->tapping->pickup[q], "");
        size_t left = l->heard < SB_TAPPING_TAPS ? SB_TAPPING_TAPS - l->heard : 0;
        bool named = position.text[0] != '\0';
        if (left > 0)
            (void)snprintf(prompt, SB_SIGNAL_PROMPT_MAX, "%s%s%stap %s %zu time%s",
                           named ? "position " : "", position.text, named ? ": " : "", pickup.text,
                           left, left == 1 ? "" : "s");
        else
            (void)snprintf(prompt, SB_SIGNAL_PROMPT_MAX, "wait");
    }
    sb_signal_say_prompt(l->live);
}

static void end_turn(listening *l, const sb_tap taps[], size_t n) {
    size_t p = l->turn / l->n_order, q = l->order[l->turn % l->n_order];
    if (n == 0)
        sb_live_say(&l->live->live, "nothing heard: %s counts as dead there",
                    sb_signal_clean(l->tapping->pickup[q], "it").text);
    else if (l->heard == 0)
        sb_live_say(&l->live->live, "only strings were heard: %s is left open there",
                    sb_signal_clean(l->tapping->pickup[q], "it").text);
    sb_tapping_add(l->tapping, p, q, taps, n);
    l->turn++;
    l->heard = l->strings = 0;
    l->looked_s = l->last_s = 0;
    sb_signal_next(l->live);
}

static void look(listening *l) {
    sb_tap taps[SB_TAPS_MAX];
    double now_s = sb_signal_seconds(l->live);
    if (l->turn == turns(l) || now_s < l->looked_s + LOOK_S)
        return;
    l->looked_s = now_s;
    size_t n = sb_taps_find(l->live->heard.sound, taps, SB_TAPS_MAX), strings = 0;
    for (size_t i = 0; i < n; i++)
        strings += taps[i].string;
    if (strings > l->strings)
        sb_live_say(&l->live->live, "that was a string: damp the strings, tap the pickup's top");
    if (n > l->heard + l->strings) {
        l->last_s = taps[n - 1].at_s;
        l->live->last_note_s = sb_live_seconds(&l->live->live);
    }
    l->strings = strings;
    l->heard = n - strings;
    double patience_s = PATIENCE + (l->turn % l->n_order == 0 ? SWITCH_S : 0);
    bool rested = now_s - l->last_s >= REST_S;
    if ((l->heard >= SB_TAPPING_TAPS && rested) || now_s - l->last_s >= patience_s)
        end_turn(l, taps, n);
}

static void take_notes(void *context) {
    listening *l = context;
    sb_reading reading;
    sb_signal_feed(l->live);
    while (sb_listener_next(l->live->live.listener, &reading)) /* of no use here */
        continue;
    if (l->live->heard.sound)
        look(l);
    ask(l);
}

static bool enough(const void *context) {
    const listening *l = context;
    return l->turn == turns(l);
}

int sb_tapping_listen(const sb_session_options *options, sb_tapping *t, const size_t order[],
                      size_t n_order) {
    sb_signal_live live = {.options = options};
    listening l = {.live = &live, .tapping = t, .order = order, .n_order = n_order};
    const sb_hearer hearer = {
        .context = &l, .ask = ask, .take_notes = take_notes, .enough = enough};
    bool stopped = false;
    int code = sb_signal_hear(&live, &hearer, &stopped);
    sb_signal_release(&live.heard);
    if (code != EX_OK || l.turn == turns(&l))
        return code;
    if (stopped && t->n == 0)
        return sb_live_failure(SB_LIVE_SIGNAL);
    sb_warn(NULL, "stopped early: %zu of %zu were tapped", l.turn, turns(&l));
    return EX_OK;
}
