#include "core/fretted.h"

#include <math.h>

#include "core/pitch.h"
#include "core/saddle.h"

#define PI        3.14159265358979323846
#define MAX_FRET  36
#define MAX_ENDS  4.0
#define MAX_BEND  0.05  /* b, beyond which the series means nothing */
#define MAX_MM    100.0 /* of heights and moves */
#define MAX_STEPS 50
#define MM        1e-3 /* m */

/* --- the neck ------------------------------------------------------------------------ */

static double bow_mm(const sb_neck *neck, int fret) {
    if (!(neck->relief_mm != 0.0) || fret <= neck->relief_from || fret >= neck->relief_to)
        return 0.0;
    const double from = sb_fret_position_mm(neck->scale_mm, neck->relief_from);
    const double to = sb_fret_position_mm(neck->scale_mm, neck->relief_to);
    const double at = sb_fret_position_mm(neck->scale_mm, fret);
    return 4.0 * neck->relief_mm * (at - from) * (to - at) / ((to - from) * (to - from));
}

double sb_neck_height_mm(const sb_neck *neck, int fret) {
    const double share = sb_fret_position_mm(neck->scale_mm, fret) / neck->scale_mm;
    return neck->nut_height_mm + share * neck->rise_mm + bow_mm(neck, fret);
}

static bool valid_neck(const sb_neck *neck) {
    return neck->scale_mm >= 100.0 && neck->scale_mm <= 2000.0 &&
           fabs(neck->nut_height_mm) <= MAX_MM && fabs(neck->rise_mm) <= MAX_MM &&
           fabs(neck->slope) <= 1.0 && neck->finger_mm >= 0.0 && neck->finger_mm <= MAX_MM &&
           fabs(neck->relief_mm) <= 10.0 && neck->relief_from >= 0 && neck->relief_to <= MAX_FRET &&
           (neck->relief_mm == 0.0 || neck->relief_from < neck->relief_to);
}

sb_status sb_neck_from_action(double scale_mm, const sb_action *action, sb_neck *out) {
    sb_neck neck = {.scale_mm = scale_mm,
                    .finger_mm = action->finger_mm,
                    .relief_mm = action->relief_mm,
                    .relief_from = 1,
                    .relief_to = action->relief_to};
    if (action->fret < 2 || action->fret > MAX_FRET || !valid_neck(&neck) ||
        !(fabs(action->action_mm) <= MAX_MM) || !(fabs(action->first_fret_mm) <= MAX_MM))
        return SB_E_RANGE;
    const double first = sb_fret_position_mm(scale_mm, 1);
    const double run = sb_fret_position_mm(scale_mm, action->fret) - first;
    const double straight = action->action_mm - bow_mm(&neck, action->fret);
    neck.slope = (straight - action->first_fret_mm) / run;
    neck.nut_height_mm = action->first_fret_mm - neck.slope * first;
    neck.rise_mm = neck.slope * scale_mm;
    *out = neck;
    return SB_OK;
}

/* --- the string ---------------------------------------------------------------------- */

/* The lengths of the open and of the pressed string, mm. */
typedef struct {
    double open, beyond; /* nut to saddle; crown to saddle */
    double growth;       /* Q */
} path;

/* How much longer the slanted side is than the level one, without the loss of their difference. */
static double excess(double level, double height) {
    return level > 0.0 ? height * height / (hypot(level, height) + level) : fabs(height);
}

static bool lay_path(const sb_neck *neck, int fret, double saddle_mm, double nut_mm, path *out) {
    const double behind = sb_fret_position_mm(neck->scale_mm, fret) + nut_mm - neck->finger_mm;
    const double run = neck->scale_mm - sb_fret_position_mm(neck->scale_mm, fret) + saddle_mm;
    const double rise = neck->rise_mm + neck->slope * saddle_mm, bow = bow_mm(neck, fret);
    const double nut = neck->nut_height_mm + bow, saddle = nut + rise;
    const double span = neck->scale_mm + saddle_mm + nut_mm;
    if (!(behind > 0.0 && run > 0.0) || !(sb_neck_height_mm(neck, fret) > 0.0))
        return false;
    const double dip = saddle * neck->finger_mm / run;
    out->open = hypot(span, rise);
    out->beyond = hypot(run, saddle);
    out->growth = (excess(run, saddle) + excess(neck->finger_mm, dip) + excess(behind, nut + dip) -
                   excess(span, rise)) /
                  out->open;
    return true;
}

/* P(b) of the header. */
static double sharpening(double ends, double bend) {
    return sqrt(1.0 + PI * PI * bend * bend) + ends * bend + ends * ends * bend * bend;
}

static double bend_of(const sb_wire *wire, double tension_n, double length_mm) {
    return sqrt(wire->bending_nm2 / tension_n) / (length_mm * MM);
}

/* The tension that brings the open string to pitch; its stiffness takes a share. The fixed point
 * is reached from above, each step taking off all but a part of b of what is left. */
static double tension_at_pitch(const sb_tuned *s, double length_mm) {
    const double speed = 2.0 * length_mm * MM * s->hz;
    double tension = s->wire.unit_mass_kg_m * speed * speed;
    for (int i = 0; i < MAX_STEPS; i++) {
        const double pitch = sharpening(s->ends, bend_of(&s->wire, tension, length_mm));
        const double next = s->wire.unit_mass_kg_m * speed * speed / (pitch * pitch);
        const bool still = fabs(next - tension) <= 1e-14 * tension;
        tension = next;
        if (still)
            break;
    }
    return tension;
}

static bool valid_string(const sb_tuned *s) {
    return s->hz > 0.0 && isfinite(s->hz) && fabs(s->ends) <= MAX_ENDS &&
           s->wire.unit_mass_kg_m > 0.0 && isfinite(s->wire.unit_mass_kg_m) &&
           s->wire.stretch_n >= 0.0 && isfinite(s->wire.stretch_n) && s->wire.bending_nm2 >= 0.0 &&
           isfinite(s->wire.bending_nm2);
}

sb_status sb_fretted_error(const sb_neck *neck, const sb_tuned *string, int fret, double saddle_mm,
                           double nut_mm, double *cents) {
    path p = {.open = 0.0};
    if (!valid_neck(neck) || !valid_string(string) || fret < 1 || fret > MAX_FRET ||
        !(fabs(saddle_mm) <= MAX_MM && fabs(nut_mm) <= MAX_MM) ||
        !lay_path(neck, fret, saddle_mm, nut_mm, &p))
        return SB_E_RANGE;
    const double tension = tension_at_pitch(string, p.open);
    const double pressed = tension + string->wire.stretch_n * p.growth;
    const double bend = bend_of(&string->wire, tension, p.open);
    const double bend_pressed = bend_of(&string->wire, pressed, p.beyond);
    if (!(tension > 0.0 && pressed > 0.0 && bend_pressed <= MAX_BEND))
        return SB_E_RANGE;
    *cents = SB_CENTS_PER_LN *
             (log(p.open / (sb_fret_ratio(fret) * p.beyond)) + 0.5 * log1p(p.growth) +
              0.5 * log(pressed / tension) +
              log(sharpening(string->ends, bend_pressed) / sharpening(string->ends, bend)));
    return SB_OK;
}
