/* patch: real recorded notes out of GF1 patch files (Gravis UltraSound patch format, file
 * version 110), read where the Debian package freepats has put them. None is kept here.
 *
 * Nominal pitch is the patch's root frequency: a label good to half a semitone, no truth.
 */
#ifndef SB_TESTS_PATCH_H
#define SB_TESTS_PATCH_H

#include <stdbool.h>
#include <stddef.h>

#define PATCH_FOLDER    "/usr/share/midi/freepats/Tone_000/"
#define PATCH_NYLON     PATCH_FOLDER "024_Nylon_Guitar.pat"
#define PATCH_STEEL     PATCH_FOLDER "025_Steel_Guitar.pat"
#define PATCH_JAZZ      PATCH_FOLDER "026_Jazz_Guitar.pat"
#define PATCH_CLEAN     PATCH_FOLDER "027_Clean_Electric_Guitar.pat"
#define PATCH_MAX_NOTES 32

typedef struct {
    char name[8];
    double rate_hz;    /* 44100 where the header says 42000 to 46000: some headers tune by it */
    double nominal_hz; /* at rate_hz */
    size_t n;
    float *samples; /* full scale 1, attack to the loop's start; owned */
} patch_note;

typedef struct {
    size_t n;
    patch_note notes[PATCH_MAX_NOTES];
} patch;

/* Reads all notes of a patch file. False when it is missing or not such a file; *out is
 * then empty. Release with patch_free. */
bool patch_read(const char *path, patch *out);

/* The same from the file's bytes. */
bool patch_parse(const unsigned char bytes[], size_t size, patch *out);

void patch_free(patch *p);

#endif
