#include "cli/specs_print.h"

#include <string.h>

#include "cli/specs_parts.h"
#include "cli/specs_take.h"
#include "cli/text.h"

#define NAME_WIDTH  24
#define VALUE_WIDTH 10
#define BAND_WIDTH  19
#define COIL_WIDTH  11

static sb_measure measure_of(const sb_spec *s) {
    return sb_spec_facts_of(s->id.kind)->measure;
}

static bool is_length(const sb_spec *s) {
    return measure_of(s) == SB_MEASURE_FINE || measure_of(s) == SB_MEASURE_RULER;
}

#define CELLS 4

/* A row's cells before its words, without spaces at the end of a line. */
typedef struct {
    char text[CELLS][SB_SPEC_TITLE_MAX];
    size_t width[CELLS];
} row;

static void print_row(const sb_page *page, const row *r, const sb_spec *s) {
    const char *words = s->outdated ? "changed since" : sb_spec_words(s, &s->latest);
    sb_spec_verdict v = s->latest.verdict;
    bool fine = v == SB_SPEC_IN_BAND || v == SB_SPEC_GOOD || v == SB_SPEC_NO_BAND;
    size_t n = CELLS;
    while (!words[0] && n > 0 && !r->text[n - 1][0])
        n--;
    for (size_t i = 0; i < n; i++)
        sb_text_pad(page->out, r->text[i], i + 1 < n || words[0] ? r->width[i] : 0);
    if (s->outdated || s->fault || !fine) /* something is to be done */
        sb_print_bold(page, words);
    else
        (void)fputs(words, page->out);
    (void)fputs(s->own && s->banded && !s->outdated ? " *\n" : "\n", page->out);
}

/* --- lengths ----------------------------------------------------------------------------- */

static void print_length(const sb_page *page, const sb_spec *s, sb_spec_unit unit) {
    row r = {.width = {NAME_WIDTH, VALUE_WIDTH, VALUE_WIDTH, BAND_WIDTH}};
    sb_spec_title(&s->id, r.text[0], sizeof r.text[0]);
    sb_spec_show(&s->id, &s->latest, unit, r.text[1], sizeof r.text[1]);
    if (s->first.event != s->latest.event)
        sb_spec_show(&s->id, &s->first, unit, r.text[2], sizeof r.text[2]);
    sb_spec_show_band(s, unit, r.text[3], sizeof r.text[3]);
    print_row(page, &r, s);
}

static void print_lengths(const sb_page *page, const sb_specs_shown *q) {
    bool any = false;
    for (size_t i = 0; i < q->specs->n; i++) {
        if (!is_length(&q->specs->spec[i]))
            continue;
        if (!any) {
            sb_text_pad(page->out, "", NAME_WIDTH);
            sb_text_pad(page->out, "now", VALUE_WIDTH);
            sb_text_pad(page->out, "first", VALUE_WIDTH);
            (void)fputs("band\n", page->out);
        }
        any = true;
        print_length(page, &q->specs->spec[i], q->specs->unit);
    }
}

/* --- coils ------------------------------------------------------------------------------- */

static void show_ohms(const sb_spec *s, bool known, double ohm, char *text, size_t size) {
    sb_spec_value value = {.known = known, .value = ohm};
    sb_spec_show(&s->id, &value, SB_UNIT_MM, text, size);
}

static void print_coil(const sb_page *page, const sb_spec *s) {
    row r = {.width = {NAME_WIDTH, COIL_WIDTH, COIL_WIDTH, COIL_WIDTH}};
    (void)snprintf(r.text[0], sizeof r.text[0], "%s", s->id.part);
    show_ohms(s, true, s->latest.value, r.text[1], sizeof r.text[1]);
    show_ohms(s, s->coils_known, s->coils.parallel_ohm, r.text[2], sizeof r.text[2]);
    show_ohms(s, s->coils_known, s->coils.series_ohm, r.text[3], sizeof r.text[3]);
    print_row(page, &r, s);
}

static void print_coils(const sb_page *page, const sb_specs_shown *q) {
    bool any = false;
    for (size_t i = 0; i < q->specs->n; i++) {
        if (measure_of(&q->specs->spec[i]) != SB_MEASURE_OHM)
            continue;
        if (!any) {
            (void)fputc('\n', page->out);
            sb_text_pad(page->out, "coils", NAME_WIDTH);
            sb_text_pad(page->out, "meter", COIL_WIDTH);
            sb_text_pad(page->out, "parallel", COIL_WIDTH);
            (void)fputs("series\n", page->out);
        }
        any = true;
        print_coil(page, &q->specs->spec[i]);
    }
}

/* --- words ------------------------------------------------------------------------------- */

static void print_texts(const sb_page *page, const sb_specs_shown *q) {
    bool any = false;
    for (size_t i = 0; i < q->specs->n; i++) {
        const sb_spec *s = &q->specs->spec[i];
        char title[SB_SPEC_TITLE_MAX], text[SB_SPEC_TEXT_MAX];
        if (measure_of(s) != SB_MEASURE_TEXT || s->id.kind == SB_SPEC_INSTRUMENT)
            continue;
        (void)fputs(any ? "" : "\n", page->out);
        any = true;
        sb_spec_title(&s->id, title, sizeof title);
        sb_spec_show(&s->id, &s->latest, q->specs->unit, text, sizeof text);
        sb_text_pad(page->out, title, NAME_WIDTH);
        sb_text_wrap(page->out, text, NAME_WIDTH, NAME_WIDTH, SB_PRINT_WIDTH);
    }
}

static void say(const sb_page *page, const char *text) {
    (void)fputc('\n', page->out);
    sb_text_wrap(page->out, text, 0, 0, SB_PRINT_WIDTH);
}

static void say_changed(const sb_page *page, const sb_specs_shown *q) {
    char text[1200] = "", title[SB_SPEC_TITLE_MAX];
    for (size_t i = 0; i < q->n_changed; i++) {
        size_t used = strlen(text);
        if (!sb_spec_spoils(&q->changed[i]))
            continue;
        sb_spec_title(&q->changed[i], title, sizeof title);
        (void)snprintf(text + used, sizeof text - used, "%s%s", used ? "; " : "Changed: ", title);
    }
    size_t used = strlen(text);
    if (used == 0)
        return;
    (void)snprintf(text + used, sizeof text - used,
                   ". Readings from before are stale: measure the strings again.");
    say(page, text);
}

/* Where the bands are from, or why there are none. */
static void say_bands(const sb_page *page, const sb_specs *specs) {
    bool shipped = false, own = false, lengths = false;
    char text[300];
    for (size_t i = 0; i < specs->n; i++) {
        const sb_spec *s = &specs->spec[i];
        shipped = shipped || (s->banded && !s->own);
        own = own || (s->banded && s->own);
        lengths = lengths || is_length(s);
    }
    if (shipped)
        say(page, own ? SB_BANDS_SOURCE " Those marked * are its own." : SB_BANDS_SOURCE);
    else if (own)
        say(page, "* The shop's own band.");
    else if (lengths && !specs->kind[0])
        say(page, "No kind of instrument is noted, so there are no bands: kind=electric judges it "
                  "as one.");
    else if (lengths) {
        (void)snprintf(text, sizeof text,
                       "No bands are shipped for the kind %s: setback specs --kind %s --band "
                       "relief=LOW..HIGH sets the shop's own.",
                       specs->kind, specs->kind);
        say(page, text);
    }
}

static void say_rest(const sb_page *page, const sb_specs_shown *q) {
    const sb_specs *specs = q->specs;
    bool dead = false;
    for (size_t i = 0; i < specs->n; i++)
        dead = dead || specs->spec[i].fault;
    if (specs->uneven12[0])
        say(page, specs->uneven12);
    if (specs->uneven17[0])
        say(page, specs->uneven17);
    if (specs->worn)
        say(page, SB_WORN_CAUTION);
    if (dead)
        say(page, SB_UNPLUG_CAUTION);
    say_changed(page, q);
    say_bands(page, specs);
}

void sb_print_specs(const sb_page *page, const sb_specs_shown *q) {
    char name[2 * SB_NAME_MAX], head[3 * SB_NAME_MAX];
    sb_text_clean(q->name, name, sizeof name);
    (void)snprintf(head, sizeof head, "%s%s%s", name, q->specs->kind[0] ? ", judged as " : "",
                   q->specs->kind);
    sb_print_bold(page, head);
    if (q->specs->n == 0) {
        (void)fputs("\nNothing was measured yet: setback specs --help lists what can be.\n",
                    page->out);
        return;
    }
    (void)fputc('\n', page->out);
    print_lengths(page, q);
    print_coils(page, q);
    print_texts(page, q);
    say_rest(page, q);
}
