/* move: the saddle's calculus without sound. */
#include <stddef.h>

#include "cli/command.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json.h"
#include "cli/print.h"
#include "cli/term.h"

typedef struct {
    sb_setting setting;
    double cents, std_error_cents;
    bool json;
} move_args;

static const sb_option error_options[] = {
    {"cents", SB_OPT_NUMBER, offsetof(move_args, cents), "CENTS",
     "the error of the fretted note against the open string; positive = sharp", -SB_MAX_ERROR_CENTS,
     SB_MAX_ERROR_CENTS, true},
    {"std-error", SB_OPT_NUMBER, offsetof(move_args, std_error_cents), "CENTS",
     "the standard error of that (default 0)", 0, 1200, false},
};

static const sb_option answer_options[] = {
    {"json", SB_OPT_FLAG, offsetof(move_args, json), NULL, "print one JSON object", 0, 0, false},
};

static const sb_option_group groups[] = {
    {"the error", error_options, 2, 0},
    {"the string", sb_setting_options, SB_SETTING_OPTIONS, offsetof(move_args, setting)},
    {"the answer", answer_options, 1, 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {"--cents CENTS --scale LEN [OPTIONS]", NULL};
static const char *const examples[] = {
    "setback move --cents +4.6 --scale 25.5in --thread 4-40",
    "setback move --cents -3 --std-error 0.2 --scale 648mm",
    NULL,
};

static int run(const sb_command *self, int argc, char *const argv[]) {
    move_args args = {.setting = sb_setting_default()};
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code == EX_OK)
        code = sb_setting_check(&args.setting);
    if (code != EX_OK)
        return code;
    sb_answer answer = sb_answer_for(&args.setting, args.cents, args.std_error_cents);
    if (args.json)
        return sb_json_move(stdout, &args.setting, &answer) ? EX_OK : sb_complain_memory();
    sb_page page = {stdout, sb_term_styled(stdout)};
    sb_print_answer(&page, &args.setting, &answer);
    return EX_OK;
}

const sb_command sb_cmd_move = {
    "move",
    "say how far to move a saddle for an error that is known",
    "Computes the saddle move that makes the fretted note true once the open string is brought "
    "back to pitch, which changes its tension. A positive error is a sharp fretted note and "
    "asks for the saddle to go back, away from the nut.",
    usage,
    examples,
    groups,
    run,
};
