/* Bands as they are written, and where they come from. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/quantity.h"
#include "cli/specs_parts.h"
#include "core/length.h"

bool sb_spec_number_parse(const char *text, sb_spec_kind kind, double *value) {
    if (sb_spec_facts_of(kind)->measure != SB_MEASURE_OHM)
        return sb_length_parse(text, 0, value) == SB_OK;
    if (strcmp(text, "open") == 0) {
        *value = (double)INFINITY;
        return true;
    }
    return sb_quantity_parse(text, SB_OHMS, value) && *value >= 0;
}

bool sb_band_parse(const char *text, sb_spec_kind kind, sb_band *band) {
    char low[SB_SETTING_MAX];
    const char *dots = strstr(text, "..");
    sb_band read = {-(double)INFINITY, (double)INFINITY};
    if (strcmp(text, "none") == 0) {
        *band = (sb_band){(double)NAN, (double)NAN};
        return true;
    }
    if (strlen(text) >= sizeof low)
        return false;
    if (!dots) {
        if (!sb_spec_number_parse(text, kind, &read.low))
            return false;
        read.high = read.low;
    } else {
        (void)snprintf(low, sizeof low, "%.*s", (int)(dots - text), text);
        if ((low[0] && !sb_spec_number_parse(low, kind, &read.low)) ||
            (dots[2] && !sb_spec_number_parse(dots + 2, kind, &read.high)))
            return false;
    }
    if (!(read.low <= read.high) || (isinf(read.low) && isinf(read.high)))
        return false;
    *band = read;
    return true;
}

/* "0.254mm", "6870ohm", "" where it is open. To the nanometre, and without an exponent, which a
 * length has none of. */
static void format_end(double value, sb_spec_kind kind, char *text, size_t size) {
    bool ohm = sb_spec_facts_of(kind)->measure == SB_MEASURE_OHM;
    text[0] = '\0';
    if (isinf(value))
        return;
    (void)snprintf(text, size, ohm ? "%.10g" : "%.6f", value);
    size_t n = strlen(text);
    while (!ohm && text[n - 1] == '0' && text[n - 2] != '.')
        text[--n] = '\0';
    (void)snprintf(text + n, size - n, ohm ? "ohm" : "mm");
}

void sb_band_format(const sb_band *band, sb_spec_kind kind, char *text, size_t size) {
    char low[40], high[40];
    format_end(band->low, kind, low, sizeof low);
    format_end(band->high, kind, high, sizeof high);
    if (isnan(band->low))
        (void)snprintf(text, size, "none");
    else if (band->low == band->high)
        (void)snprintf(text, size, "%s", low);
    else
        (void)snprintf(text, size, "%s..%s", low, high);
}

bool sb_band_setting(const char *kind, const char *key, char name[SB_SETTING_MAX]) {
    int n = snprintf(name, SB_SETTING_MAX, "band %s %s", kind, key);
    return n > 0 && n < SB_SETTING_MAX;
}

/* The shop's own band; what is kept and cannot be read is passed over. */
static sb_book_status own_band(sb_book *book, const char *kind, const char *key, sb_spec *spec) {
    char name[SB_SETTING_MAX], text[SB_SETTING_MAX] = "";
    if (!sb_band_setting(kind, key, name))
        return SB_BOOK_OK;
    sb_book_status status = sb_book_setting(book, name, text);
    if (status == SB_BOOK_OK && text[0])
        spec->own = sb_band_parse(text, spec->id.kind, &spec->band);
    return status;
}

sb_book_status sb_specs_find_band(sb_book *book, const sb_specs *specs, sb_spec *spec) {
    char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX];
    const char *const kinds[] = {specs->kind, SB_ANY_KIND};
    sb_book_status status = SB_BOOK_OK;
    size_t n = sb_spec_band_keys(&spec->id, specs->description.instrument.n_strings, keys);
    for (size_t k = 0; k < 2; k++)
        for (size_t i = 0; i < n && !spec->own && status == SB_BOOK_OK && kinds[k][0]; i++)
            status = own_band(book, kinds[k], keys[i], spec);
    spec->banded = spec->own && !isnan(spec->band.low);
    for (size_t i = 0; i < n && !spec->own && !spec->banded; i++)
        spec->banded = sb_band_shipped(specs->kind, keys[i], &spec->band);
    return status;
}

sb_book_status sb_specs_unit(sb_book *book, sb_spec_unit *unit) {
    char text[SB_SETTING_MAX] = "";
    sb_book_status status = sb_book_setting(book, SB_SETTING_UNIT, text);
    *unit = SB_UNIT_MM;
    for (int i = 0; i < SB_UNITS; i++)
        if (strcmp(text, sb_spec_unit_text((sb_spec_unit)i)) == 0)
            *unit = (sb_spec_unit)i;
    return status;
}
