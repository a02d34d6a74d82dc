/* The strings' balance from a device, hands-free: any string at any time until all were plucked
 * often enough. */
#include <stdio.h>

#include "cli/balance.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/signal_live.h"
#include "core/pitch.h"

#define FRET 12

typedef struct {
    sb_signal_live *live;
    sb_balance *balance;
    size_t plucks;
    sb_whose whose;
    size_t place[SB_TAKE_PLUCKS], n; /* notes of whose, where they stand in the take */
} listening;

/* The string to ask for: the one with fewest plucks, the last of them; n where all have enough. */
static size_t wanted(const listening *l) {
    size_t n = l->balance->instrument->n_strings, best = n, fewest = l->plucks;
    for (size_t i = n; i-- > 0;) {
        size_t count = sb_balance_count(l->balance, i);
        if (count < fewest) {
            fewest = count;
            best = i;
        }
    }
    return best;
}

static bool enough(const void *context) {
    const listening *l = context;
    return wanted(l) == l->balance->instrument->n_strings ||
           l->live->heard.take->n == SB_TAKE_PLUCKS;
}

static void ask(void *context) {
    listening *l = context;
    char note[SB_NOTE_TEXT_MAX];
    size_t string = wanted(l), count;
    if (enough(l)) {
        (void)snprintf(l->live->prompt, SB_SIGNAL_PROMPT_MAX, "enough; finishing");
    } else {
        count = sb_balance_count(l->balance, string);
        sb_note_format(l->balance->instrument->strings[string].semitone, note, sizeof note);
        (void)snprintf(l->live->prompt, SB_SIGNAL_PROMPT_MAX, "pluck string %zu, %s (%zu of %zu)",
                       string + 1, note, count + 1, l->plucks);
    }
    sb_signal_say_prompt(l->live);
}

static void tell(const listening *l, size_t before, const sb_whose_answer *answer) {
    const sb_balance *b = l->balance;
    if (b->n > before)
        sb_live_say(&l->live->live, "string %zu  %.1f dBFS", answer->string,
                    b->pluck[b->n - 1].level_db);
    else if (answer->string > 0 && !answer->fretted)
        sb_live_say(&l->live->live, "left out: damp the others first, and let it ring");
    else
        sb_live_say(&l->live->live, "left out: no open string of this instrument");
}

static void hand_out(listening *l) {
    sb_whose_answer answer;
    while (sb_whose_next(&l->whose, &answer)) {
        size_t before = l->balance->n;
        sb_balance_pluck(l->balance, &l->live->heard, l->place[answer.note], &answer);
        tell(l, before, &answer);
    }
}

static void take_notes(void *context) {
    listening *l = context;
    sb_reading r;
    sb_signal_feed(l->live);
    while (sb_listener_next(l->live->live.listener, &r)) {
        sb_take *take = l->live->heard.take;
        if (take->n == SB_TAKE_PLUCKS)
            continue;
        sb_take_add(take, &r);
        l->live->last_note_s = sb_live_seconds(&l->live->live);
        if (r.fault == SB_PLUCK_GOOD) {
            l->place[l->n++] = take->n - 1;
            (void)sb_whose_hear(&l->whose, r.hz);
            hand_out(l);
        } else {
            l->balance->unusable++;
            sb_live_say(&l->live->live, "left out: %s; %s", sb_pluck_fault_text(r.fault),
                        sb_pluck_advice(r.fault));
        }
    }
    ask(l);
}

int sb_balance_listen(const sb_session_options *options, sb_balance *b) {
    sb_signal_live live = {.options = options};
    listening l = {.live = &live, .balance = b, .plucks = (size_t)options->plucks};
    const sb_hearer hearer = {
        .context = &l, .ask = ask, .take_notes = take_notes, .enough = enough};
    bool stopped = false;
    sb_whose_begin(&l.whose, b->instrument, FRET, b->a4_hz);
    int code = sb_signal_hear(&live, &hearer, &stopped);
    if (code == EX_OK) {
        sb_whose_finish(&l.whose);
        hand_out(&l);
    }
    sb_signal_release(&live.heard);
    if (code != EX_OK)
        return code;
    if (stopped && b->n == 0)
        return sb_live_failure(SB_LIVE_SIGNAL);
    if (wanted(&l) < b->instrument->n_strings)
        sb_warn(NULL, "stopped early: some strings have fewer than %zu plucks", l.plucks);
    return EX_OK;
}
