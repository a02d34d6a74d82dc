/* inputs: the capture devices. */
#include <stddef.h>

#include "cli/command.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json.h"
#include "cli/print.h"
#include "cli/term.h"

#define DEVICES 64

typedef struct {
    bool json;
} inputs_args;

static const sb_option answer_options[] = {
    {"json", SB_OPT_FLAG, offsetof(inputs_args, json), NULL, "print one JSON object", 0, 0, false},
};

static const sb_option_group groups[] = {
    {"the answer", answer_options, 1, 0},
    {NULL, NULL, 0, 0},
};

static const char *const usage[] = {"[--json]", NULL};
static const char *const examples[] = {"setback inputs", NULL};

static int run(const sb_command *self, int argc, char *const argv[]) {
    inputs_args args = {.json = false};
    int code = sb_command_args(self, argc, argv, &args, NULL);
    if (code != EX_OK)
        return code;
    sb_device devices[DEVICES];
    size_t n = 0;
    sb_term_quiet();
    sb_status status = sb_devices_list(devices, DEVICES, &n);
    if (status != SB_OK)
        sb_term_abandon();
    if (status != SB_OK || n == 0)
        return sb_complain_input(status == SB_OK ? SB_E_NO_DEVICE : status, &(sb_input_options){0});
    n = n < DEVICES ? n : DEVICES;
    if (args.json)
        return sb_json_inputs(stdout, devices, n) ? EX_OK : sb_complain_memory();
    sb_page page = {stdout, sb_term_styled(stdout)};
    sb_print_inputs(&page, devices, n);
    return EX_OK;
}

const sb_command sb_cmd_inputs = {
    "inputs",
    "list the capture devices",
    "Lists what sound can be captured from: the index and the name that --input takes, the host "
    "API, the number of channels and the device's own sampling rate.",
    usage,
    examples,
    groups,
    run,
};
