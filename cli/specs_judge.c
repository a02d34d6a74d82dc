/* What was measured against bands, coils against each other, string against string. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/specs_parts.h"
#include "cli/text.h"

/* --- bands ------------------------------------------------------------------------------ */

static void judge_value(const sb_spec *spec, sb_spec_value *value) {
    value->verdict = value->known && spec->banded
                         ? sb_spec_judge(spec->id.kind, &spec->band, value->value)
                         : SB_SPEC_NO_BAND;
}

/* --- coils ------------------------------------------------------------------------------ */

static void single_remark(sb_spec *spec) {
    spec->fault = true;
    if (isinf(spec->latest.value))
        (void)snprintf(spec->remark, sizeof spec->remark, "dead position %s: an open circuit",
                       spec->id.part);
    else if (spec->latest.value < SB_SHORT_OHM)
        (void)snprintf(spec->remark, sizeof spec->remark, "dead position %s: a short",
                       spec->id.part);
    else
        spec->fault = false;
}

typedef struct {
    char name[SB_COILS_MAX][SB_SPEC_NAME_MAX];
    double ohm[SB_COILS_MAX];
    size_t n;
    const char *missing; /* the first that was not measured alone, or NULL */
} coil_set;

/* Takes "neck+bridge" apart; false for more coils than can be told. */
static bool split(const sb_specs *specs, const char *part, coil_set *set) {
    while (*part) {
        char name[SB_SPEC_NAME_MAX];
        size_t length = strcspn(part, "+");
        if (set->n >= SB_COILS_MAX)
            return false;
        (void)snprintf(set->name[set->n], sizeof set->name[0], "%.*s", (int)length, part);
        (void)snprintf(name, sizeof name, "resistance-%.30s", set->name[set->n]);
        const sb_spec *single = sb_specs_find(specs, name);
        if (!single && !set->missing)
            set->missing = set->name[set->n];
        set->ohm[set->n++] = single ? single->latest.value : 0;
        part += length + (part[length] == '+');
    }
    return true;
}

/* "neck and bridge" of the coils in a set of bits. */
static void name_coils(const coil_set *set, unsigned on, const char *joint, char *text,
                       size_t size) {
    text[0] = '\0';
    for (size_t i = 0; i < set->n; i++) {
        size_t used = strlen(text);
        if (on >> i & 1U)
            (void)snprintf(text + used, size - used, "%s%s", used ? joint : "", set->name[i]);
    }
}

static void name_way(const coil_set *set, unsigned on, bool series, char *text, size_t size) {
    char names[120];
    bool alone = (on & (on - 1)) == 0;
    name_coils(set, on, " and ", names, sizeof names);
    (void)snprintf(text, size, "%s%s", names,
                   alone    ? " alone"
                   : series ? " in series"
                            : " in parallel");
}

static void way_remark(const coil_set *set, sb_spec *spec) {
    const sb_coils *c = &spec->coils;
    unsigned all = (1U << set->n) - 1;
    char on[140], other[140], dead[120];
    size_t size = sizeof spec->remark;
    name_way(set, c->on, c->on_series, on, sizeof on);
    name_way(set, c->other, c->other_series, other, sizeof other);
    name_coils(set, all & ~c->on, " and ", dead, sizeof dead);
    const char *every = set->n == 2 ? "both" : "all";
    switch (c->verdict) {
    case SB_COILS_PARALLEL: (void)snprintf(spec->remark, size, "parallel, %s on", every); break;
    case SB_COILS_SERIES: (void)snprintf(spec->remark, size, "series, %s on", every); break;
    case SB_COILS_OPEN:
        (void)snprintf(spec->remark, size, "dead position %s: an open circuit", spec->id.part);
        break;
    case SB_COILS_SHORT:
        (void)snprintf(spec->remark, size, "dead position %s: a short", spec->id.part);
        break;
    case SB_COILS_UNCLEAR:
        (void)snprintf(spec->remark, size, "%.80s, or %.80s: too close to tell", on, other);
        break;
    case SB_COILS_NEITHER:
        (void)snprintf(spec->remark, size, "neither parallel nor series: measure again");
        break;
    default: (void)snprintf(spec->remark, size, "%.80s: %.80s dead", on, dead); break;
    }
    spec->fault = c->verdict != SB_COILS_PARALLEL && c->verdict != SB_COILS_SERIES;
}

static void judge_coils(const sb_specs *specs, sb_spec *spec) {
    coil_set set = {.n = 0};
    if (!spec->id.combined) {
        single_remark(spec);
        return;
    }
    if (!split(specs, spec->id.part, &set))
        (void)snprintf(spec->remark, sizeof spec->remark, "more coils than can be told apart");
    else if (set.missing)
        (void)snprintf(spec->remark, sizeof spec->remark, "measure %s alone, too", set.missing);
    else if (sb_coils_judge(set.ohm, set.n, spec->latest.value, &spec->coils) == SB_OK) {
        spec->coils_known = true;
        way_remark(&set, spec);
    } else
        (void)snprintf(spec->remark, sizeof spec->remark, "one of them alone reads a short");
}

/* --- string by string -------------------------------------------------------------------- */

/* The heights at the strings that were measured, NAN elsewhere; of a string that was measured
 * as the treble and by its number the later one. */
static void heights(const sb_specs *specs, sb_spec_kind kind, double height_mm[SB_STRINGS_MAX]) {
    int64_t event[SB_STRINGS_MAX] = {0};
    size_t n = specs->description.instrument.n_strings;
    for (size_t i = 0; i < SB_STRINGS_MAX; i++)
        height_mm[i] = (double)NAN;
    for (size_t i = 0; i < specs->n; i++) {
        const sb_spec *s = &specs->spec[i];
        size_t string = s->id.side == SB_SIDE_TREBLE ? 1
                        : s->id.side == SB_SIDE_BASS ? n
                                                     : (size_t)s->id.number;
        if (s->id.kind != kind || string < 1 || string > n || s->latest.event < event[string - 1])
            continue;
        event[string - 1] = s->latest.event;
        height_mm[string - 1] = s->latest.value;
    }
}

bool sb_specs_at_string(const sb_specs *specs, sb_spec_kind kind, size_t string, double *mm) {
    double height_mm[SB_STRINGS_MAX];
    size_t n = specs->description.instrument.n_strings, below = 0, above = 0;
    if (string < 1 || string > n)
        return false;
    heights(specs, kind, height_mm);
    for (size_t i = 1; i <= n; i++) {
        if (isnan(height_mm[i - 1]))
            continue;
        if (i <= string)
            below = i;
        if (i >= string && above == 0)
            above = i;
    }
    if (below == 0 && above == 0)
        return false;
    below = below > 0 ? below : above;
    above = above > 0 ? above : below;
    double part = above > below ? (double)(string - below) / (double)(above - below) : 0;
    *mm = (1 - part) * height_mm[below - 1] + part * height_mm[above - 1];
    return true;
}

static void say_evenness(const sb_specs *specs, sb_spec_kind kind, const sb_evenness *e,
                         char text[SB_SPEC_REMARK_MAX]) {
    char by[SB_SPEC_SHOWN_MAX];
    const char *title = sb_spec_facts_of(kind)->title;
    bool string = e->string > 0 && fabs(e->departure_mm) > SB_DEPART_MM;
    sb_spec_id id = {.kind = kind};
    sb_spec_value value = {.known = true, .value = fabs(string ? e->departure_mm : e->spread_mm)};
    sb_spec_show(&id, &value, specs->unit, by, sizeof by);
    text[0] = '\0';
    if (e->even)
        return;
    if (string)
        (void)snprintf(text, SB_SPEC_REMARK_MAX,
                       "%s uneven: string %zu lies %s %s than its neighbours", title, e->string, by,
                       e->departure_mm > 0 ? "higher" : "lower");
    else
        (void)snprintf(text, SB_SPEC_REMARK_MAX,
                       "%s uneven: the last string lies %s %s than the first", title, by,
                       e->spread_mm > 0 ? "higher" : "lower");
}

void sb_specs_say_evenness(sb_specs *specs) {
    say_evenness(specs, SB_SPEC_ACTION12, &specs->even12, specs->uneven12);
    say_evenness(specs, SB_SPEC_ACTION17, &specs->even17, specs->uneven17);
}

static sb_evenness judge_evenness(const sb_specs *specs, sb_spec_kind kind) {
    double height_mm[SB_STRINGS_MAX];
    heights(specs, kind, height_mm);
    return sb_action_evenness(specs->kind, height_mm, specs->description.instrument.n_strings);
}

sb_book_status sb_specs_judge(sb_book *book, sb_specs *specs) {
    const sb_spec *kind = sb_specs_find(specs, "kind");
    sb_book_status status = sb_specs_unit(book, &specs->unit);
    sb_text_clean(kind ? kind->latest.text : specs->description.kind, specs->kind,
                  sizeof specs->kind);
    for (size_t i = 0; i < specs->n && status == SB_BOOK_OK; i++) {
        sb_spec *s = &specs->spec[i];
        if (sb_spec_facts_of(s->id.kind)->measure != SB_MEASURE_TEXT)
            status = sb_specs_find_band(book, specs, s);
        judge_value(s, &s->latest);
        judge_value(s, &s->first);
        if (s->id.kind == SB_SPEC_RESISTANCE)
            judge_coils(specs, s);
        specs->worn = specs->worn || s->latest.verdict == SB_SPEC_AT_LIMIT ||
                      s->latest.verdict == SB_SPEC_WORN;
    }
    specs->even12 = judge_evenness(specs, SB_SPEC_ACTION12);
    specs->even17 = judge_evenness(specs, SB_SPEC_ACTION17);
    sb_specs_say_evenness(specs);
    return status;
}
