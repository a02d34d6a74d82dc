/* measure: from sound to saddle move, one string or several. */
#include <stddef.h>
#include <stdlib.h>

#include "cli/command.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/report.h"
#include "cli/session.h"
#include "core/pitch.h"

typedef struct {
    sb_setting setting;
    sb_session_options live;
    const char *open, *fretted;
    sb_texts takes;
    int note;
    double a4_hz;
    bool json, partials;
} measure_args;

static const sb_option sound_options[] = {
    {"take", SB_OPT_TEXTS, offsetof(measure_args, takes), "FILE",
     "a recording of one string, open and fretted, in any order; given several times, of several "
     "strings, one row each",
     0, 0, false},
    {"open", SB_OPT_TEXT, offsetof(measure_args, open), "FILE", "a recording of the open string", 0,
     0, false},
    {"fretted", SB_OPT_TEXT, offsetof(measure_args, fretted), "FILE",
     "a recording of the fretted note", 0, 0, false},
    {"note", SB_OPT_NOTE, offsetof(measure_args, note), "NOTE",
     "the open string's note, such as E2, so that another string is noticed", 0, 0, false},
    SB_ROW_A4(measure_args, a4_hz, 500),
};

static const sb_option live_options[] = {
    {"plucks", SB_OPT_WHOLE, offsetof(measure_args, live.plucks), "N",
     "how many good plucks of each note to wait for, at least (default 1)", 1, 20, false},
    SB_ROW_TIMEOUT(measure_args, live.timeout_s),
};

static const sb_option answer_options[] = {
    {"partials", SB_OPT_FLAG, offsetof(measure_args, partials), NULL,
     "print the table of partials as well", 0, 0, false},
    {"json", SB_OPT_FLAG, offsetof(measure_args, json), NULL, "print one JSON object a string", 0,
     0, false},
};

static const sb_option_group groups[] = {
    {"the string", sb_setting_options, SB_SETTING_OPTIONS, offsetof(measure_args, setting)},
    {"the sound; live when no recording is named", sound_options, 5, 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(measure_args, live.input)},
    {"listening", live_options, 2, 0},
    {"the answer", answer_options, 2, 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {
    "--scale LEN --take FILE... [OPTIONS]",
    "--scale LEN --open FILE --fretted FILE [OPTIONS]",
    "--scale LEN [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback measure --scale 25.5in --thread 4-40 --take low-e.wav",
    "setback measure --scale 648mm --open open.wav --fretted twelve.wav --json",
    "setback measure --scale 34in --note E1 --input 2 --plucks 3",
    NULL,
};

static int check(const measure_args *args) {
    const char *one = "give --open FILE --fretted FILE, or --take FILE, or nothing to listen";
    if (args->takes.n > 0 && (args->open || args->fretted))
        return sb_fail(EX_USAGE, one, NULL, "--take does not go with --open and --fretted");
    if (args->open && !args->fretted)
        return sb_fail(EX_USAGE, one, NULL, "--open needs --fretted as well");
    if (args->fretted && !args->open)
        return sb_fail(EX_USAGE, one, NULL, "--fretted needs --open as well");
    if (args->takes.n > 1 && args->note != SB_NO_NOTE)
        return sb_fail(EX_USAGE, "leave --note away, or measure one string at a time", NULL,
                       "--note goes with one string only");
    return sb_setting_check(&args->setting);
}

/* What one measurement works with; too large for the stack. */
typedef struct {
    sb_task task;
    sb_report report;
    sb_take *take[2];
    sb_measurement *m;
} work;

static bool work_new(const measure_args *args, work *w) {
    *w = (work){
        .task = {&args->setting, args->note, args->a4_hz},
        .report = {.json = args->json, .partials = args->partials, .table = args->takes.n > 1}};
    w->take[0] = sb_take_new();
    w->take[1] = sb_take_new();
    w->m = malloc(sizeof *w->m);
    return w->take[0] && w->take[1] && w->m;
}

static void work_free(work *w) {
    free(w->take[0]);
    free(w->take[1]);
    free(w->m);
}

static int measure_take(const measure_args *args, work *w, const char *path) {
    sb_take_reset(w->take[0]);
    int code = sb_load_take(w->take[0], path, args->live.input.channel, NULL);
    if (code != EX_OK)
        return code;
    sb_outcome outcome = sb_measure_take(&w->task, w->take[0], w->m);
    if (outcome != SB_MEASURED)
        return sb_complain_outcome(outcome, &w->task, w->m, w->take[0], path);
    return sb_report_measurement(&w->report, &w->task, w->m, path);
}

/* One bad recording does not keep the others from being measured. */
static int measure_takes(const measure_args *args, work *w) {
    int worst = EX_OK;
    for (size_t i = 0; i < args->takes.n; i++) {
        int code = measure_take(args, w, args->takes.item[i]);
        worst = worst == EX_OK ? code : worst;
    }
    sb_report_end(&w->report);
    return worst;
}

static int measure_pair(const measure_args *args, work *w) {
    const char *path[2] = {args->open, args->fretted};
    for (int i = 0; i < 2; i++) {
        int code = sb_load_take(w->take[i], path[i], args->live.input.channel, NULL);
        if (code != EX_OK)
            return code;
    }
    sb_outcome outcome = sb_measure_pair(&w->task, w->take[0], w->take[1], w->m);
    int at = w->m->fault_side == SB_FRETTED;
    if (outcome != SB_MEASURED)
        return sb_complain_outcome(outcome, &w->task, w->m, w->take[at], path[at]);
    return sb_report_measurement(&w->report, &w->task, w->m, NULL);
}

static int measure_live(const measure_args *args, work *w) {
    int code = sb_session_measure(&args->live, &w->task, w->take[0], w->m);
    return code == EX_OK ? sb_report_measurement(&w->report, &w->task, w->m, NULL) : code;
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    measure_args args = {
        .setting = sb_setting_default(), .note = SB_NO_NOTE, .a4_hz = SB_A4_HZ, .live.plucks = 1};
    work w;
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code == EX_OK)
        code = check(&args);
    if (code != EX_OK)
        return code;
    if (!work_new(&args, &w))
        code = sb_complain_memory();
    else if (args.takes.n > 0)
        code = measure_takes(&args, &w);
    else if (args.open)
        code = measure_pair(&args, &w);
    else
        code = measure_live(&args, &w);
    work_free(&w);
    return code;
}

const sb_command sb_cmd_measure = {
    "measure",
    "listen to a string open and fretted, and say how far to move its saddle",
    "Finds the plucks by itself, measures each on its settled part, and combines them; scatter "
    "between plucks widens the uncertainty. Open notes before and after the fretted ones let it "
    "take out the drift of a string that is still stretching.\n"
    "Without a recording it listens: pluck the open string, then the same string at the fret, as "
    "often as you like and with no key to press. It ends by itself when both are in, the error is "
    "known to half the tolerance, and no further note comes.\n"
    "The answer is `move', `leave' (the error is within the tolerance or its own uncertainty) or "
    "`measure again' (the uncertainty is too large to set a saddle by).",
    usage,
    examples,
    groups,
    run,
};
