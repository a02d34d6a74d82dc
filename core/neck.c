#include "core/neck.h"

#include <math.h>

#include "core/pitch.h"

#define STEEL_PA      203e9
#define STEEL_KG_M3   7806.0
#define WOUND_KG_M3   6500.0
#define THIN_CORE_MM  (0.014 * 25.4)
#define THICK_CORE_MM (0.016 * 25.4)
#define THICK_FROM_MM (0.040 * 25.4)
#define PLAIN_FACTOR  1.05
#define WOUND_FACTOR  1.25

double sb_neck_saddle_height_mm(double action12_mm, double slot_mm) {
    return 2.0 * action12_mm - slot_mm; /* the 12th fret is half way */
}

/* Lengths are ordinary here: no care for overflow is needed, and it is most of the work. */
static double length(double along_mm, double up_mm) {
    return sqrt(along_mm * along_mm + up_mm * up_mm);
}

/* What pressing the string down at `beyond` from the saddle adds to its pitch, in ln units,
 * with the slot's bottom at `slot_mm` over the frets. */
static double ln_stretch(const sb_neck *neck, double slot_mm, double beyond_mm, double kappa) {
    const double open = length(neck->scale_mm, neck->saddle_mm - slot_mm);
    const double behind = length(neck->scale_mm - beyond_mm, slot_mm);
    const double strain = (behind + length(beyond_mm, neck->saddle_mm)) / open - 1.0;

    return 0.5 * (log1p(strain) + log1p(kappa * strain));
}

double sb_neck_error_cents(const sb_neck *neck, const sb_neck_faults *faults, double fret_cents) {
    const double beyond = neck->scale_mm / sb_ratio_from_cents(fret_cents);
    const double open = log1p((faults->nut_mm + faults->saddle_mm) / neck->scale_mm);
    const double fretted = log1p(faults->saddle_mm / beyond);
    double slot = 0.0;

    if (faults->slot_mm != 0.0) {
        slot = ln_stretch(neck, neck->good_slot_mm + faults->slot_mm, beyond, faults->kappa) -
               ln_stretch(neck, neck->good_slot_mm, beyond, faults->kappa);
    }
    return SB_CENTS_PER_LN * (open - fretted + slot);
}

void sb_neck_slopes(const sb_neck *neck, const sb_neck_faults *faults, double fret_cents,
                    double *by_saddle, double *by_nut) {
    const double beyond = neck->scale_mm / sb_ratio_from_cents(fret_cents) + faults->saddle_mm;

    *by_nut = SB_CENTS_PER_LN / (neck->scale_mm + faults->nut_mm + faults->saddle_mm);
    *by_saddle = *by_nut - SB_CENTS_PER_LN / beyond;
}

double sb_neck_move_cents(const sb_neck *neck, const sb_neck_faults *faults, double fret_cents,
                          double move_mm) {
    const double beyond = neck->scale_mm / sb_ratio_from_cents(fret_cents) + faults->saddle_mm;
    const double open = neck->scale_mm + faults->nut_mm + faults->saddle_mm;

    return SB_CENTS_PER_LN * (log1p(move_mm / open) - log1p(move_mm / beyond));
}

sb_kappa sb_kappa_unknown(bool nylon) {
    return nylon ? (sb_kappa){55.0, 1.35} : (sb_kappa){250.0, 1.5};
}

sb_kappa sb_kappa_steel(const sb_string *string, double a4_hz) {
    const double wave = 2e-3 * string->scale_mm * sb_note_hz(string->semitone, a4_hz); /* m/s */
    const bool wound = string->wound && string->gauge_mm > 0.0;

    if (!wound) {
        return (sb_kappa){STEEL_PA / (STEEL_KG_M3 * wave * wave), PLAIN_FACTOR};
    }
    const double core = string->gauge_mm > THICK_FROM_MM ? THICK_CORE_MM : THIN_CORE_MM;
    const double share = pow(fmin(1.0, core / string->gauge_mm), 2.0);
    return (sb_kappa){share * STEEL_PA / (WOUND_KG_M3 * wave * wave), WOUND_FACTOR};
}
