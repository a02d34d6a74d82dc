/* Any text into the parsers of lengths, notes, threads, numbers, orders at the bench, names of
 * measurements and bands. What parses is in its range, and written out and read again it is the
 * same. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "cli/args.h"
#include "cli/bench_order.h"
#include "cli/specs_parts.h"
#include "core/length.h"
#include "core/pitch.h"
#include "core/screw.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void try_length(const char *text, double bare_unit_mm) {
    double mm = 0.0, again = 0.0;
    char written[SB_LENGTH_TEXT_MAX];
    if (sb_length_parse(text, bare_unit_mm, &mm) != SB_OK)
        return;
    INVARIANT(fabs(mm) <= 10000.0);
    sb_length_format_mm(mm, 6, written, sizeof written);
    INVARIANT(sb_length_parse(written, 0.0, &again) == SB_OK);
    INVARIANT(fabs(again - mm) <= 0.51e-6);
    if (fabs(mm) > 9999.0) /* to the nearest half may be beyond the limit */
        return;
    sb_length_format_64ths(mm, written, sizeof written);
    INVARIANT(sb_length_parse(written, 0.0, &again) == SB_OK);
    INVARIANT(fabs(again - mm) <= 0.25 * SB_MM_PER_64TH * (1.0 + 1e-9));
}

static void try_note(const char *text) {
    int semitone = 0, again = -1;
    char written[SB_NOTE_TEXT_MAX];
    if (sb_note_parse(text, &semitone) != SB_OK)
        return;
    sb_note_format(semitone, written, sizeof written);
    INVARIANT(sb_note_parse(written, &again) == SB_OK && again == semitone);
    INVARIANT(sb_note_nearest(sb_note_hz(semitone, SB_A4_HZ), SB_A4_HZ, NULL) == semitone);
}

static void try_order(const char *text) {
    sb_order o;
    if (sb_order_parse(text, &o))
        return;
    INVARIANT(o.string <= SB_STRINGS_MAX);
    INVARIANT(fabs(o.move_mm) <= 50.0 && fabs(o.end_mm) <= 50.0);
    INVARIANT(o.turns >= 0.0 && o.turns <= 200.0);
}

/* A band is kept as text: what is written is read again as the same, to the nanometre or to ten
 * digits. */
static void try_band(const char *text, sb_spec_kind kind) {
    sb_band band, again;
    char written[SB_SETTING_MAX];
    if (!sb_band_parse(text, kind, &band) || isnan(band.low))
        return;
    INVARIANT(band.low <= band.high);
    sb_band_format(&band, kind, written, sizeof written);
    INVARIANT(sb_band_parse(written, kind, &again));
    double low_by = fabs(again.low - band.low), high_by = fabs(again.high - band.high);
    INVARIANT(again.low == band.low || low_by <= 0.51e-6 + 1e-9 * fabs(band.low));
    INVARIANT(again.high == band.high || high_by <= 0.51e-6 + 1e-9 * fabs(band.high));
}

static void try_spec(const char *text) {
    sb_spec_id id;
    char keys[SB_SPEC_KEYS][SB_SPEC_NAME_MAX], title[SB_SPEC_TITLE_MAX];
    if (sb_spec_named(text, &id) != SB_OK)
        return;
    INVARIANT(strcmp(id.name, text) == 0 && sb_spec_order(&id, &id) == 0);
    INVARIANT(sb_spec_band_keys(&id, 6, keys) <= SB_SPEC_KEYS);
    sb_spec_title(&id, title, sizeof title);
    INVARIANT(strlen(title) < SB_SPEC_TITLE_MAX);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char *text = malloc(size + 1);
    double number = 0.0;
    if (!text)
        return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    try_spec(text);
    try_band(text, SB_SPEC_RELIEF);
    try_band(text, SB_SPEC_RESISTANCE);
    try_length(text, 0.0);
    try_length(text, 25.4);
    try_note(text);
    try_order(text);
    if (sb_thread_parse(text, &number) == SB_OK)
        INVARIANT(number >= 0.1 && number <= 3.0);
    if (sb_number_parse(text, &number))
        INVARIANT(isfinite(number));
    free(text);
    return 0;
}
