/* Bands and what a value is against them. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/length.h"
#include "core/spec.h"

#define IN(inches)    ((inches)*SB_MM_PER_INCH)
#define IN_64THS(n)   ((n)*SB_MM_PER_64TH)
#define OPEN_BELOW    (-(double)INFINITY)
#define OPEN_ABOVE    ((double)INFINITY)
#define READ_MM       0.05 /* of a ruler */
#define OHMS_OF_SHORT 2.0  /* what a meter reads over its own leads */

typedef struct {
    const char *kind, *key;
    sb_band band;
} shipped_band;

/* Where a long-scale electric starts. Common practice, no source: all of them. */
static const shipped_band shipped[] = {
    {"electric", "relief", {IN(0.010), IN(0.012)}},
    {"electric", "first-fret-treble", {IN(0.018), IN(0.022)}}, /* lower: the slot is suspect */
    {"electric", "first-fret-bass", {OPEN_BELOW, IN(0.022)}},
    {"electric", "action17", {IN_64THS(4), IN_64THS(5)}},
    {"electric", "crown", {IN(0.025), IN(0.030)}}, /* new: 0.050 in */
    {"electric", "pickup-treble", {IN(3.0 / 32), IN(3.0 / 32)}},
    {"electric", "pickup-bass", {IN(1.0 / 8), IN(1.0 / 8)}},
};

#define SHIPPED (sizeof shipped / sizeof *shipped)

bool sb_band_shipped_at(size_t i, const char **kind, const char **key, sb_band *band) {
    if (i >= SHIPPED)
        return false;
    *kind = shipped[i].kind;
    *key = shipped[i].key;
    *band = shipped[i].band;
    return true;
}

bool sb_band_shipped(const char *kind, const char *key, sb_band *band) {
    for (size_t i = 0; i < SHIPPED; i++)
        if (strcmp(shipped[i].kind, kind) == 0 && strcmp(shipped[i].key, key) == 0) {
            *band = shipped[i].band;
            return true;
        }
    return false;
}

size_t sb_spec_band_keys(const sb_spec_id *id, size_t n_strings,
                         char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX]) {
    const char *stem = sb_spec_facts_of(id->kind)->stem;
    bool treble = id->side == SB_SIDE_TREBLE ||
                  (id->side == SB_SIDE_STRING && 2 * (size_t)id->number <= n_strings);
    size_t n = 1;
    (void)snprintf(keys[0], sizeof keys[0], "%s", id->name);
    if (id->side != SB_SIDE_NONE) {
        (void)snprintf(keys[n], sizeof keys[n], "%s-%s", stem, treble ? "treble" : "bass");
        n += strcmp(keys[n], keys[0]) != 0;
    }
    if (strcmp(stem, keys[0]) != 0)
        (void)snprintf(keys[n++], sizeof keys[0], "%s", stem);
    return n;
}

bool sb_spec_band_key(const char *key, sb_spec_kind *kind) {
    sb_spec_id id = {.name = ""};
    bool found = sb_spec_named(key, &id) == SB_OK;
    *kind = id.kind;
    for (int k = 0; k < SB_SPEC_KINDS && !found; k++) {
        found = strcmp(sb_spec_facts_of((sb_spec_kind)k)->stem, key) == 0;
        *kind = (sb_spec_kind)k;
    }
    return found && sb_spec_facts_of(*kind)->measure != SB_MEASURE_TEXT;
}

sb_spec_verdict sb_spec_judge(sb_spec_kind kind, const sb_band *band, double value) {
    double slack = sb_spec_facts_of(kind)->slack;
    bool low = value<band->low - slack, high = value> band->high + slack;
    if (kind == SB_SPEC_CROWN)
        return low ? SB_SPEC_WORN : high ? SB_SPEC_GOOD : SB_SPEC_AT_LIMIT;
    return low ? SB_SPEC_LOW : high ? SB_SPEC_HIGH : SB_SPEC_IN_BAND;
}

const char *sb_spec_verdict_text(sb_spec_kind kind, sb_spec_verdict verdict) {
    switch (verdict) {
    case SB_SPEC_IN_BAND: return kind == SB_SPEC_PICKUP ? "as a start" : "in band";
    case SB_SPEC_LOW:
        return kind == SB_SPEC_FIRST_FRET ? "slot suspect"
               : kind == SB_SPEC_PICKUP   ? "close"
                                          : "low";
    case SB_SPEC_HIGH: return kind == SB_SPEC_PICKUP ? "far" : "high";
    case SB_SPEC_GOOD: return "good";
    case SB_SPEC_AT_LIMIT: return "dressing limit";
    case SB_SPEC_WORN: return "worn out";
    default: return "";
    }
}

static bool in_range(const sb_spec_facts *f, double value) {
    return value >= f->low && value <= f->high;
}

bool sb_spec_plausible(sb_spec_kind kind, double value) {
    const sb_spec_facts *f = sb_spec_facts_of(kind);
    bool broken = f->measure == SB_MEASURE_OHM && (isinf(value) || value < OHMS_OF_SHORT);
    return f->measure == SB_MEASURE_TEXT || (broken && value >= 0) || in_range(f, value);
}

bool sb_spec_differs(sb_spec_kind kind, double was, double is) {
    const sb_spec_facts *f = sb_spec_facts_of(kind);
    double error = f->measure == SB_MEASURE_OHM ? 0.05 * fabs(was) : f->error;
    bool broken = isinf(was) || isinf(is);
    return was != is && (broken || fabs(is - was) > error * (1 + 1e-9));
}

size_t sb_spec_likely(sb_spec_kind kind, double value, bool inches,
                      sb_likely likely[SB_LIKELY_MAX]) {
    static const sb_likely of_mm[] = {{0.1, SB_SLIP_POINT},
                                      {10, SB_SLIP_POINT},
                                      {SB_MM_PER_INCH, SB_SLIP_INCH},
                                      {SB_MM_PER_INCH / 1000, SB_SLIP_THOU}};
    static const sb_likely of_inches[] = {{0.1, SB_SLIP_POINT},
                                          {10, SB_SLIP_POINT},
                                          {1 / SB_MM_PER_INCH, SB_SLIP_MM},
                                          {0.001, SB_SLIP_THOU}};
    static const sb_likely of_ohms[] = {
        {1e3, SB_SLIP_KOHM}, {0.1, SB_SLIP_POINT}, {10, SB_SLIP_POINT}, {1e-3, SB_SLIP_POINT}};
    bool ohm = sb_spec_facts_of(kind)->measure == SB_MEASURE_OHM;
    const sb_likely *slips = ohm ? of_ohms : inches ? of_inches : of_mm;
    size_t n = 0;
    for (size_t i = 0; i < SB_LIKELY_MAX; i++)
        if (in_range(sb_spec_facts_of(kind), value * slips[i].value))
            likely[n++] = (sb_likely){value * slips[i].value, slips[i].slip};
    return n;
}

/* --- evenness --------------------------------------------------------------------------- */

/* The nearest measured string beyond i in one direction; n where there is none. */
static size_t neighbour(const double height_mm[], size_t n, size_t i, bool up) {
    do
        i = up ? i + 1 : i - 1; /* below 0 wraps to a number beyond n */
    while (i < n && isnan(height_mm[i]));
    return i < n ? i : n;
}

/* Finds the string that departs most from the line between its neighbours. */
static void find_departure(const double height_mm[], size_t first, size_t last, sb_evenness *e) {
    for (size_t i = first + 1; i < last; i++) {
        if (isnan(height_mm[i]))
            continue;
        size_t a = neighbour(height_mm, last + 1, i, false);
        size_t b = neighbour(height_mm, last + 1, i, true);
        double part = (double)(i - a) / (double)(b - a);
        double departure = height_mm[i] - (1 - part) * height_mm[a] - part * height_mm[b];
        if (e->string == 0 || fabs(departure) > fabs(e->departure_mm)) {
            e->string = i + 1;
            e->departure_mm = departure;
        }
    }
}

sb_evenness sb_action_evenness(const char *kind, const double height_mm[], size_t n) {
    sb_evenness e = {.even = true};
    size_t first = neighbour(height_mm, n, (size_t)-1, true);
    size_t last = neighbour(height_mm, n, n, false);
    bool rise = strcmp(kind, "electric") == 0;
    if (first >= n || last == first)
        return e;
    find_departure(height_mm, first, last, &e);
    e.spread_mm = height_mm[last] - height_mm[first];
    e.judged = rise || e.string > 0;
    e.even = (!rise ||
              (e.spread_mm <= SB_EVEN_MM + READ_MM && e.spread_mm >= -SB_DEPART_MM - READ_MM)) &&
             fabs(e.departure_mm) <= SB_DEPART_MM + READ_MM;
    return e;
}
