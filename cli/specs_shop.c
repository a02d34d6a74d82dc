#include "cli/specs_shop.h"

#include <stdlib.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "cli/specs_parts.h"

typedef struct {
    char name[SB_TEXTS_MAX + 1][SB_SETTING_MAX], value[SB_TEXTS_MAX + 1][SB_SETTING_MAX];
    sb_setting_text setting[SB_TEXTS_MAX + 1];
    size_t n;
} own_settings;

/* value NULL takes it away. */
static void add_setting(own_settings *own, const char *value) {
    if (value)
        (void)snprintf(own->value[own->n], SB_SETTING_MAX, "%s", value);
    own->setting[own->n] = (sb_setting_text){own->name[own->n], value ? own->value[own->n] : NULL};
    own->n++;
}

static int read_band(const char *text, const char *kind, own_settings *own) {
    char key[SB_SPEC_NAME_MAX], value[SB_SETTING_MAX];
    size_t n = strcspn(text, "=");
    sb_spec_kind of = SB_SPEC_RELIEF;
    sb_band band;
    (void)snprintf(key, sizeof key, "%.*s", (int)n, text);
    if (text[n] != '=' || n >= sizeof key || !sb_spec_band_key(key, &of))
        return sb_fail(EX_USAGE, "such as relief=0.010in..0.012in, or action17=4/64in..5/64in",
                       text, "a band needs the name of what is measured");
    if (!sb_band_setting(kind, key, own->name[own->n]))
        return sb_fail(EX_USAGE, "a shorter one", kind, "this kind is too long");
    const char *range = text + n + 1;
    if (range[0] == '\0') {
        add_setting(own, NULL);
        return EX_OK;
    }
    if (!sb_band_parse(range, of, &band))
        return sb_fail(EX_USAGE,
                       "write it with units, low to high: 0.010in..0.012in, ..0.022in, 0.018in.. "
                       "or 3/32in; none for no judgement",
                       range, "no band");
    sb_band_format(&band, of, value, sizeof value);
    add_setting(own, value);
    return EX_OK;
}

static int read_bands(const sb_specs_own *given, own_settings *own) {
    if (given->bands->n > 0 && !given->kind[0])
        return sb_fail(EX_USAGE, "give --kind KIND, such as electric, or any", NULL,
                       "a band belongs to a kind of instrument");
    for (size_t i = 0; i < given->bands->n; i++) {
        int code = read_band(given->bands->item[i], given->kind, own);
        if (code != EX_OK)
            return code;
    }
    return EX_OK;
}

int sb_specs_keep_own(const sb_specs_own *given, sb_book *book) {
    own_settings *own = calloc(1, sizeof *own);
    if (!own)
        return sb_complain_memory();
    int code = read_bands(given, own);
    if (code == EX_OK && given->unit >= 0) {
        (void)snprintf(own->name[own->n], SB_SETTING_MAX, SB_SETTING_UNIT);
        add_setting(own, sb_spec_unit_text((sb_spec_unit)given->unit));
    }
    if (code == EX_OK && own->n > 0)
        code =
            sb_book_complain(sb_book_keep_settings(book, own->setting, own->n), given->path, NULL);
    free(own);
    return code;
}
