/* Values, bands and verdicts in words. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/specs.h"
#include "cli/text.h"
#include "core/length.h"

static const char *const units[SB_UNITS] = {"mm", "64ths", "thou"};

const char *sb_spec_unit_text(sb_spec_unit unit) {
    return units[unit];
}

static void show_length(const sb_spec_id *id, double mm, sb_spec_unit unit, char *text,
                        size_t size) {
    sb_measure measure = sb_spec_facts_of(id->kind)->measure;
    if (unit == SB_UNIT_MM)
        sb_length_format_mm(mm, id->kind == SB_SPEC_RADIUS ? 0 : 2, text, size);
    else if (id->kind == SB_SPEC_RADIUS)
        (void)snprintf(text, size, "%.4g in", mm / SB_MM_PER_INCH);
    else if (unit == SB_UNIT_64THS && measure == SB_MEASURE_RULER)
        sb_length_format_64ths(mm, text, size);
    else
        (void)snprintf(text, size, "%.*f in", 3, mm / SB_MM_PER_INCH);
}

static void show_ohms(double ohm, char *text, size_t size) {
    if (isinf(ohm))
        (void)snprintf(text, size, "open");
    else if (ohm < 1000)
        (void)snprintf(text, size, "%.1f Ω", ohm);
    else
        (void)snprintf(text, size, "%.2f kΩ", ohm / 1000);
}

static void show_number(const sb_spec_id *id, double value, sb_spec_unit unit, char *text,
                        size_t size) {
    if (sb_spec_facts_of(id->kind)->measure == SB_MEASURE_OHM)
        show_ohms(value, text, size);
    else
        show_length(id, value, unit, text, size);
}

void sb_spec_show(const sb_spec_id *id, const sb_spec_value *value, sb_spec_unit unit, char *text,
                  size_t size) {
    if (!value->known)
        text[0] = '\0';
    else if (sb_spec_facts_of(id->kind)->measure == SB_MEASURE_TEXT)
        sb_text_clean(value->text, text, size);
    else
        show_number(id, value->value, unit, text, size);
}

/* Of "0.010 in" before "0.012 in" without its unit, where both have the same. */
static int number_length(const char *low, const char *high) {
    const char *a = strrchr(low, ' '), *b = strrchr(high, ' ');
    return a && b && strcmp(a, b) == 0 ? (int)(a - low) : (int)strlen(low);
}

void sb_spec_show_band(const sb_spec *spec, sb_spec_unit unit, char *text, size_t size) {
    char low[SB_SPEC_SHOWN_MAX], high[SB_SPEC_SHOWN_MAX];
    const sb_band *b = &spec->band;
    text[0] = '\0';
    if (!spec->banded)
        return;
    show_number(&spec->id, b->low, unit, low, sizeof low);
    show_number(&spec->id, b->high, unit, high, sizeof high);
    if (isinf(b->low))
        (void)snprintf(text, size, "under %s", high);
    else if (isinf(b->high))
        (void)snprintf(text, size, "over %s", low);
    else if (b->low == b->high)
        (void)snprintf(text, size, "about %s", low);
    else
        (void)snprintf(text, size, "%.*s to %s", number_length(low, high), low, high);
}

const char *sb_spec_words(const sb_spec *spec, const sb_spec_value *value) {
    if (value == &spec->latest && spec->remark[0])
        return spec->remark;
    return sb_spec_verdict_text(spec->id.kind, value->verdict);
}
