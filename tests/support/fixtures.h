/* fixtures: the recordings kept in fixtures/, as a recipe; all of it is invented.
 *
 * mkfixtures writes them, test_fixtures holds the committed files against the recipe.
 * Mono, 16 bit, FIXTURE_RATE_HZ.
 */
#ifndef SB_TESTS_FIXTURES_H
#define SB_TESTS_FIXTURES_H

#include <stddef.h>
#include <stdint.h>

#define FIXTURE_RATE_HZ  24000
#define FIXTURE_NAME_MAX 32

typedef struct {
    char file[FIXTURE_NAME_MAX];
    const char *what;          /* "take", "open" or "fret 12" */
    double hz;                 /* settled sounding fundamental; of a take: the open string's,
                                  at the first pluck */
    double octave_error_cents; /* of the take or of the pair; sharp positive */
    double tolerance_cents;    /* for a test of the whole path on that error */
    uint64_t seed;
} fixture;

/* How many there are. */
size_t fixtures_count(void);

/* The i-th, i < fixtures_count(). */
fixture fixtures_get(size_t i);

/* Its sound; *n samples, the caller frees. */
short *fixtures_render(size_t i, size_t *n);

/* The line of truth.tsv for it, without line end. */
void fixtures_line(const fixture *f, char *text, size_t size);

/* truth.tsv's first lines. */
const char *fixtures_heading(void);

#endif
