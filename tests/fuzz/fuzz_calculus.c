/* Any numbers, of any bits, into the calculus of the saddle, the compromise, the interval, screws
 * and lengths: what is accepted gives finite figures, errors of 0 or more, and no move beyond the
 * instrument; what is written is read again the same. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "core/compromise.h"
#include "core/interval.h"
#include "core/length.h"
#include "core/pitch.h"
#include "core/saddle.h"
#include "core/screw.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    const uint8_t *at;
    size_t left;
} bytes;

static unsigned byte(bytes *b) {
    if (b->left == 0)
        return 0;
    b->left--;
    return *b->at++;
}

/* Of eight bytes, or a sensible one of two, as its first byte says. */
static double number(bytes *b, double low, double high) {
    double any = 0.0;
    if (byte(b) % 4 != 0)
        return low + (high - low) * (double)(byte(b) << 8 | byte(b)) / 65535.0;
    unsigned char eight[sizeof any];
    for (size_t i = 0; i < sizeof eight; i++)
        eight[i] = (unsigned char)byte(b);
    memcpy(&any, eight, sizeof any);
    return any;
}

static void try_move(bytes *b) {
    const sb_geometry g = {number(b, 100, 2000), number(b, 0, 2000), (int)(byte(b) % 40)};
    const double error = number(b, -120, 120), std_error = number(b, 0, 10);
    sb_move move;
    double left = 0.0;
    if (sb_saddle_move(&g, error, std_error, &move) != SB_OK)
        return;
    INVARIANT(isfinite(move.move_mm) && fabs(move.move_mm) < g.scale_mm);
    INVARIANT(isfinite(move.std_error_mm) && move.std_error_mm >= 0.0);
    INVARIANT(isfinite(move.rule_of_thumb_mm) && isfinite(move.cents_per_mm));
    INVARIANT(move.move_mm == 0.0 || (move.move_mm > 0.0) == (error > 0.0));
    INVARIANT(sb_saddle_error_after(&g, error, move.move_mm, &left) == SB_OK);
    INVARIANT(fabs(left) < 1e-6);
}

static void try_after(bytes *b) {
    const sb_geometry g = {number(b, 100, 2000), number(b, 0, 2000), (int)(byte(b) % 40)};
    const double error = number(b, -120, 120), move = number(b, -700, 700);
    double left = 0.0;
    if (sb_saddle_error_after(&g, error, move, &left) == SB_OK)
        INVARIANT(isfinite(left));
}

static void try_compromise(bytes *b) {
    sb_shared_string strings[SB_MAX_SHARED];
    const size_t n = byte(b) % (SB_MAX_SHARED + 1);
    sb_compromise_options o = {.shape = (sb_saddle_shape)(byte(b) % 2),
                               .fit = (sb_compromise_fit)(byte(b) % 2),
                               .limited = byte(b) % 2 != 0};
    sb_compromise c;
    for (int end = 0; end < 2; end++)
        o.ends[end] = (sb_travel){number(b, -30, 30), number(b, -5, 0), number(b, 0, 5)};
    for (size_t i = 0; i < n; i++)
        strings[i] = (sb_shared_string){number(b, -5, 5), number(b, -30, 30), number(b, 1, 5),
                                        number(b, 0.1, 3)};
    if (sb_compromise_place(strings, n, &o, &c) != SB_OK)
        return;
    INVARIANT(isfinite(c.position_mm) && isfinite(c.slope));
    INVARIANT(c.worst_cents >= 0.0 && c.rms_cents >= 0.0);
    INVARIANT(isfinite(c.worst_cents) && isfinite(c.rms_cents));
    INVARIANT(c.rms_cents <= c.worst_cents * (1.0 + 1e-9));
    for (size_t i = 0; i < n; i++)
        INVARIANT(isfinite(c.remaining_cents[i]) && fabs(c.remaining_cents[i]) <= c.worst_cents);
}

static void try_interval(bytes *b) {
    sb_pluck plucks[SB_MAX_PLUCKS];
    const size_t n = byte(b) % (SB_MAX_PLUCKS + 1);
    const sb_interval_options o = {number(b, 100, 2400), number(b, 0, 2)};
    sb_interval i;
    for (size_t k = 0; k < n; k++)
        plucks[k] = (sb_pluck){.time_s = number(b, 0, 600),
                               .hz = number(b, 30, 1400),
                               .std_error_cents = number(b, 0.001, 3),
                               .fretted = byte(b) % 2 != 0};
    if (sb_interval_combine(plucks, n, &o, &i) != SB_OK)
        return;
    INVARIANT(isfinite(i.error_cents) && isfinite(i.std_error_cents) && i.std_error_cents >= 0.0);
    INVARIANT(i.open_hz > 0.0 && i.fretted_hz > 0.0 && isfinite(i.open_hz + i.fretted_hz));
    INVARIANT(i.open_std_error_cents >= 0.0 && i.fretted_std_error_cents >= 0.0);
    INVARIANT(isfinite(i.drift_cents_per_min) && !isnan(i.drift_std_error));
    INVARIANT(i.n_open >= 1 && i.n_fretted >= 1 && i.n_open + i.n_fretted <= n);
}

static void try_text(bytes *b) {
    const double mm = number(b, -10000, 10000);
    char text[SB_LENGTH_TEXT_MAX];
    double again = 0.0;
    const int decimals = (int)(byte(b) % 9) - 1;
    sb_length_format_mm(mm, decimals, text, sizeof text);
    INVARIANT(strlen(text) < sizeof text);
    if (sb_length_parse(text, 0.0, &again) == SB_OK)
        INVARIANT(fabs(again - mm) <= 0.5000001 * pow(10.0, -fmin(6, fmax(0, decimals))));
    else
        INVARIANT(strcmp(text, "n/a") == 0 && !(fabs(mm) <= 10000.0));
    sb_turn turn = SB_TURN_NONE;
    const double turns = sb_screw_turns(number(b, -50, 50), number(b, 0.1, 3),
                                        (sb_screw_action)(byte(b) % 2), &turn);
    INVARIANT(isnan(turns) ? turn == SB_TURN_NONE
                           : turns >= 0.0 && (turns > 0.0) == (turn != SB_TURN_NONE));
    double off = 0.0;
    const int nearest = sb_note_nearest(number(b, 20, 2000), number(b, 380, 480), &off);
    INVARIANT(isnan(off) ? nearest == 0 : fabs(off) <= 50.0 + 1e-9);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static void (*const tries[])(bytes *) = {try_move, try_after, try_compromise, try_interval,
                                             try_text};
    bytes b = {data, size};
    tries[byte(&b) % 5](&b);
    return 0;
}
