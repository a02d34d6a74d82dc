#include "tests/support/fuzzed.h"

#include <ctype.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "cli/err.h"
#include "tests/support/invariants.h"

#define NAMES    4
#define NAME_MAX 80

static char folder[40];
static char names[NAMES][NAME_MAX];

static void clear_up(void) {
    for (size_t i = 0; i < NAMES; i++) {
        char journal[sizeof names + 10];
        (void)snprintf(journal, sizeof journal, "%s-journal", names[i]);
        (void)unlink(journal);
        (void)unlink(names[i]);
    }
    (void)rmdir(folder);
}

static void make_folder(void) {
    if (folder[0] != '\0')
        return;
    (void)snprintf(folder, sizeof folder, "%s/setback-fuzz.XXXXXX",
                   access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    INVARIANT(mkdtemp(folder) && atexit(clear_up) == 0);
}

const char *fuzzed_name(const char *name) {
    make_folder();
    for (size_t i = 0; i < NAMES; i++) {
        if (names[i][0] == '\0')
            (void)snprintf(names[i], NAME_MAX, "%s/%s", folder, name);
        if (strcmp(strrchr(names[i], '/') + 1, name) == 0)
            return names[i];
    }
    INVARIANT(0); /* more names than there is room for */
    return NULL;
}

const char *fuzzed_file(const uint8_t *data, size_t size) {
    const char *path = fuzzed_name("bytes");
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    INVARIANT(file >= 0 && write(file, data, size) == (ssize_t)size && close(file) == 0);
    return path;
}

void fuzzed_quiet(void) {
    static FILE *nowhere;
    if (!nowhere)
        nowhere = fopen("/dev/null", "w");
    INVARIANT(nowhere != NULL);
    sb_messages_to(nowhere);
}

void invariant_of_words(const char *text) {
    for (const char *at = text; *at; at++) {
        bool begins = at == text || !isalpha((unsigned char)at[-1]);
        bool ends = begins && (strncasecmp(at, "nan", 3) == 0 || strncasecmp(at, "inf", 3) == 0) &&
                    !isalpha((unsigned char)at[3]);
        INVARIANT(!ends);
    }
}
