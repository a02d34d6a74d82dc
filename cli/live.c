#include "cli/live.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "audio/errand.h"
#include "cli/complain.h"
#include "cli/term.h"
#include "cli/text.h"

#define STEP_S       0.05
#define REDRAW_S     0.1
#define BAR_CELLS    16
#define BAR_FLOOR_DB (-60.0)
#define QUIET_DBFS   (-50.0) /* a note below this is too quiet to be worth measuring */
#define LOUD_DBFS    (-1.0)
#define CLEAR_LINE   "\r\033[K"

const sb_option sb_input_option_rows[SB_INPUT_OPTIONS] = {
    {"input", SB_OPT_TEXT, offsetof(sb_input_options, input), "NAME|INDEX",
     "the capture device, as `setback inputs' lists them; a part of the name will do", 0, 0, false},
    {"rate", SB_OPT_NUMBER, offsetof(sb_input_options, rate_hz), "HZ",
     "the sampling rate to capture at (default: the device's own)", SB_RATE_MIN_HZ, SB_RATE_MAX_HZ,
     false},
    {"channel", SB_OPT_WHOLE, offsetof(sb_input_options, channel), "N",
     "the channel to listen to, from 1 (default: the first of a device, the loudest of a "
     "recording)",
     1, 1024, false},
};

static int open_capture(const sb_input_options *options, sb_live *live) {
    sb_capture_options wanted = {
        .device = options->input, .rate_hz = options->rate_hz, .channel = options->channel};
    sb_status status = sb_capture_open(&wanted, &live->rate_hz, &live->capture);
    if (status == SB_OK)
        return EX_OK;
    sb_term_abandon();
    return sb_complain_input(status, options);
}

int sb_live_open(const sb_input_options *options, bool early_readings, sb_live *live) {
    memset(live, 0, sizeof *live);
    sb_term_quiet();
    sb_term_catch_signals();
    live->redraws = sb_term_redraws(sb_messages());
    int code = open_capture(options, live);
    if (code != EX_OK)
        return code;
    sb_listener_options wanted = {.rate_hz = live->rate_hz, .early_readings = early_readings};
    sb_status status = sb_listener_new(&wanted, &live->listener);
    if (status == SB_E_RANGE)
        code = sb_fail(EX_UNAVAILABLE, "choose another with --rate", NULL,
                       "the input's rate of %g Hz cannot be measured", live->rate_hz);
    else if (status != SB_OK)
        code = sb_complain_memory();
    if (code != EX_OK)
        sb_live_close(live);
    live->opened_at_s = sb_clock_s();
    return code;
}

sb_live_state sb_live_step(sb_live *live) {
    if (sb_term_signal() != 0)
        return SB_LIVE_SIGNAL;
    sb_status status =
        sb_capture_read(live->capture, live->block, SB_LIVE_BLOCK, STEP_S, &live->n, &live->lost);
    if (status != SB_OK) {
        sb_term_abandon();
        return SB_LIVE_LOST;
    }
    live->all_lost += (double)live->lost;
    if (live->lost > 0)
        sb_listener_gap(live->listener);
    if (sb_listener_push(live->listener, live->block, live->n) != SB_OK)
        return SB_LIVE_MEMORY;
    return SB_LIVE_ON;
}

/* --- the meter ----------------------------------------------------------------------- */

static void clear(sb_live *live) {
    if (live->drawn)
        (void)fputs(CLEAR_LINE, sb_messages());
    live->drawn = false;
}

static const char *warning(const sb_meter *meter) {
    if (meter->clipping)
        return "TOO LOUD";
    if (meter->peak_dbfs > LOUD_DBFS)
        return "nearly too loud";
    if (meter->sounding && meter->level_dbfs < QUIET_DBFS)
        return "too quiet";
    return meter->sounding ? "note" : "";
}

static void bar(double level_dbfs, char cells[BAR_CELLS + 1]) {
    double filled = (level_dbfs - BAR_FLOOR_DB) / -BAR_FLOOR_DB * BAR_CELLS;
    for (int i = 0; i < BAR_CELLS; i++)
        cells[i] = i < filled ? '=' : '.';
    cells[BAR_CELLS] = '\0';
}

void sb_live_meter(sb_live *live, const char *now) {
    double time_s = sb_clock_s();
    if (!live->redraws || time_s - live->drawn_at_s < REDRAW_S)
        return;
    char cells[BAR_CELLS + 1], line[200];
    sb_meter meter = sb_listener_meter(live->listener);
    bar(meter.peak_dbfs, cells);
    (void)snprintf(line, sizeof line, "%s  %s %4.0f dB  %s", now, cells, meter.peak_dbfs,
                   warning(&meter));
    /* One that wraps cannot be redrawn in place. */
    sb_text_cut(line, sb_term_columns(sb_messages()) - 1);
    (void)fprintf(sb_messages(), CLEAR_LINE "%s", line);
    (void)fflush(sb_messages());
    live->drawn = true;
    live->drawn_at_s = time_s;
}

void sb_live_say(sb_live *live, const char *format, ...) {
    clear(live);
    va_list values;
    va_start(values, format);
    (void)vfprintf(sb_messages(), format, values);
    va_end(values);
    (void)fputc('\n', sb_messages());
    (void)fflush(sb_messages());
}

double sb_live_seconds(const sb_live *live) {
    return sb_clock_s() - live->opened_at_s;
}

void sb_live_close(sb_live *live) {
    clear(live);
    if (live->all_lost > 0)
        sb_warn(NULL,
                "%.2f s of sound did not arrive, and notes that it hit were left out; close "
                "other programs",
                live->all_lost / live->rate_hz);
    (void)fflush(sb_messages());
    sb_capture_close(live->capture);
    sb_listener_free(live->listener);
    live->capture = NULL;
    live->listener = NULL;
}

int sb_live_failure(sb_live_state state) {
    switch (state) {
    case SB_LIVE_ON: return EX_OK;
    case SB_LIVE_SIGNAL:
        return sb_fail(128 + sb_term_signal(), "nothing was measured", NULL, "interrupted");
    case SB_LIVE_LOST:
        return sb_fail(EX_UNAVAILABLE, "see whether it is plugged in, then begin again", NULL,
                       "the input went away");
    case SB_LIVE_MEMORY: return sb_complain_memory();
    }
    return EX_SOFTWARE;
}
