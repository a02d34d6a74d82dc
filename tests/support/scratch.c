#include "tests/support/scratch.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

bool scratch_make(char folder[SCRATCH_MAX], scratch_place place) {
    bool memory = place == SCRATCH_IN_MEMORY && access("/dev/shm", W_OK) == 0;
    (void)snprintf(folder, SCRATCH_MAX, "%s/setback.XXXXXX", memory ? "/dev/shm" : "/tmp");
    return mkdtemp(folder) != NULL;
}

int scratch_remove(const char *folder) {
    char command[SCRATCH_MAX + 16];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command); /* NOLINT: a path of our own making */
}
