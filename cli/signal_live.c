#include "cli/signal_live.h"

#include <string.h>

#include "cli/complain.h"

int sb_signal_hear(sb_signal_live *l, const sb_hearer *of_caller, bool *stopped) {
    sb_hearer hearer = *of_caller;
    l->heard = (sb_signal_heard){.take = sb_take_new()};
    if (!l->heard.take)
        return sb_complain_memory();
    hearer.live = &l->live;
    hearer.take = l->heard.take;
    hearer.prompt = l->prompt;
    hearer.last_note_s = &l->last_note_s;
    int code = sb_session_hear(l->options, &hearer, stopped);
    return code == EX_OK && l->memory ? sb_complain_memory() : code;
}

void sb_signal_feed(sb_signal_live *l) {
    size_t all = l->heard.take->samples;
    if (l->heard.sound == NULL)
        sb_signal_next(l);
    if (l->taken == all || l->memory || !l->heard.sound)
        return;
    l->taken = all;
    l->memory = sb_sound_push(l->heard.sound, l->live.block, l->live.n) != SB_OK;
}

void sb_signal_next(sb_signal_live *l) {
    sb_sound_free(l->heard.sound);
    l->heard.sound = NULL;
    l->heard.offset_s = (double)l->taken / l->live.rate_hz;
    l->memory = sb_sound_new(l->live.rate_hz, l->keep_s, &l->heard.sound) != SB_OK || l->memory;
}

double sb_signal_seconds(const sb_signal_live *l) {
    return l->heard.sound ? (double)sb_sound_frames(l->heard.sound) * SB_SOUND_FRAME_S : 0;
}

void sb_signal_say_prompt(sb_signal_live *l) {
    if (!l->live.redraws && strcmp(l->told, l->prompt) != 0)
        sb_live_say(&l->live, "%s", l->prompt);
    memcpy(l->told, l->prompt, sizeof l->told);
}
