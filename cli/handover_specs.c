/* What rulers and meters said, as cli/specs.h folds and judges it, a row each. */
#include <stdlib.h>
#include <string.h>

#include "cli/handover.h"
#include "cli/specs.h"
#include "cli/text.h"

static void add_remark(char *text, size_t size, const char *more) {
    size_t used = strlen(text);
    if (more[0])
        (void)snprintf(text + used, size - used, "%s%s", used ? "; " : "", more);
}

/* A person's words go to the notes, what they are about before them. */
static void add_words(sb_handover *sheet, const sb_spec *spec, const char *words) {
    char title[SB_SPEC_TITLE_MAX];
    sb_spec_title(&spec->id, title, sizeof title);
    if (spec->id.kind == SB_SPEC_INSTRUMENT || !spec->first.known)
        return;
    if (spec->id.kind == SB_SPEC_NOTE && !spec->id.part[0])
        sb_say(&sheet->notes, "%s", words);
    else
        sb_say(&sheet->notes, "%s: %s", title, words);
}

static void add_spec(sb_handover *sheet, const sb_specs *specs, const sb_spec *spec) {
    char title[SB_SPEC_TITLE_MAX], before[SB_SPEC_TEXT_MAX], now[SB_SPEC_TEXT_MAX];
    char band[SB_SPEC_SHOWN_MAX * 3], remark[SB_SPEC_REMARK_MAX + 160] = "";
    sb_spec_show(&spec->id, &spec->latest, specs->unit, now, sizeof now);
    if (!now[0])
        return;
    if (sb_spec_facts_of(spec->id.kind)->measure == SB_MEASURE_TEXT) {
        add_words(sheet, spec, now);
        return;
    }
    sb_spec_title(&spec->id, title, sizeof title);
    sb_spec_show(&spec->id, &spec->first, specs->unit, before, sizeof before);
    sb_spec_show_band(spec, specs->unit, band, sizeof band);
    add_remark(remark, sizeof remark, sb_spec_words(spec, &spec->latest));
    if (!spec->first.known)
        add_remark(remark, sizeof remark, "of an earlier visit");
    if (spec->outdated)
        add_remark(remark, sizeof remark, "changed since");
    sb_handover_add_row(sheet,
                        &(sb_handover_shown){.what = title,
                                             .before = strcmp(before, now) != 0 ? before : "",
                                             .now = now,
                                             .usual = band,
                                             .remark = remark});
}

/* Set anew in this visit; a value that merely differs from an earlier visit's is no work. */
static void note_change(sb_handover *sheet, const sb_spec *spec) {
    sb_change change = SB_CHANGES;
    if (spec->first.known && sb_change_named(sb_spec_facts_of(spec->id.kind)->what, &change) &&
        sb_spec_differs(spec->id.kind, spec->first.value, spec->latest.value))
        sheet->changed[change] = true;
}

static void say_uneven(sb_handover *sheet, const char *words) {
    if (words[0])
        sb_say(&sheet->remains, "%c%s.", words[0] - (words[0] >= 'a' && words[0] <= 'z' ? 32 : 0),
               words + 1);
}

sb_book_status sb_handover_read_specs(const sb_bench *bench, sb_handover *sheet) {
    sb_specs *specs = malloc(sizeof *specs);
    if (!specs)
        return SB_BOOK_MEMORY;
    sb_book_status status = sb_specs_read(bench->book, bench->id, specs);
    for (size_t i = 0; status == SB_BOOK_OK && i < specs->n; i++) {
        add_spec(sheet, specs, &specs->spec[i]);
        note_change(sheet, &specs->spec[i]);
    }
    if (status == SB_BOOK_OK) {
        say_uneven(sheet, specs->uneven12);
        say_uneven(sheet, specs->uneven17);
        if (specs->worn)
            sb_say(&sheet->cautions, "%s", SB_WORN_CAUTION);
    }
    free(specs);
    return status;
}
