#include "cli/command.h"

#include "cli/err.h"

int sb_command_args(const sb_command *self, int argc, char *const argv[], void *out,
                    sb_texts *operands) {
    sb_args_error error = {.what = ""};
    if (sb_args_parse(self->groups, argc, argv, out, operands, &error))
        return EX_OK;
    return sb_fail(EX_USAGE, error.hint, error.subject, "%s", error.what);
}
