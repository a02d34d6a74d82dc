#include "cli/balance.h"

#include <math.h>
#include <string.h>

#include "cli/complain.h"
#include "cli/err.h"
#include "core/pitch.h"

#define FRET       12  /* where strings may be fretted without being taken for another */
#define STANDS_OFF 2.5 /* of its own errors */
#define SETTLE_S   0.15

/* --- plucks --------------------------------------------------------------------------------- */

/* Damped, or followed by the next, before its level is had: what the ear measured begins a tenth of
 * a second after the attack. */
static bool cut_off(const sb_reading *r) {
    return r->length_s < SB_SIGNAL_LEVEL_TO_S - SETTLE_S;
}

static void add_level(sb_balance *b, const sb_signal_heard *heard, size_t i, size_t string) {
    const sb_reading *r = &heard->take->readings[i];
    double level;
    if (b->n == SB_LEVELS_MAX || r->fault == SB_PLUCK_CLIPPED || r->fault == SB_PLUCK_DROPPED ||
        cut_off(r) || !sb_signal_pluck_level(heard, r, &level)) {
        b->unusable++;
        return;
    }
    b->pluck[b->n++] = (sb_level_pluck){.level_db = level, .group = string - 1};
}

void sb_balance_pluck(sb_balance *b, const sb_signal_heard *heard, size_t i,
                      const sb_whose_answer *whose) {
    if (whose->string == 0)
        b->unknown++;
    else if (whose->fretted)
        b->fretted++;
    else
        add_level(b, heard, i, whose->string);
}

int sb_balance_add(sb_balance *b, const sb_signal_heard *heard) {
    sb_whose whose;
    sb_whose_answer answer;
    size_t place[SB_TAKE_PLUCKS], n = 0;
    sb_whose_begin(&whose, b->instrument, FRET, b->a4_hz);
    if (heard->take->beyond > 0)
        sb_warn(b->path, "%zu plucks are too many; %d count", heard->take->n + heard->take->beyond,
                SB_TAKE_PLUCKS);
    for (size_t i = 0; i < heard->take->n; i++) {
        const sb_reading *r = &heard->take->readings[i];
        if (r->fault != SB_PLUCK_GOOD) {
            b->unusable++;
            continue;
        }
        (void)sb_whose_hear(&whose, r->hz);
        place[n++] = i;
        while (sb_whose_next(&whose, &answer))
            sb_balance_pluck(b, heard, place[answer.note], &answer);
    }
    sb_whose_finish(&whose);
    while (sb_whose_next(&whose, &answer))
        sb_balance_pluck(b, heard, place[answer.note], &answer);
    return n > 0 ? EX_OK : sb_complain_take(heard->take, b->path);
}

int sb_balance_add_in_order(sb_balance *b, const sb_signal_heard *heard, const size_t order[],
                            size_t n_order, size_t plucks) {
    const sb_take *take = heard->take;
    size_t place[SB_TAKE_PLUCKS], n = 0;
    for (size_t i = 0; i < take->n; i++) /* a tap, a knock or hum is no pluck */
        if (sb_pluck_is_string(take->readings[i].fault))
            place[n++] = i;
    if (n != n_order * plucks)
        return sb_fail(EX_DATAERR, "pluck each so often as --plucks says, and no others", b->path,
                       "%zu plucks where %zu strings of %zu make %zu", n, n_order, plucks,
                       n_order * plucks);
    for (size_t i = 0; i < n; i++)
        add_level(b, heard, place[i], order[i / plucks]);
    return EX_OK;
}

size_t sb_balance_count(const sb_balance *b, size_t string) {
    size_t count = 0;
    for (size_t i = 0; i < b->n; i++)
        count += b->pluck[i].group == string;
    return count;
}

/* --- judging -------------------------------------------------------------------------------- */

static sb_tilt_strings strings_of(sb_balance *b) {
    sb_tilt_strings s = {.pluck_dof = b->scatter.dof, .tolerance_db = b->tolerance_db};
    b->n_heard = 0;
    for (size_t i = 0; i < b->instrument->n_strings; i++) {
        if (b->level[i].used == 0)
            continue;
        b->heard[b->n_heard++] = i;
        s.place_mm[s.n] = b->instrument->spacing_mm * (double)i;
        s.level_db[s.n] = b->level[i].level_db;
        s.std_error_db[s.n++] = b->level[i].std_error_db;
    }
    return s;
}

double sb_balance_height_mm(const sb_balance *b) {
    return b->height_mm[b->tilt.verdict == SB_TILT_LAST_HIGH];
}

static sb_tilt_move move_of(const sb_balance *b) {
    double height_mm = sb_balance_height_mm(b);
    bool known = height_mm > 0;
    return sb_tilt_lower(fabs(b->tilt.tilt_db), b->tilt.std_error_db,
                         known ? height_mm : SB_TILT_DISTANCE_MM,
                         known ? b->height_error_mm : SB_TILT_DISTANCE_STD_ERROR_MM);
}

int sb_balance_judge(sb_balance *b) {
    if (b->n == 0)
        return sb_fail(EX_DATAERR,
                       "pluck one open string at a time, let it ring for a second, then "
                       "damp it",
                       b->path, "no pluck of an open string whose level could be had");
    sb_status status =
        sb_levels_combine(b->pluck, b->n, b->instrument->n_strings, b->level, &b->scatter);
    if (status != SB_OK)
        return sb_fail(EX_DATAERR, "pluck each three times or more, equally hard", b->path,
                       "one pluck of each string does not show how plucks scatter");
    sb_tilt_strings strings = strings_of(b);
    b->has_tilt = sb_tilt_fit(&strings, &b->tilt) == SB_OK;
    b->move = (sb_tilt_move){0, 0};
    if (b->has_tilt &&
        (b->tilt.verdict == SB_TILT_FIRST_HIGH || b->tilt.verdict == SB_TILT_LAST_HIGH))
        b->move = move_of(b);
    return EX_OK;
}

bool sb_balance_stands_off(const sb_balance *b, size_t i) {
    const sb_tilt *t = &b->tilt;
    return t->stray[i] ||
           fabs(t->off_db[i]) > fmax(b->tolerance_db, STANDS_OFF * t->off_std_error_db[i]);
}

void sb_balance_side(const sb_balance *b, bool first, char *text, size_t size) {
    const sb_string *one = &b->instrument->strings[b->heard[0]];
    const sb_string *last = &b->instrument->strings[b->heard[b->n_heard - 1]];
    if (one->semitone > last->semitone)
        (void)snprintf(text, size, "%s", first ? "treble" : "bass");
    else
        (void)snprintf(text, size, "string %zu's", b->heard[first ? 0 : b->n_heard - 1] + 1);
}
