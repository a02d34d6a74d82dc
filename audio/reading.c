#include "audio/reading.h"

bool sb_pluck_is_string(sb_pluck_fault fault) {
    return fault != SB_PLUCK_NO_PITCH && fault != SB_PLUCK_HUM;
}

const char *sb_pluck_fault_text(sb_pluck_fault fault) {
    switch (fault) {
    case SB_PLUCK_GOOD: return "good";
    case SB_PLUCK_TOO_SHORT: return "too short";
    case SB_PLUCK_TOO_QUIET: return "too quiet";
    case SB_PLUCK_CLIPPED: return "clipped";
    case SB_PLUCK_MANY_STRINGS: return "several strings ringing";
    case SB_PLUCK_UNSTEADY: return "pitch not steady";
    case SB_PLUCK_NO_PITCH: return "no clear pitch";
    case SB_PLUCK_HUM: return "mains hum";
    case SB_PLUCK_DROPPED: return "samples lost";
    }
    return "unknown";
}
