#include "core/spec.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/instrument.h"

#define INCH 25.4

/* Common practice, no source. */
static const sb_spec_facts facts[SB_SPEC_KINDS] = {
    [SB_SPEC_RELIEF] = {"relief", "relief", "relief", SB_MEASURE_FINE, -0.8, 1.5, 0.03, 0.01},
    [SB_SPEC_FIRST_FRET] = {"first-fret", "nut", "first fret", SB_MEASURE_FINE, 0.1, 2.0, 0.03,
                            0.01},
    [SB_SPEC_ACTION12] = {"action12", "action", "action at 12", SB_MEASURE_RULER, 0.5, 6.0, 0.2,
                          0.05},
    [SB_SPEC_ACTION17] = {"action17", "action", "action at 17", SB_MEASURE_RULER, 0.5, 8.0, 0.2,
                          0.05},
    [SB_SPEC_CROWN] = {"crown", "crown", "crown height", SB_MEASURE_FINE, 0.2, 2.0, 0.05, 0.01},
    [SB_SPEC_PICKUP] = {"pickup", "pickup", "pickup", SB_MEASURE_RULER, 0.4, 15.0, 0.3, INCH / 64},
    [SB_SPEC_RADIUS] = {"radius", "radius", "radius", SB_MEASURE_RULER, 100, 800, 5, 0.05},
    [SB_SPEC_RESISTANCE] = {"resistance", "resistance", "coil", SB_MEASURE_OHM, 500, 80e3, 0, 0},
    [SB_SPEC_BUZZ] = {"buzz", "buzz", "buzz", SB_MEASURE_TEXT, 0, 0, 0, 0},
    [SB_SPEC_SCREWS] = {"screws", "screws", "screws", SB_MEASURE_TEXT, 0, 0, 0, 0},
    [SB_SPEC_NOTE] = {"note", "note", "note", SB_MEASURE_TEXT, 0, 0, 0, 0},
    [SB_SPEC_INSTRUMENT] = {"kind", "kind", "judged as", SB_MEASURE_TEXT, 0, 0, 0, 0},
};

const sb_spec_facts *sb_spec_facts_of(sb_spec_kind kind) {
    return &facts[kind];
}

static const char *const patterns[] = {
    "relief",
    "first-fret-treble",
    "first-fret-bass",
    "action12-treble",
    "action12-bass",
    "action17-treble",
    "action17-bass",
    "crown",
    "pickup-bridge-treble",
    "pickup-bridge-bass",
    "radius",
    "resistance-bridge",
    "buzz",
    "screws",
    "note",
    "kind",
};

const char *sb_spec_pattern(size_t i) {
    return i < sizeof patterns / sizeof *patterns ? patterns[i] : NULL;
}

/* --- names ------------------------------------------------------------------------------ */

/* A number without leading zeros, up to 99. */
static bool small_number(const char *text, int *number) {
    size_t n = strspn(text, "0123456789");
    if (n < 1 || n > 2 || text[n] != '\0' || (n > 1 && text[0] == '0'))
        return false;
    *number = text[0] - '0';
    if (n == 2)
        *number = 10 * *number + text[1] - '0';
    return true;
}

/* Words between single '+' where these are allowed. */
static bool good_part(const char *text, bool joined) {
    const char *allowed = "abcdefghijklmnopqrstuvwxyz0123456789-";
    for (;;) {
        size_t n = strspn(text, allowed);
        if (n == 0 || text[0] == '-' || text[n - 1] == '-')
            return false;
        if (text[n] == '\0')
            return true;
        if (text[n] != '+' || !joined)
            return false;
        text += n + 1;
    }
}

static sb_status read_side(const char *rest, sb_spec_id *id) {
    if (strcmp(rest, "treble") == 0)
        id->side = SB_SIDE_TREBLE;
    else if (strcmp(rest, "bass") == 0)
        id->side = SB_SIDE_BASS;
    else if (small_number(rest, &id->number))
        id->side = SB_SIDE_STRING;
    else
        return SB_E_SYNTAX;
    return id->side == SB_SIDE_STRING && (id->number < 1 || id->number > SB_STRINGS_MAX)
               ? SB_E_RANGE
               : SB_OK;
}

static sb_status read_pickup(const char *rest, sb_spec_id *id) {
    const char *dash = strrchr(rest, '-');
    sb_status status = read_side(dash ? dash + 1 : rest, id);
    if (status != SB_OK || id->side == SB_SIDE_STRING)
        return SB_E_SYNTAX;
    if (dash) {
        memcpy(id->part, rest, (size_t)(dash - rest));
        return good_part(id->part, false) ? SB_OK : SB_E_SYNTAX;
    }
    return SB_OK;
}

static sb_status read_part(const char *rest, bool joined, sb_spec_id *id) {
    if (!good_part(rest, joined))
        return SB_E_SYNTAX;
    (void)snprintf(id->part, sizeof id->part, "%s", rest);
    id->combined = strchr(rest, '+') != NULL;
    return SB_OK;
}

static sb_status read_crown(const char *rest, sb_spec_id *id) {
    if (!small_number(rest, &id->number))
        return SB_E_SYNTAX;
    return id->number <= SB_FRETS_MAX ? SB_OK : SB_E_RANGE;
}

/* `rest` is what follows the stem and a '-', NULL for nothing. */
static sb_status read_rest(const char *rest, sb_spec_id *id) {
    switch (id->kind) {
    case SB_SPEC_FIRST_FRET:
    case SB_SPEC_ACTION12:
    case SB_SPEC_ACTION17: return rest ? read_side(rest, id) : SB_E_SYNTAX;
    case SB_SPEC_PICKUP: return rest ? read_pickup(rest, id) : SB_E_SYNTAX;
    case SB_SPEC_RESISTANCE: return rest ? read_part(rest, true, id) : SB_E_SYNTAX;
    case SB_SPEC_CROWN: return rest ? read_crown(rest, id) : SB_OK;
    case SB_SPEC_BUZZ:
    case SB_SPEC_SCREWS:
    case SB_SPEC_NOTE: return rest ? read_part(rest, false, id) : SB_OK;
    default: return rest ? SB_E_SYNTAX : SB_OK;
    }
}

sb_status sb_spec_named(const char *name, sb_spec_id *id) {
    if (strlen(name) >= SB_SPEC_NAME_MAX)
        return SB_E_SYNTAX;
    for (int k = 0; k < SB_SPEC_KINDS; k++) {
        size_t n = strlen(facts[k].stem);
        if (strncmp(name, facts[k].stem, n) != 0 || (name[n] != '\0' && name[n] != '-'))
            continue;
        sb_spec_id read = {.kind = (sb_spec_kind)k};
        memcpy(read.name, name, strlen(name));
        sb_status status = read_rest(name[n] == '-' ? name + n + 1 : NULL, &read);
        if (status == SB_OK)
            *id = read;
        return status;
    }
    return SB_E_SYNTAX;
}

int sb_spec_order(const sb_spec_id *a, const sb_spec_id *b) {
    if (a->kind != b->kind)
        return a->kind < b->kind ? -1 : 1;
    if (a->combined != b->combined)
        return a->combined ? 1 : -1;
    int parts = strcmp(a->part, b->part);
    if (parts != 0)
        return parts;
    if (a->side != b->side)
        return a->side < b->side ? -1 : 1;
    return (a->number > b->number) - (a->number < b->number);
}

void sb_spec_title(const sb_spec_id *id, char *text, size_t size) {
    static const char *const sides[] = {"", ", treble", "", ", bass"};
    char number[24] = "";
    if (id->side == SB_SIDE_STRING)
        (void)snprintf(number, sizeof number, ", string %d", id->number);
    else if (id->kind == SB_SPEC_CROWN && id->name[strlen("crown")] == '-')
        (void)snprintf(number, sizeof number, ", fret %d", id->number);
    const bool fret = id->kind == SB_SPEC_BUZZ && id->part[0] != '\0' &&
                      id->part[strspn(id->part, "0123456789")] == '\0';
    const char *before_part = fret ? " at fret " : id->part[0] ? " " : "";
    (void)snprintf(text, size, "%s%s%s%s%s", facts[id->kind].title, before_part, id->part,
                   sides[id->side], number);
}
