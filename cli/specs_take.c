#include "cli/specs_take.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_book.h"
#include "cli/err.h"
#include "cli/json_memory.h"
#include "cli/specs_parts.h"
#include "cli/text.h"
#include "core/length.h"
#include "core/progress.h"

#define VALUE_MAX 64 /* bytes of a number as it is typed, NUL included */

/* --- names ------------------------------------------------------------------------------ */

static int no_such_name(const char *name) {
    const char *names[64];
    char hint[160];
    size_t n = 0;
    for (const char *p = sb_spec_pattern(0); p && n < 64; p = sb_spec_pattern(n))
        names[n++] = p;
    const char *near = sb_text_nearest(name, names, n);
    if (near)
        (void)snprintf(hint, sizeof hint, "did you mean %s? setback specs --help lists all", near);
    else
        (void)snprintf(hint, sizeof hint, "setback specs --help lists the names");
    return sb_fail(EX_USAGE, hint, name, "nothing is measured by that name");
}

static int part_missing(const char *name, sb_spec_kind kind) {
    if (kind == SB_SPEC_RESISTANCE)
        return sb_fail(EX_USAGE,
                       "add the selector's position: resistance-neck, or resistance-neck+bridge "
                       "for coils that are on together",
                       name, "say of which pickup");
    if (kind == SB_SPEC_PICKUP)
        return sb_fail(EX_USAGE, "pickup-treble, or pickup-neck-bass where there are several", name,
                       "say which pickup, and on which side");
    return sb_fail(EX_USAGE, "add -treble, -bass or the string's number, such as -3", name,
                   "say on which side");
}

static int read_name(const sb_specs *specs, const char *name, sb_spec_id *id) {
    const sb_instrument *it = &specs->description.instrument;
    sb_status status = sb_spec_named(name, id);
    sb_spec_kind kind = SB_SPEC_RELIEF;
    if (status == SB_E_SYNTAX && sb_spec_band_key(name, &kind))
        return part_missing(name, kind);
    if (status == SB_E_SYNTAX)
        return no_such_name(name);
    if (status != SB_OK || (id->side == SB_SIDE_STRING && (size_t)id->number > it->n_strings) ||
        (id->kind == SB_SPEC_CROWN && id->number > it->frets))
        return sb_fail(EX_USAGE, "see setback book show", name,
                       "the instrument has %zu strings and %d frets", it->n_strings, it->frets);
    return EX_OK;
}

/* --- words ------------------------------------------------------------------------------- */

static bool good_kind(const char *text) {
    size_t n = strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-");
    return text[n] == '\0' && n < SB_SPEC_KIND_WORD && strcmp(text, SB_ANY_KIND) != 0;
}

static int take_words(const char *text, sb_spec_taken *out) {
    json_t *string = json_string(text); /* refuses what is no UTF-8 */
    bool good = string != NULL;
    json_decref(string);
    if (!good || strlen(text) >= sizeof out->text)
        return sb_fail(EX_USAGE, "at most 400 bytes of UTF-8", out->id.name,
                       "these words cannot be kept");
    if (out->id.kind == SB_SPEC_INSTRUMENT && !good_kind(text))
        return sb_fail(EX_USAGE, "one word, such as electric; setback book add --help lists more",
                       text, "no such kind of instrument");
    memcpy(out->text, text, strlen(text) + 1);
    return EX_OK;
}

/* --- numbers ----------------------------------------------------------------------------- */

static bool in_inches(const char *text) {
    return !strchr(text, 'm') && !strchr(text, 'M');
}

static void show_plainly(double value, bool ohm, bool inches, char *text, size_t size) {
    if (ohm)
        (void)snprintf(text, size, value < 1000 ? "%.3g ohm" : "%.3g kohm",
                       value < 1000 ? value : value / 1000);
    else
        (void)snprintf(text, size, inches ? "%.3g in" : "%.3g mm",
                       inches ? value / SB_MM_PER_INCH : value);
}

/* "3.5 mm or 35 thou"; "" where nothing is likely. */
static void show_likely(sb_spec_kind kind, double value, bool inches, char *text, size_t size) {
    sb_likely likely[SB_LIKELY_MAX];
    bool ohm = sb_spec_facts_of(kind)->measure == SB_MEASURE_OHM;
    size_t n = sb_spec_likely(kind, value, inches, likely);
    text[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        char one[40];
        size_t used = strlen(text);
        sb_slip slip = likely[i].slip;
        bool as_inches = slip == SB_SLIP_INCH || (slip == SB_SLIP_POINT && inches);
        if (slip == SB_SLIP_THOU)
            (void)snprintf(one, sizeof one, "%.3g thou", likely[i].value / SB_MM_PER_INCH * 1000);
        else
            show_plainly(likely[i].value, ohm, as_inches, one, sizeof one);
        (void)snprintf(text + used, size - used, "%s%s", used ? " or " : "", one);
    }
}

typedef struct {
    const sb_spec_id *id;
    char text[VALUE_MAX]; /* what was typed last */
    double value;
    bool read;
} attempt;

static void range_of(const attempt *a, char *text, size_t size) {
    const sb_spec_facts *f = sb_spec_facts_of(a->id->kind);
    bool ohm = f->measure == SB_MEASURE_OHM, inches = in_inches(a->text);
    char low[40], high[40];
    show_plainly(f->low, ohm, inches, low, sizeof low);
    show_plainly(f->high, ohm, inches, high, sizeof high);
    (void)snprintf(text, size, "%s to %s", low, high);
}

static int refuse(const attempt *a) {
    char likely[160], hint[240], range[96];
    bool ohm = sb_spec_facts_of(a->id->kind)->measure == SB_MEASURE_OHM;
    if (!a->read)
        return sb_fail(EX_USAGE,
                       ohm ? "write it with its unit: 6.87kohm, 6870ohm, or open"
                           : "write it with its unit: 0.010in, 10thou, 4.5/64in or 1.6mm",
                       a->text, "%s: no %s with its unit", a->id->name,
                       ohm ? "resistance" : "length");
    show_likely(a->id->kind, a->value, in_inches(a->text), likely, sizeof likely);
    range_of(a, range, sizeof range);
    (void)snprintf(hint, sizeof hint, "%s%s --insist keeps it as it is",
                   likely[0] ? likely : "measure again;", likely[0] ? "?" : "");
    return sb_fail(EX_DATAERR, hint, a->text, "no likely %s, which is %s as a rule", a->id->name,
                   range);
}

/* Asks again; false where there is no answer. */
static bool ask(attempt *a) {
    char question[400], likely[160], range[96], answer[VALUE_MAX];
    bool ohm = sb_spec_facts_of(a->id->kind)->measure == SB_MEASURE_OHM;
    show_likely(a->id->kind, a->value, in_inches(a->text), likely, sizeof likely);
    range_of(a, range, sizeof range);
    if (!a->read)
        (void)snprintf(question, sizeof question, "%s: '%s' is no %s; with its unit? [none]",
                       a->id->name, a->text, ohm ? "resistance" : "length");
    else
        (void)snprintf(question, sizeof question, "%s is %s as a rule: %s%s%s? [none]", a->id->name,
                       range, likely, likely[0] ? ", or really " : "really ", a->text);
    if (!sb_book_ask(question, answer, sizeof answer) || !answer[0])
        return false;
    memcpy(a->text, answer, sizeof a->text);
    return true;
}

/* A value that is given twice is meant. */
static int take_number(const sb_spec_taking *taking, const char *text, sb_spec_taken *out) {
    attempt a = {.id = &out->id};
    bool before = false;
    if (strlen(text) >= sizeof a.text)
        return sb_fail(EX_USAGE, "write it as 0.010in, 4.5/64in, 1.6mm or 6.87kohm", text,
                       "too long for a number");
    memcpy(a.text, text, strlen(text) + 1);
    for (;;) {
        double value = 0;
        a.read = sb_spec_number_parse(a.text, out->id.kind, &value);
        bool meant = a.read && before && value == a.value;
        before = a.read;
        a.value = value;
        out->value = value;
        if (a.read && (meant || taking->insist || sb_spec_plausible(out->id.kind, value)))
            return EX_OK;
        if (!sb_book_may_ask() || !ask(&a))
            return refuse(&a);
    }
}

/* --- both -------------------------------------------------------------------------------- */

/* A change that was told at the bench has made its readings stale already: what is measured then
 * is what it was changed to. */
static bool is_change(const sb_spec_taking *taking, const sb_spec *kept, const sb_spec_taken *t) {
    if (sb_spec_facts_of(t->id.kind)->measure == SB_MEASURE_TEXT)
        return false;
    return taking->changed ||
           (kept && !kept->outdated && sb_spec_differs(t->id.kind, kept->base, t->value));
}

int sb_spec_take(const sb_spec_taking *taking, const char *operand, sb_spec_taken *out) {
    char name[SB_SPEC_NAME_MAX];
    size_t n = strcspn(operand, "=");
    *out = (sb_spec_taken){.value = 0};
    if (operand[n] != '=' || n == 0 || n >= sizeof name)
        return sb_fail(EX_USAGE, "such as relief=0.010in; quotes around a name of several words",
                       operand, "a measurement is NAME=VALUE");
    (void)snprintf(name, sizeof name, "%.*s", (int)n, operand);
    int code = read_name(taking->specs, name, &out->id);
    if (code != EX_OK)
        return code;
    const char *text = operand + n + 1;
    const sb_spec *kept = sb_specs_find(taking->specs, name);
    out->withdrawn = text[0] == '\0';
    if (out->withdrawn)
        return kept ? EX_OK
                    : sb_fail(EX_USAGE, "an empty value takes back what was kept", name,
                              "nothing is kept of it");
    if (sb_spec_facts_of(out->id.kind)->measure == SB_MEASURE_TEXT)
        return take_words(text, out);
    code = take_number(taking, text, out);
    out->changed = code == EX_OK && is_change(taking, kept, out);
    return code;
}

bool sb_spec_spoils(const sb_spec_id *id) {
    sb_change change;
    return sb_change_named(sb_spec_facts_of(id->kind)->what, &change);
}

char *sb_spec_data(const sb_spec_taken *t) {
    const sb_spec_facts *f = sb_spec_facts_of(t->id.kind);
    json_t *object = json_pack("{s:s, s:s}", "what", f->what, "name", t->id.name);
    const char *key = f->measure == SB_MEASURE_OHM ? "value_ohm" : "value_mm";
    int failed = 0;
    if (t->withdrawn)
        failed = json_object_set_new(object, "withdrawn", json_true());
    else if (f->measure == SB_MEASURE_TEXT)
        failed = json_object_set_new(object, "text", json_string(t->text));
    else if (isinf(t->value))
        failed = json_object_set_new(object, "text", json_string("open"));
    else
        failed = json_object_set_new(object, key, json_real(t->value));
    if (t->changed)
        failed += json_object_set_new(object, "changed", json_true());
    char *text = failed == 0 ? sb_json_text(object, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(object);
    return text;
}
