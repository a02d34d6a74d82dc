/* live: listening to a device with a level meter on the terminal.
 *
 * Prompts, news and the meter go to the messages stream; on a terminal the meter is one
 * line redrawn in place, elsewhere there is none. From opening on, descriptor 2 belongs to
 * the sound libraries and signals are noted rather than deadly (cli/term.h).
 */
#ifndef SB_LIVE_H
#define SB_LIVE_H

#include <stdbool.h>
#include <stddef.h>

#include "audio/capture.h"
#include "audio/listener.h"
#include "cli/args.h"
#include "cli/err.h"

#define SB_LIVE_BLOCK       2048
#define SB_LIVE_UNWATCHED_S 60.0 /* how long to listen where nobody sees the prompts */

typedef struct {
    const char *input; /* NULL = the default device */
    double rate_hz;    /* 0 = the device's own */
    int channel;       /* 1-based; 0 = not chosen */
} sb_input_options;

/* One group of the option table; its struct is sb_input_options. */
#define SB_INPUT_OPTIONS 3
extern const sb_option sb_input_option_rows[SB_INPUT_OPTIONS];

typedef struct {
    sb_capture *capture;
    sb_listener *listener;
    double rate_hz;
    float block[SB_LIVE_BLOCK]; /* what the last step heard */
    size_t n;
    size_t lost;        /* samples lost just before block[] */
    double all_lost;    /* samples, since opening */
    bool redraws;       /* there is a meter */
    bool drawn;         /* it stands on the current line */
    double drawn_at_s;  /* when */
    double opened_at_s; /* both on the clock of sb_live_seconds */
} sb_live;

/* Opens device and listener; 0, or the exit code with the failure reported. */
int sb_live_open(const sb_input_options *options, bool early_readings, sb_live *live);

typedef enum { SB_LIVE_ON, SB_LIVE_SIGNAL, SB_LIVE_LOST, SB_LIVE_MEMORY } sb_live_state;

/* Waits for the next samples, at most a twentieth of a second, and lets the listener hear
 * them. After SB_LIVE_LOST the program ends without waiting for the device. */
sb_live_state sb_live_step(sb_live *live);

/* Redraws the meter behind what is to be done now, ten times a second at most. */
void sb_live_meter(sb_live *live, const char *now);

/* Prints a line of news; the meter goes below it. */
void sb_live_say(sb_live *live, const char *format, ...) SB_PRINTF(2, 3);

/* Seconds since opening. */
double sb_live_seconds(const sb_live *live);

/* Clears the meter, tells how much sound was lost, if any, and releases everything. */
void sb_live_close(sb_live *live);

/* Reports why listening stopped and returns the exit code. */
int sb_live_failure(sb_live_state state);

#endif
