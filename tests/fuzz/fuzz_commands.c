/* Any words behind a command that computes without sound, and any bytes as the file that it is
 * told to read: it ends with an exit code of sysexits.h, nothing that it prints is NaN or infinite,
 * and JSON is JSON.
 *
 * The first byte names the command; then words, each ended by a line's end, `FILE' for the path of
 * the file; after a NUL the file's content. */
#include <jansson.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command.h"
#include "cli/err.h"
#include "tests/support/fuzzed.h"
#include "tests/support/invariants.h"

#define WORDS 40

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerInitialize(int *argc, char ***argv);

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    /* No instrument: the book is not to be found. */
    return setenv("SETBACK_BOOK", "/nowhere/book.db", 1);
}

/* What would write, listen, or wait for standard input is left out. */
static bool harmless(const char *word) {
    static const char *const not [] = {"--svg", "--take", "--book", "--input", "--save", "--help"};
    for (size_t i = 0; i < sizeof not / sizeof *not ; i++)
        if (strncmp(word, not [i], strlen(not [i])) == 0)
            return false;
    size_t n = strlen(word);
    return n == 0 || word[n - 1] != '-';
}

static int split(char *text, char *argv[], const char *file) {
    int n = 0;
    for (char *word = strtok(text, "\n"); word && n < WORDS; word = strtok(NULL, "\n")) {
        if (!harmless(word))
            continue;
        argv[n++] = strcmp(word, "FILE") == 0 ? (char *)(uintptr_t)file : word;
    }
    return n;
}

static int run(const sb_command *command, int argc, char *const argv[], char **printed) {
    size_t size = 0;
    FILE *kept = stdout;
    stdout = open_memstream(printed, &size);
    INVARIANT(stdout != NULL);
    int code = command->run(command, argc, argv);
    INVARIANT(fclose(stdout) == 0);
    stdout = kept;
    return code;
}

static void judge(int code, const char *printed) {
    INVARIANT(code == EX_OK || (code >= EX__BASE && code <= EX__MAX));
    INVARIANT(code != EX_SOFTWARE && code != EX_OSERR);
    invariant_of_words(printed);
    if (printed[0] != '{')
        return;
    json_t *object = json_loads(printed, JSON_REJECT_DUPLICATES, NULL);
    INVARIANT(json_is_object(object));
    json_decref(object);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const sb_command *const commands[] = {&sb_cmd_move, &sb_cmd_compromise, &sb_cmd_predict,
                                                 &sb_cmd_survey};
    if (size < 1)
        return 0;
    const uint8_t *words = data + 1, *end = memchr(words, '\0', size - 1);
    size_t n = end ? (size_t)(end - words) : size - 1;
    const char *file = end ? fuzzed_file(end + 1, size - n - 2) : fuzzed_file(data, 0);
    const sb_command *command = commands[data[0] % 4];
    char *text = calloc(1, n + 1), *printed = NULL, *argv[WORDS + 2];
    if (!text)
        return 0;
    memcpy(text, words, n);
    fuzzed_quiet();
    int argc = split(text, argv, file);
    if (command == &sb_cmd_survey) { /* or else it listens */
        argv[argc++] = (char *)(uintptr_t) "--readings";
        argv[argc++] = (char *)(uintptr_t)file;
    }
    int code = run(command, argc, argv, &printed);
    judge(code, printed);
    free(printed);
    free(text);
    return 0;
}
