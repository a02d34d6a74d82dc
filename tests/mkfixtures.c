/* mkfixtures FOLDER: writes the recordings of fixtures/ and their truth.tsv. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include <sndfile.h>

#include "tests/support/fixtures.h"

enum { PATH_MAX_HERE = 1024, LINE_MAX_HERE = 256 };

static bool write_sound(const char *path, const short samples[], size_t n) {
    SF_INFO info = {
        .samplerate = FIXTURE_RATE_HZ, .channels = 1, .format = SF_FORMAT_FLAC | SF_FORMAT_PCM_16};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (file == NULL)
        return false;
    double level = 1.0; /* the slowest and smallest coding */
    (void)sf_command(file, SFC_SET_COMPRESSION_LEVEL, &level, sizeof level);
    const bool whole = sf_write_short(file, samples, (sf_count_t)n) == (sf_count_t)n;
    return sf_close(file) == 0 && whole;
}

static bool write_fixture(const char *folder, size_t i, FILE *truth) {
    const fixture f = fixtures_get(i);
    char path[PATH_MAX_HERE], line[LINE_MAX_HERE];
    size_t n = 0;
    short *samples = fixtures_render(i, &n);
    (void)snprintf(path, sizeof path, "%s/%s", folder, f.file);
    fixtures_line(&f, line, sizeof line);
    const bool ok = samples != NULL && write_sound(path, samples, n);
    free(samples);
    return fprintf(truth, "%s\n", line) > 0 && ok;
}

int main(int argc, char *argv[]) {
    if (argc != 2) {
        fputs("usage: mkfixtures FOLDER\n", stderr);
        return 64;
    }
    char path[PATH_MAX_HERE];
    (void)snprintf(path, sizeof path, "%s/truth.tsv", argv[1]);
    FILE *truth = fopen(path, "w");
    bool ok = truth != NULL && fputs(fixtures_heading(), truth) >= 0;
    for (size_t i = 0; ok && i < fixtures_count(); i++)
        ok = write_fixture(argv[1], i, truth);
    if (truth != NULL && fclose(truth) != 0)
        ok = false;
    if (!ok)
        fprintf(stderr, "mkfixtures: cannot write to '%s'\n", argv[1]);
    return ok ? 0 : 74;
}
