/* output_file: a text file that appears whole under its name, or not at all.
 */
#ifndef SB_OUTPUT_FILE_H
#define SB_OUTPUT_FILE_H

#include <stdbool.h>
#include <stdio.h>

#define SB_OUTPUT_PATH_MAX 4096

typedef struct {
    FILE *out; /* what is to be written goes here */
    const char *path;
    bool replace;
    char temporary[SB_OUTPUT_PATH_MAX + 48];
} sb_output_file;

/* Asked before any work is done: whether there is no such file, or it may be replaced.
 * 0, or the exit code with the failure reported. */
int sb_output_vacant(const char *path, bool replace);

/* Begins a file beside its final place; replace: whether one that is there may be replaced,
 * which holds for regular files only.
 * 0, or the exit code with the failure reported. */
int sb_output_begin(sb_output_file *file, const char *path, bool replace);

/* Completes it under its name; keep = false leaves nothing behind. 0, or the exit code with the
 * failure reported. */
int sb_output_end(sb_output_file *file, bool keep);

#endif
