/* Any readings into the survey, and any pitches into the sorting of notes to frets: whatever is
 * accepted gives finite figures and a fret that there is. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "core/frets.h"
#include "core/survey.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    const uint8_t *at;
    size_t left;
} bytes;

static unsigned next(bytes *b) {
    if (b->left == 0)
        return 0;
    b->left--;
    return *b->at++;
}

/* From -1 to 1 in steps of which some are the ends. */
static double number(bytes *b) {
    const int value = (int)(next(b) << 8 | next(b)) - 32768;
    return value / 32767.0;
}

static sb_survey_options some_options(bytes *b) {
    return (sb_survey_options){
        .neck = {1050.0 + 950.0 * number(b), 1.5 + 1.5 * number(b), 15.0 + 15.0 * number(b)},
        .kappa = {500.0 + 499.0 * number(b), 1.6 + 0.5 * number(b)},
        .slot_mm = number(b),
        .slot_std_error_mm = next(b) % 2 ? 0.02 : 0.0,
        .tolerance_cents = 2.0 + 1.9 * number(b)};
}

static void try_survey(bytes b) {
    sb_survey_reading r[SB_SURVEY_MAX];
    sb_survey s;
    const sb_survey_options o = some_options(&b);
    size_t n = 0;
    for (int fret = (int)(next(&b) % 2); fret <= 36 && b.left > 4 && n < SB_SURVEY_MAX;
         fret += 1 + (int)(next(&b) % 4)) {
        const double error = number(&b);
        r[n++] =
            (sb_survey_reading){fret, 100.0 * fret, 100.0 * number(&b),
                                next(&b) % 8 ? 0.001 + fabs(error) : 0.0, (double)(next(&b) % 3)};
    }
    if (sb_survey_string(r, n, &o, &s) != SB_OK)
        return;
    INVARIANT(isfinite(s.saddle_only_mm) && isfinite(s.chi2) && s.dof >= 0);
    INVARIANT(s.saddle_only_rms_cents >= 0.0 && s.probability >= 0.0 && s.probability <= 1.0);
    for (int p = 0; p < SB_PARTS; p++)
        INVARIANT(isfinite(s.excess_mm[p]) && (!s.fitted[p] || s.std_error_mm[p] >= 0.0));
    for (size_t i = 0; i < n; i++)
        INVARIANT(isfinite(s.fitted_cents[i]) && isfinite(s.cured_cents[i]) &&
                  isfinite(s.saddle_only_cents[i]));
    INVARIANT(s.verdict != SB_SURVEY_UNDECIDED || s.doubt != SB_DOUBT_NONE);
}

static void try_sorting(bytes b) {
    double hz[SB_FRET_NOTES_MAX], told = 110.0, open = 0.0;
    int fret[SB_FRET_NOTES_MAX];
    sb_fret_plan plan = {.last = 24, .open_hz = &told, .n_open = next(&b) % 2};
    size_t n = 0;
    plan.only_asked = next(&b) % 2 != 0;
    for (int f = 0; f <= SB_FRETS_LAST; f++) {
        plan.cents[f] = 100.0 * f;
        plan.asked[f] = next(&b) % 2 != 0;
    }
    while (b.left > 1 && n < SB_FRET_NOTES_MAX)
        hz[n++] = 440.0 * exp2(2.0 * number(&b));
    if (sb_frets_sort(hz, n, &plan, fret, &open) != SB_OK)
        return;
    INVARIANT(open > 0.0 && isfinite(open));
    for (size_t i = 0; i < n; i++)
        INVARIANT(fret[i] >= -1 && fret[i] <= 24);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    try_survey((bytes){data, size});
    try_sorting((bytes){data, size});
    return 0;
}
