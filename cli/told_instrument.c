#include "cli/told_instrument.h"

#include <stddef.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"

const sb_option sb_told_instrument_rows[SB_TOLD_INSTRUMENT_OPTIONS] = {
    {"kind", SB_OPT_TEXT, offsetof(sb_told_instrument, kind), "KIND",
     "what to start from: electric, electric-short, acoustic, classical, bass-4, bass-5, baritone, "
     "7-string, 8-string, 12-string, mandolin, tenor-banjo or ukulele",
     0, 0, false},
    {"scale", SB_OPT_LENGTHS, offsetof(sb_told_instrument, scale_mm), "LEN[,LEN...]",
     "the nominal scale length with its unit, or one a string for fanned frets", 100, 2000, false},
    {"strings", SB_OPT_TEXT, offsetof(sb_told_instrument, strings), "NOTE:GAUGE,...",
     "string 1 first; gauges in thousandths of an inch or with a unit, w = wound: "
     "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w; + joins the strings of a course: E5:11+E5:11",
     0, 0, false},
    {"saddles", SB_OPT_TEXT, offsetof(sb_told_instrument, saddles), "each|pairs|one|1-2,3-4,...",
     "which strings stand on one saddle (default each)", 0, 0, false},
    {"moves", SB_OPT_CHOICE, offsetof(sb_told_instrument, way), "screw|hand|fixed",
     "how the saddles move (default screw)", 0, 0, false},
    {"shape", SB_OPT_CHOICE, offsetof(sb_told_instrument, shape), "flat|slant",
     "whether a saddle moves as a whole (flat, default) or at each end (slant)", 0, 0, false},
    {"thread", SB_OPT_THREAD, offsetof(sb_told_instrument, thread_mm), "NAME",
     "the adjustment screws: " SB_THREADS_TEXT, 0, 0, false},
    {"screw", SB_OPT_CHOICE, offsetof(sb_told_instrument, screw), "pulls|pushes",
     "what a clockwise turn does as you face the screw's head: draws the saddle back (pulls, "
     "default) or drives it forward (pushes)",
     0, 0, false},
    {"travel", SB_OPT_LENGTHS, offsetof(sb_told_instrument, travel_mm), "LEN,LEN[,...]",
     "how far the saddles can still go forward and back, or two lengths for each saddle", 0, 100,
     false},
    {"spacing", SB_OPT_LENGTH, offsetof(sb_told_instrument, spacing_mm), "LEN",
     "from string to string across the bridge", 0.1, 100, false},
    {"frets", SB_OPT_WHOLE, offsetof(sb_told_instrument, frets), "N", "how many frets it has", 1,
     SB_FRETS_MAX, false},
    {"owner", SB_OPT_TEXT, offsetof(sb_told_instrument, owner), "TEXT",
     "the owner's reference, as the shop writes it", 0, 0, false},
};

static int set_kind(const sb_told_instrument *told, sb_description *d) {
    const sb_kind *kind = told->kind ? sb_kind_named(told->kind) : NULL;
    if (told->kind && !kind)
        return sb_fail(EX_USAGE, "setback book add --help lists them", told->kind,
                       "no such kind of instrument");
    if (kind) {
        sb_kind_instrument(kind, &d->instrument);
        (void)snprintf(d->kind, sizeof d->kind, "%s", kind->name);
    }
    return EX_OK;
}

/* Other saddles, each like the first of the old ones but for its strings. */
static void divide(const sb_saddle saddles[], size_t n, sb_instrument *it) {
    sb_saddle like = it->saddles[0];
    for (size_t i = 0; i < n; i++) {
        it->saddles[i] = like;
        it->saddles[i].first = saddles[i].first;
        it->saddles[i].last = saddles[i].last;
    }
    it->n_saddles = n;
}

/* New strings keep the scale lengths of those in their places, and the old division into
 * saddles where that can be said without counting them. */
static int set_strings(const char *text, sb_instrument *it) {
    sb_string strings[SB_STRINGS_MAX];
    sb_saddle saddles[SB_STRINGS_MAX];
    char division[SB_SADDLES_TEXT_MAX];
    size_t n = 0, n_saddles = 0;
    if (sb_strings_parse(text, strings, &n) != SB_OK)
        return sb_fail(EX_USAGE, "write them as E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w", text,
                       "these strings cannot be understood");
    for (size_t i = 0; i < n; i++)
        strings[i].scale_mm = it->strings[i < it->n_strings ? i : it->n_strings - 1].scale_mm;
    sb_saddles_format(it->saddles, it->n_saddles, division, sizeof division);
    if (n != it->n_strings && sb_saddles_parse(division, n, saddles, &n_saddles) == SB_OK)
        divide(saddles, n_saddles, it);
    memcpy(it->strings, strings, n * sizeof *strings);
    it->n_strings = n;
    return EX_OK;
}

static int set_saddles(const char *text, sb_instrument *it) {
    sb_saddle saddles[SB_STRINGS_MAX];
    size_t n = 0;
    if (sb_saddles_parse(text, it->n_strings, saddles, &n) != SB_OK)
        return sb_fail(EX_USAGE, "each, pairs, one, or every string once: 1-2,3-4,5-6", text,
                       "these saddles do not fit %zu strings", it->n_strings);
    divide(saddles, n, it);
    return EX_OK;
}

static int set_scale(const sb_numbers *scale_mm, sb_instrument *it) {
    if (scale_mm->n > 1 && scale_mm->n != it->n_strings)
        return sb_fail(EX_USAGE, "one for all, or one a string", NULL,
                       "%zu scale lengths for %zu strings", scale_mm->n, it->n_strings);
    for (size_t i = 0; scale_mm->n > 0 && i < it->n_strings; i++)
        it->strings[i].scale_mm = scale_mm->item[scale_mm->n == 1 ? 0 : i];
    return EX_OK;
}

static int set_travel(const sb_numbers *travel_mm, sb_instrument *it) {
    if (travel_mm->n > 0 && travel_mm->n != 2 && travel_mm->n != 2 * it->n_saddles)
        return sb_fail(EX_USAGE, "forward and back, such as --travel 2mm,5mm, or both for each",
                       NULL, "%zu travels for %zu saddles", travel_mm->n, it->n_saddles);
    for (size_t i = 0; travel_mm->n > 0 && i < it->n_saddles; i++) {
        const double *of = &travel_mm->item[travel_mm->n == 2 ? 0 : 2 * i];
        it->saddles[i].limited = true;
        it->saddles[i].forward_mm = of[0];
        it->saddles[i].back_mm = of[1];
    }
    return EX_OK;
}

static void set_ways(const sb_told_instrument *told, sb_instrument *it) {
    for (size_t i = 0; i < it->n_saddles; i++) {
        sb_saddle *s = &it->saddles[i];
        if (told->thread_mm > 0) {
            s->thread_mm = told->thread_mm;
            s->way = SB_WAY_SCREW;
        }
        if (told->way != SB_NOT_TOLD)
            s->way = (sb_saddle_way)told->way;
        if (s->way != SB_WAY_SCREW)
            s->thread_mm = 0;
        if (told->shape != SB_NOT_TOLD)
            s->shape = (sb_saddle_shape)told->shape;
        if (told->screw != SB_NOT_TOLD)
            s->screw = (sb_screw_action)told->screw;
    }
}

int sb_told_apply(const sb_told_instrument *told, sb_description *d) {
    sb_instrument *it = &d->instrument;
    int code = set_kind(told, d);
    if (code == EX_OK && told->strings)
        code = set_strings(told->strings, it);
    if (code == EX_OK && told->saddles)
        code = set_saddles(told->saddles, it);
    if (code == EX_OK)
        code = set_scale(&told->scale_mm, it);
    if (code == EX_OK)
        code = set_travel(&told->travel_mm, it);
    if (code != EX_OK)
        return code;
    set_ways(told, it);
    if (told->frets != SB_NOT_TOLD)
        it->frets = told->frets;
    if (told->spacing_mm > 0)
        it->spacing_mm = told->spacing_mm;
    if (told->owner && !sb_book_name_good(told->owner))
        return sb_book_complain(SB_BOOK_BAD_NAME, NULL, told->owner);
    if (told->owner)
        (void)snprintf(d->owner, sizeof d->owner, "%s", told->owner);
    const char *fault = sb_instrument_fault(it);
    return fault ? sb_fail(EX_USAGE, "give --saddles and --scale that fit the strings", NULL, "%s",
                           fault)
                 : EX_OK;
}
