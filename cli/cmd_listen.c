/* listen: record a take with a level meter, to be measured later. */
#include <math.h>
#include <stddef.h>
#include <string.h>
#include <strings.h>

#include "audio/recording.h"
#include "cli/command.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/live.h"
#include "cli/output_file.h"
#include "cli/term.h"

typedef struct {
    const char *save;
    double seconds; /* 0 = not told */
    bool force;
    sb_input_options input;
} listen_args;

static const sb_option file_options[] = {
    {"save", SB_OPT_TEXT, offsetof(listen_args, save), "FILE",
     "the recording to write, ending in .wav or .flac; it appears when it is complete", 0, 0, true},
    {"force", SB_OPT_FLAG, offsetof(listen_args, force), NULL,
     "replace the file if there is one already", 0, 0, false},
    {"seconds", SB_OPT_NUMBER, offsetof(listen_args, seconds), "S",
     "stop by itself after this time (default: at Ctrl-C; 60 where there is no terminal)", 0.1,
     36000, false},
};

static const sb_option_group groups[] = {
    {"the recording", file_options, 3, 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(listen_args, input)},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {"--save FILE [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback listen --save low-e.wav",
    "setback listen --save low-e.flac --seconds 20 --input 2",
    NULL,
};

static bool ends_in(const char *path, const char *ending) {
    size_t n = strlen(path), m = strlen(ending);
    return n > m && strcasecmp(path + n - m, ending) == 0;
}

static int check(const listen_args *args) {
    if (!ends_in(args->save, ".wav") && !ends_in(args->save, ".flac"))
        return sb_fail(EX_USAGE, "give it a name that ends in .wav or .flac", args->save,
                       "unknown kind of recording");
    return sb_output_vacant(args->save, args->force);
}

/* What went into the file so far. */
typedef struct {
    sb_recording *file;
    double samples, lost, rate_hz;
    size_t plucks, clipped;
} progress;

/* Lost samples become silence, so that times stay right. */
static bool write_block(progress *p, const sb_live *live) {
    static const float silence[SB_LIVE_BLOCK];
    for (size_t left = live->lost; left > 0;) {
        size_t part = left < SB_LIVE_BLOCK ? left : SB_LIVE_BLOCK;
        if (sb_recording_write(p->file, silence, part) != SB_OK)
            return false;
        left -= part;
    }
    p->lost += (double)live->lost;
    p->samples += (double)(live->lost + live->n);
    return sb_recording_write(p->file, live->block, live->n) == SB_OK;
}

static void tell(progress *p, sb_live *live) {
    sb_reading reading;
    if (live->lost > 0)
        sb_live_say(live, "%.1f s: %zu samples were lost; pluck that note again",
                    (p->samples - (double)live->n) / p->rate_hz, live->lost);
    while (sb_listener_next(live->listener, &reading)) {
        p->plucks += reading.fault == SB_PLUCK_GOOD;
        p->clipped += reading.fault == SB_PLUCK_CLIPPED;
        if (reading.fault == SB_PLUCK_GOOD)
            sb_live_say(live, "%.1f s: %.2f Hz%s", reading.start_s, reading.hz,
                        reading.mended ? ", overloaded; turn the input down" : "");
        else
            sb_live_say(live, "%.1f s: %s; %s", reading.start_s, sb_pluck_fault_text(reading.fault),
                        sb_pluck_advice(reading.fault));
    }
}

/* Until told to end, or a write fails. */
static sb_live_state record(progress *p, sb_live *live, double limit_s) {
    sb_live_state state = SB_LIVE_ON;
    double limit = limit_s > 0 ? round(limit_s * live->rate_hz) : HUGE_VAL;
    while (p->samples < limit) {
        state = sb_live_step(live);
        if (state != SB_LIVE_ON)
            break;
        if (p->samples + (double)(live->lost + live->n) > limit)
            live->n = p->samples + (double)live->lost < limit
                          ? (size_t)(limit - p->samples - (double)live->lost)
                          : 0;
        if (!write_block(p, live))
            break;
        tell(p, live);
        sb_live_meter(live, "recording; Ctrl-C ends");
    }
    return state;
}

static int cannot_write(const char *path) {
    return sb_fail(EX_IOERR, "see whether the folder may be written and the disk has room", path,
                   "the recording could not be written");
}

static int cut_short(const char *path, double kept_s) {
    return sb_fail(EX_IOERR, "use what is there; make room before you record the rest", path,
                   "the disk is full or failed; the first %.1f s are kept", kept_s);
}

/* Whatever ended it, what was recorded is kept. */
static int finish(const listen_args *args, progress *p, sb_live *live, sb_live_state state) {
    size_t kept = 0;
    if (p->samples == 0) {
        sb_recording_discard(p->file);
        sb_live_close(live);
        return state == SB_LIVE_ON ? EX_UNAVAILABLE : sb_live_failure(state);
    }
    if (sb_recording_close(p->file, &kept) != SB_OK) {
        sb_live_close(live);
        return kept > 0 ? cut_short(args->save, (double)kept / p->rate_hz)
                        : cannot_write(args->save);
    }
    if (sb_listener_finish(live->listener) == SB_OK)
        tell(p, live);
    sb_live_say(live, "%.1f s with %zu good pluck%s in %s%s", p->samples / p->rate_hz, p->plucks,
                p->plucks == 1 ? "" : "s", args->save,
                p->clipped ? "; some were clipped: turn the input down and record again" : "");
    sb_live_close(live);
    return state == SB_LIVE_LOST || state == SB_LIVE_MEMORY ? sb_live_failure(state) : EX_OK;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    listen_args args = {.save = NULL};
    sb_live live;
    progress p = {.file = NULL};
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code == EX_OK)
        code = check(&args);
    if (code == EX_OK)
        code = sb_live_open(&args.input, false, &live);
    if (code != EX_OK)
        return code;
    p.rate_hz = live.rate_hz;
    if (sb_recording_create(args.save, live.rate_hz, args.force, &p.file) != SB_OK) {
        sb_live_close(&live);
        return cannot_write(args.save);
    }
    sb_live_say(&live, "recording from %s at %g Hz", sb_capture_device(live.capture), live.rate_hz);
    double limit_s = args.seconds > 0 ? args.seconds : live.redraws ? 0 : SB_LIVE_UNWATCHED_S;
    sb_live_state state = record(&p, &live, limit_s);
    return finish(&args, &p, &live, state);
}

const sb_command sb_cmd_listen = {
    "listen",
    "record a take with a level meter, to be measured later",
    "Records from a capture device while a meter shows the level and each pluck is named, with "
    "its fault where it has one. Pluck the string open and at the 12th fret, each a few times "
    "and in any order, and let each note ring for two seconds.",
    usage,
    examples,
    groups,
    run,
};
