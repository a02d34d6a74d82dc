#include "core/faults.h"

#include <math.h>

#include "core/pitch.h"

#define LEAST_FACTOR 1.02 /* nobody knows a string better */

double sb_saddle_height_mm(double slot_mm, int fret, double action_mm) {
    const double share = 1.0 - 1.0 / sb_fret_ratio(fret); /* of the way from nut to saddle */

    return slot_mm + (action_mm - slot_mm) / share;
}

/* Lengths are ordinary here: no care for overflow is needed, and it is most of the work. */
static double length(double along_mm, double up_mm) {
    return sqrt(along_mm * along_mm + up_mm * up_mm);
}

/* What pressing the string down at `beyond` from the saddle adds to its pitch, in ln units,
 * with the slot's bottom at `slot_mm` over the frets. */
static double ln_stretch(const sb_straight_neck *neck, double slot_mm, double beyond_mm,
                         double kappa) {
    const double open = length(neck->scale_mm, neck->saddle_mm - slot_mm);
    const double behind = length(neck->scale_mm - beyond_mm, slot_mm);
    const double strain = (behind + length(beyond_mm, neck->saddle_mm)) / open - 1.0;

    return 0.5 * (log1p(strain) + log1p(kappa * strain));
}

double sb_faults_error_cents(const sb_straight_neck *neck, const sb_faults *faults,
                             double fret_cents) {
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

void sb_faults_slopes(const sb_straight_neck *neck, const sb_faults *faults, double fret_cents,
                      double *by_saddle, double *by_nut) {
    const double beyond = neck->scale_mm / sb_ratio_from_cents(fret_cents) + faults->saddle_mm;

    *by_nut = SB_CENTS_PER_LN / (neck->scale_mm + faults->nut_mm + faults->saddle_mm);
    *by_saddle = *by_nut - SB_CENTS_PER_LN / beyond;
}

double sb_faults_move_cents(const sb_straight_neck *neck, const sb_faults *faults,
                            double fret_cents, double move_mm) {
    const double beyond = neck->scale_mm / sb_ratio_from_cents(fret_cents) + faults->saddle_mm;
    const double open = neck->scale_mm + faults->nut_mm + faults->saddle_mm;

    return SB_CENTS_PER_LN * (log1p(move_mm / open) - log1p(move_mm / beyond));
}

sb_kappa sb_kappa_unknown(sb_material material) {
    const bool steel = material == SB_MATERIAL_STEEL || material == SB_MATERIAL_BRONZE;

    return steel ? (sb_kappa){250.0, 1.5} : (sb_kappa){55.0, 1.35};
}

static double square(double x) {
    return x * x;
}

sb_status sb_kappa_of(const sb_wire_data *data, double scale_mm, double hz, sb_kappa *out) {
    sb_wire wire;
    double variance = 0.0;

    sb_status status = sb_wire_make(data, scale_mm, hz, NULL, &wire);
    for (int u = 0; status == SB_OK && u < SB_UNSURES; u++) {
        double shift[SB_UNSURES] = {0.0};
        sb_wire shifted;
        shift[u] = 1.0;
        status = sb_wire_make(data, scale_mm, hz, shift, &shifted);
        if (status == SB_OK) {
            variance += square(
                log(shifted.stretch_n / shifted.tension_n * wire.tension_n / wire.stretch_n));
        }
    }
    if (status == SB_OK) {
        *out = (sb_kappa){wire.stretch_n / wire.tension_n, fmax(LEAST_FACTOR, exp(sqrt(variance)))};
    }
    return status;
}
