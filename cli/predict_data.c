/* What is known of the strings, from option texts. */
#include <stdlib.h>
#include <string.h>

#include "cli/err.h"
#include "cli/prediction.h"
#include "cli/quantity.h"
#include "core/length.h"
#include "core/pitch.h"

#define ITEM_MAX 32

typedef struct {
    char item[SB_STRINGS_MAX][ITEM_MAX];
    size_t n;
} items;

static bool split(const char *text, items *out) {
    out->n = 0;
    for (bool more = true; more; text++) {
        size_t n = strcspn(text, ",");
        if (out->n == SB_STRINGS_MAX || n == 0 || n >= ITEM_MAX)
            return false;
        (void)snprintf(out->item[out->n++], ITEM_MAX, "%.*s", (int)n, text);
        text += n;
        more = *text == ',';
    }
    return true;
}

/* The item for string i; NULL where that is not known. */
static const char *item_for(const items *list, size_t i) {
    const char *item = list->item[list->n == 1 ? 0 : i];
    return strcmp(item, "-") == 0 ? NULL : item;
}

static int split_for(const char *option, const char *text, size_t n, items *out) {
    if (!split(text, out))
        return sb_fail(EX_USAGE, "one for all or one a string, with commas between", text,
                       "--%s needs a list", option);
    if (out->n != 1 && out->n != n)
        return sb_fail(EX_USAGE, "one for all, or one a string with - where it is not known", text,
                       "--%s has %zu items for %zu strings", option, out->n, n);
    return EX_OK;
}

typedef struct {
    const char *option, *text;
    sb_quantity kind;
    size_t offset; /* in sb_wire_data */
} quantity_option;

static int set_quantity(sb_string_set *set, const quantity_option *o) {
    items list;
    int code = o->text ? split_for(o->option, o->text, set->n, &list) : EX_OK;
    for (size_t i = 0; o->text && code == EX_OK && i < set->n; i++) {
        const char *item = item_for(&list, i);
        double value = 0;
        char hint[80];
        (void)snprintf(hint, sizeof hint, "write a number above 0 and its unit: %s",
                       sb_quantity_units(o->kind));
        if (item && (!sb_quantity_parse(item, o->kind, &value) || value <= 0))
            return sb_fail(EX_USAGE, hint, o->text, "--%s cannot be understood", o->option);
        memcpy((char *)&set->data[i] + o->offset, &value, sizeof value);
    }
    return code;
}

static int set_material(sb_string_set *set, const char *text) {
    items list;
    int code = split_for("material", text, set->n, &list);
    for (size_t i = 0; code == EX_OK && i < set->n; i++) {
        const char *item = list.item[list.n == 1 ? 0 : i];
        int m = 0;
        while (m < SB_MATERIALS && strcmp(item, sb_material_text((sb_material)m)) != 0)
            m++;
        if (m == SB_MATERIALS)
            return sb_fail(EX_USAGE, "it takes steel, bronze, nylon, fluorocarbon or gut", text,
                           "--material: no such material");
        set->data[i].material = (sb_material)m;
    }
    return code;
}

static bool too_tight_in_steel(const sb_string *s, double a4_hz) {
    const sb_wire_data steel = {.gauge_mm = s->gauge_mm};
    sb_wire wire;
    return !s->wound && s->gauge_mm > 0 &&
           sb_wire_make(&steel, s->scale_mm, sb_note_hz(s->semitone, a4_hz), NULL, &wire) ==
               SB_OK &&
           wire.tension_n > SB_STEEL_MOST_N;
}

static void guess_material(sb_string_set *set, const char *kind, double a4_hz) {
    bool nylon = strcmp(kind, "classical") == 0 || strcmp(kind, "ukulele") == 0;
    for (size_t i = 0; !nylon && i < set->n; i++)
        set->guessed = set->guessed || too_tight_in_steel(&set->strings[i], a4_hz);
    for (size_t i = 0; i < set->n; i++)
        set->data[i].material = nylon || set->guessed ? SB_MATERIAL_NYLON : SB_MATERIAL_STEEL;
}

int sb_set_data(sb_string_set *set, const sb_data_texts *texts, const char *kind, double a4_hz) {
    const quantity_option options[] = {
        {"unit-mass", texts->unit_mass, SB_UNIT_MASS, offsetof(sb_wire_data, unit_mass_kg_m)},
        {"tension", texts->tension, SB_FORCE, offsetof(sb_wire_data, tension_n)},
        {"core", texts->core, SB_SPAN, offsetof(sb_wire_data, core_mm)},
        {"modulus", texts->modulus, SB_MODULUS, offsetof(sb_wire_data, modulus_pa)},
    };
    int code = EX_OK;
    set->guessed = false;
    for (size_t i = 0; i < set->n; i++)
        set->data[i] =
            (sb_wire_data){.wound = set->strings[i].wound, .gauge_mm = set->strings[i].gauge_mm};
    if (texts->material)
        code = set_material(set, texts->material);
    else
        guess_material(set, kind, a4_hz);
    for (size_t i = 0; code == EX_OK && i < sizeof options / sizeof *options; i++)
        code = set_quantity(set, &options[i]);
    for (size_t i = 0; code == EX_OK && i < set->n; i++)
        if (set->data[i].unit_mass_kg_m > 0 && set->data[i].tension_n > 0)
            code = sb_fail(EX_USAGE, "give one of them; the other follows", NULL,
                           "string %zu has both a unit mass and a tension", i + 1);
    return code;
}

/* --- frets and actions ----------------------------------------------------------------- */

static bool take_fret(const char **text, int *fret) {
    char *end = NULL;
    if (**text < '0' || **text > '9')
        return false;
    long value = strtol(*text, &end, 10);
    *text = end;
    *fret = (int)value;
    return value >= 1 && value <= SB_FRETS_MAX;
}

static bool take_frets(const char *text, int frets[], size_t *n) {
    for (*n = 0;; text++) {
        int first = 0, last = 0;
        if (!take_fret(&text, &first))
            return false;
        last = first;
        if (*text == '-' && (text++, !take_fret(&text, &last)))
            return false;
        if (last < first || (*n > 0 && first <= frets[*n - 1]))
            return false;
        for (int fret = first; fret <= last; fret++)
            frets[(*n)++] = fret;
        if (*text != ',')
            return *text == '\0';
    }
}

int sb_frets_parse(const char *text, int frets[SB_FRETS_MAX], size_t *n) {
    if (take_frets(text, frets, n))
        return EX_OK;
    return sb_fail(EX_USAGE, "write them in rising order, 1 to 36: 1-12 or 1,3,5,7-12", text,
                   "--frets cannot be understood");
}

int sb_action_parse(const char *text, sb_action *action) {
    const char *rest = text;
    int fret = 0;
    double mm = 0;
    if (!take_fret(&rest, &fret) || fret < 2 || *rest != ':' ||
        sb_length_parse(rest + 1, 0, &mm) != SB_OK || mm <= 0 || mm > 50)
        return sb_fail(EX_USAGE, "write fret and height, such as 12:1.6mm or 17:4.5/64in", text,
                       "--action cannot be understood");
    action->fret = fret;
    action->action_mm = mm;
    return EX_OK;
}
