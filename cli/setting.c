#include "cli/setting.h"

#include <stddef.h>

#include "cli/err.h"

const sb_option sb_setting_options[SB_SETTING_OPTIONS] = {
    {"scale", SB_OPT_LENGTH, offsetof(sb_setting, scale_mm), "LEN",
     "the nominal scale length, twice nut to 12th fret, with its unit: 25.5in, 25 1/2in, 648mm",
     100, 2000, true},
    {"speaking", SB_OPT_LENGTH, offsetof(sb_setting, speaking_mm), "LEN",
     "the present speaking length of the string, nut to saddle, where it is known; otherwise the "
     "scale length is taken",
     100, 2100, false},
    {"fret", SB_OPT_WHOLE, offsetof(sb_setting, fret), "N",
     "the fret that is compared with the open string (default 12)", 1, 36, false},
    {"thread", SB_OPT_THREAD, offsetof(sb_setting, thread_mm), "NAME",
     "the adjustment screw, so that turns can be told: " SB_THREADS_TEXT, 0, 0, false},
    {"screw", SB_OPT_CHOICE, offsetof(sb_setting, screw), "pulls|pushes",
     "what a clockwise turn does as you face the screw's head: pulls draws the saddle back, away "
     "from the nut (default); pushes drives it forward, towards the nut",
     0, 0, false},
    {"tolerance", SB_OPT_NUMBER, offsetof(sb_setting, tolerance_cents), "CENTS",
     "the error that may stay (default 1)", 0, 50, false},
};

sb_setting sb_setting_default(void) {
    return (sb_setting){.fret = 12, .screw = SB_SCREW_PULLS, .tolerance_cents = SB_TOLERANCE_CENTS};
}

sb_geometry sb_setting_geometry(const sb_setting *setting) {
    return (sb_geometry){
        .scale_mm = setting->scale_mm, .speaking_mm = setting->speaking_mm, .fret = setting->fret};
}

int sb_setting_check(const sb_setting *setting) {
    sb_geometry geometry = sb_setting_geometry(setting);
    sb_move move;
    if (sb_saddle_move(&geometry, 0, 0, &move) == SB_OK)
        return EX_OK;
    return sb_fail(EX_USAGE, "--speaking is the open string, nut to saddle, near the scale length",
                   NULL, "the saddle would lie before fret %d", setting->fret);
}
