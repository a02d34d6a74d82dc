/* The starting points of core/instrument.h: generic kinds only. All figures are common
 * practice, no source; a repairer corrects them with a ruler. */
#include <string.h>

#include "core/instrument.h"

static const sb_kind kinds[] = {
    {"electric", "six-string electric, long scale", 647.7, 22,
     "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w", "each", SB_WAY_SCREW, SB_SHAPE_FLAT, 10.5},
    {"electric-short", "six-string electric, short scale", 628.65, 22,
     "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w", "each", SB_WAY_SCREW, SB_SHAPE_FLAT, 10.4},
    {"acoustic", "steel-string acoustic", 645.16, 20, "E4:12,B3:16,G3:24w,D3:32w,A2:42w,E2:53w",
     "one", SB_WAY_FIXED, SB_SHAPE_FLAT, 10.8},
    {"classical", "classical, nylon strings", 650, 19, "E4:28,B3:32,G3:40,D3:29w,A2:35w,E2:43w",
     "one", SB_WAY_FIXED, SB_SHAPE_FLAT, 11.7},
    {"bass-4", "four-string bass", 863.6, 20, "G2:45w,D2:65w,A1:85w,E1:105w", "each", SB_WAY_SCREW,
     SB_SHAPE_FLAT, 19},
    {"bass-5", "five-string bass", 863.6, 22, "G2:45w,D2:65w,A1:85w,E1:105w,B0:130w", "each",
     SB_WAY_SCREW, SB_SHAPE_FLAT, 18},
    {"baritone", "six-string baritone, B to B", 685.8, 22,
     "B3:13,F#3:17,D3:26w,A2:36w,E2:46w,B1:62w", "each", SB_WAY_SCREW, SB_SHAPE_FLAT, 10.5},
    {"7-string", "seven-string electric", 647.7, 24,
     "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w,B1:59w", "each", SB_WAY_SCREW, SB_SHAPE_FLAT, 10.5},
    {"8-string", "eight-string electric", 685.8, 24,
     "E4:9,B3:12,G3:16,D3:26w,A2:36w,E2:46w,B1:59w,F#1:74w", "each", SB_WAY_SCREW, SB_SHAPE_FLAT,
     10.5},
    {"12-string", "twelve-string acoustic", 645.16, 20,
     "E4:10+E4:10,B3:14+B3:14,G4:9+G3:23w,D4:12+D3:30w,A3:18w+A2:39w,E3:27w+E2:47w", "one",
     SB_WAY_FIXED, SB_SHAPE_FLAT, 5},
    {"mandolin", "mandolin", 352.425, 20, "E5:11+E5:11,A4:15+A4:15,D4:26w+D4:26w,G3:40w+G3:40w",
     "one", SB_WAY_HAND, SB_SHAPE_SLANT, 5.5},
    {"tenor-banjo", "tenor banjo, 19 frets", 584.2, 19, "A4:10,D4:13,G3:20w,C3:30w", "one",
     SB_WAY_HAND, SB_SHAPE_SLANT, 11},
    {"ukulele", "ukulele, concert size", 381, 18, "A4:22,E4:27,C4:34,G4:24", "one", SB_WAY_FIXED,
     SB_SHAPE_FLAT, 13},
};

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

const sb_kind *sb_kind_at(size_t i) {
    return i < COUNT(kinds) ? &kinds[i] : NULL;
}

const sb_kind *sb_kind_named(const char *name) {
    for (size_t i = 0; i < COUNT(kinds); i++)
        if (strcmp(kinds[i].name, name) == 0)
            return &kinds[i];
    return NULL;
}

void sb_kind_instrument(const sb_kind *kind, sb_instrument *out) {
    *out = (sb_instrument){.frets = kind->frets, .spacing_mm = kind->spacing_mm};
    /* The table is ours: it parses, and a test says so. */
    (void)(sb_strings_parse(kind->strings, out->strings, &out->n_strings) == SB_OK &&
           sb_saddles_parse(kind->saddles, out->n_strings, out->saddles, &out->n_saddles) == SB_OK);
    for (size_t i = 0; i < out->n_strings; i++)
        out->strings[i].scale_mm = kind->scale_mm;
    for (size_t i = 0; i < out->n_saddles; i++) {
        out->saddles[i].way = kind->way;
        out->saddles[i].shape = kind->shape;
    }
}
