/* The bands of a kind of instrument. */
#include <math.h>
#include <string.h>

#include "cli/specs_parts.h"
#include "cli/specs_print.h"
#include "cli/text.h"

#define KEY_WIDTH  24
#define BAND_WIDTH 24

typedef struct {
    FILE *out;
    sb_book *book;
    const char *kind;
    sb_spec_unit unit;
    size_t n;
} listing;

static void print_band(const listing *l, const char *key, const sb_band *band, const char *from) {
    char text[SB_SPEC_SHOWN_MAX] = "none";
    sb_spec spec = {.banded = true, .band = *band};
    if (!sb_spec_band_key(key, &spec.id.kind))
        return;
    if (!isnan(band->low))
        sb_spec_show_band(&spec, l->unit, text, sizeof text);
    sb_text_pad(l->out, key, KEY_WIDTH);
    sb_text_pad(l->out, text, BAND_WIDTH);
    (void)fprintf(l->out, "%s\n", from);
}

/* The key of a setting that keeps a band of a kind; NULL for others. */
static const char *key_of(const char *setting, const char *kind) {
    char prefix[SB_SETTING_MAX];
    (void)snprintf(prefix, sizeof prefix, "band %s ", kind);
    size_t n = strlen(prefix);
    return strncmp(setting, prefix, n) == 0 ? setting + n : NULL;
}

static bool print_own(void *context, const char *name, const char *value) {
    listing *l = context;
    sb_spec_kind kind;
    sb_band band;
    const char *key = key_of(name, l->kind);
    const char *any = key ? NULL : key_of(name, SB_ANY_KIND);
    const char *found = key ? key : any;
    if (!found || !sb_spec_band_key(found, &kind) || !sb_band_parse(value, kind, &band))
        return true;
    print_band(l, found, &band, key ? "the shop's own" : "the shop's own, for any kind");
    l->n++;
    return true;
}

/* Whether a band of the shop's own stands in place of a shipped one. */
static sb_book_status replaced(const listing *l, const char *key, bool *by_own) {
    sb_spec_kind of = SB_SPEC_RELIEF;
    sb_book_status status = SB_BOOK_OK;
    (void)sb_spec_band_key(key, &of);
    const char *const keys[] = {key, sb_spec_facts_of(of)->stem};
    const char *const kinds[] = {l->kind, SB_ANY_KIND};
    for (size_t i = 0; i < 4 && l->book && !*by_own && status == SB_BOOK_OK; i++) {
        char name[SB_SETTING_MAX], text[SB_SETTING_MAX] = "";
        if (sb_band_setting(kinds[i / 2], keys[i % 2], name))
            status = sb_book_setting(l->book, name, text);
        *by_own = text[0] != '\0';
    }
    return status;
}

sb_book_status sb_print_bands(FILE *out, sb_book *book, const char *kind, sb_spec_unit unit) {
    listing l = {out, book, kind, unit, 0};
    const char *of = NULL, *key = NULL;
    sb_band band;
    sb_book_status status = book ? sb_book_settings(book, print_own, &l) : SB_BOOK_OK;
    for (size_t i = 0; status == SB_BOOK_OK && sb_band_shipped_at(i, &of, &key, &band); i++) {
        bool by_own = false;
        status = replaced(&l, key, &by_own);
        if (strcmp(of, kind) != 0 || by_own)
            continue;
        print_band(&l, key, &band, "common practice, no source");
        l.n++;
    }
    if (l.n == 0 && status == SB_BOOK_OK)
        (void)fprintf(out, "no bands\n");
    return status;
}
