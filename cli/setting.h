/* setting: the options about the string and its saddle that several commands share.
 */
#ifndef SB_SETTING_H
#define SB_SETTING_H

#include <stdbool.h>

#include "cli/args.h"
#include "core/saddle.h"
#include "core/screw.h"

typedef struct {
    double scale_mm;
    double speaking_mm; /* 0 = as long as the scale */
    int fret;
    double thread_mm; /* pitch; 0 = no screw given */
    int screw;        /* an sb_screw_action */
    double tolerance_cents;
} sb_setting;

/* One group of the option table; its struct is sb_setting. */
#define SB_SETTING_OPTIONS 6
extern const sb_option sb_setting_options[SB_SETTING_OPTIONS];

/* 12th fret, no screw, the default tolerance; the scale is left 0. */
sb_setting sb_setting_default(void);

sb_geometry sb_setting_geometry(const sb_setting *setting);

/* Whether the saddle can be computed for this string; otherwise reports and returns the
 * exit code. */
int sb_setting_check(const sb_setting *setting);

#endif
