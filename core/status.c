#include "core/status.h"

const char *sb_status_text(sb_status status) {
    /* No default: -Wswitch then finds a forgotten member. */
    switch (status) {
    case SB_OK: return "no error";
    case SB_E_SYNTAX: return "cannot be understood";
    case SB_E_RANGE: return "number out of range";
    case SB_E_MEMORY: return "out of memory";
    case SB_E_NO_FILE: return "no such file";
    case SB_E_FORMAT: return "not a readable audio file";
    case SB_E_IO: return "input/output error";
    case SB_E_NO_DEVICE: return "no such capture device";
    case SB_E_DEVICE_LOST: return "the capture device went away";
    case SB_E_NO_PITCH: return "no clear pitch";
    case SB_E_TOO_SHORT: return "too short";
    case SB_E_UNDETERMINED: return "not determined by the data";
    }
    return "unknown status";
}
