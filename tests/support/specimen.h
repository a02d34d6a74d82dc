/* specimen: a whole simulated instrument: strings (strung.h) on saddles that can be moved.
 *
 * Each has errors of its own: nut and frets out of place, relief, action, worn crowns, wire
 * that is not as its gauge says, ends neither pinned nor clamped, string that slides over nut
 * and saddle, a player's finger. All are drawn at random within what a repairer meets
 * (common practice, no source); wire: plain steel of 7806 kg/m3 and 203 GPa, wound 0.18 lb/in
 * for each square inch of gauge (both from a string maker's published unit weights), nylon as
 * Anderson & Beausoleil's normal set (J. Acoust. Soc. Am. 156(1), 683, 2024).
 */
#ifndef SB_TESTS_SPECIMEN_H
#define SB_TESTS_SPECIMEN_H

#include <stdbool.h>
#include <stddef.h>

#include "tests/support/prng.h"
#include "tests/support/strung.h"

#define SPECIMEN_STRINGS 6

/* What moves a saddle, or one end of it. Places are mm, back positive, 0 at the start. */
typedef struct {
    double across_mm; /* on the strings' scale: string 1 at 0 */
    double thread_mm; /* pitch of its screw; 0 = pushed by hand */
    double play_mm;   /* it stands up to half of this before or behind where its screw is */
    double screw_mm;
    double place_mm;
} saddle_end;

typedef struct {
    size_t first, count;
    bool slant;         /* both ends move; otherwise ends[0] moves the whole */
    saddle_end ends[2]; /* the nearer to string 1 first */
} specimen_saddle;

typedef enum {
    SPECIMEN_ELECTRIC,   /* long scale, six saddles on screws */
    SPECIMEN_SHORT,      /* short scale, likewise */
    SPECIMEN_BASS,       /* four saddles on screws */
    SPECIMEN_PAIRS,      /* six strings on three saddles on screws */
    SPECIMEN_BAR,        /* short scale, one bar on a screw at each end */
    SPECIMEN_STEEL_FLAT, /* steel-string, one loose flat saddle */
    SPECIMEN_NYLON_FLAT, /* classical, one flat saddle pushed by hand */
    SPECIMEN_MANDOLIN,   /* four strings, a loose bridge that slants */
    SPECIMEN_KINDS
} specimen_kind;

typedef struct {
    double scale_mm, spacing_mm;
    size_t n_strings, n_saddles;
    const char *notes[SPECIMEN_STRINGS]; /* "E4", string 1 first */
    double gauge_in[SPECIMEN_STRINGS];
    bool wound[SPECIMEN_STRINGS];
    double open_hz[SPECIMEN_STRINGS];   /* as it should be, A4 = 440 Hz */
    double origin_mm[SPECIMEN_STRINGS]; /* each string's saddle, by x, at place 0 */
    strung strings[SPECIMEN_STRINGS];
    specimen_saddle saddles[SPECIMEN_STRINGS];
} specimen;

/* A name for a table's row. */
const char *specimen_name(specimen_kind kind);

/* Whether each string has its own saddle. */
bool specimen_is_single(specimen_kind kind);

/* An instrument of that kind, in tune, its saddles up to 4 mm off. */
specimen specimen_random(specimen_kind kind, prng *rng);

/* Turns the screw, or pushes, by so many mm; the saddle follows as its play lets it. The
 * strings are not retuned. */
void specimen_move(specimen *f, size_t saddle, size_t end, double by_mm);

/* The true error at fret 12 of a string (from 0) as it stands, at its right pitch. */
double specimen_error_cents(const specimen *f, size_t string);

/* The same were the saddle's ends at these places (a flat one: the first). */
double specimen_error_at(const specimen *f, size_t string, const double places_mm[2]);

/* Where a string's saddle stands with its ends at these places. */
double specimen_place(const specimen *f, size_t string, const double places_mm[2]);

/* What an end of a saddle must do so that it moves by move_mm[0] at its first string and by
 * move_mm[1] at its last. */
double specimen_end_move(const specimen *f, size_t saddle, size_t end, const double move_mm[2]);

/* The least that the largest error on a saddle can be, and the places for it, found by
 * trying: grids over the places, each finer about the best so far. 0 for one string alone. */
double specimen_best_places(const specimen *f, size_t saddle, double places_mm[2]);

/* The largest error on a saddle at given places. */
double specimen_worst_at(const specimen *f, size_t saddle, const double places_mm[2]);

/* The saddle of a string. */
size_t specimen_saddle_of(const specimen *f, size_t string);

#endif
