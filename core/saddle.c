#include "core/saddle.h"

#include <math.h>
#include <stdbool.h>

#include "core/pitch.h"

#define LN2          0.69314718055994530942
#define MIN_SCALE_MM 100.0
#define MAX_SCALE_MM 2000.0
#define MAX_FRET     36
#define MAX_STEPS    60
#define CLOSE_ENOUGH 1e-13 /* Newton step over the string's length */
#define ROUNDS       8     /* of a fixed point that gains three digits a round */

/* The string before the move, in the terms of the header. */
typedef struct {
    double length_mm;  /* L */
    double beyond_mm;  /* L - a, fret to saddle */
    double ln_error;   /* e ln2/1200 */
    double ln_sharpen; /* ln G: stretch and stiffness together */
} string_model;

double sb_fret_position_mm(double scale_mm, int fret) {
    return -scale_mm * expm1(-LN2 * (double)fret / 12.0);
}

static bool set_model(const sb_geometry *geometry, double error_cents, string_model *model) {
    const double scale = geometry->scale_mm;
    const double length = geometry->speaking_mm == 0.0 ? scale : geometry->speaking_mm;

    if (!(scale >= MIN_SCALE_MM && scale <= MAX_SCALE_MM) || geometry->fret < 1 ||
        geometry->fret > MAX_FRET || !(fabs(error_cents) <= SB_MAX_ERROR_CENTS)) {
        return false;
    }
    const double beyond = length - sb_fret_position_mm(scale, geometry->fret);
    if (!(beyond > 0.0 && length <= 2.0 * scale)) {
        return false;
    }
    model->length_mm = length;
    model->beyond_mm = beyond;
    model->ln_error = error_cents / SB_CENTS_PER_LN;
    model->ln_sharpen = model->ln_error + LN2 * geometry->fret / 12.0 + log(beyond / length);
    return true;
}

/* How much of the sharpening is left after a move: L^2 (L-a) / (L'^2 (L'-a)). */
static double sharpening_left(const string_model *model, double move_mm) {
    const double length = model->length_mm / (model->length_mm + move_mm);

    return length * length * model->beyond_mm / (model->beyond_mm + move_mm);
}

/* The header's left side, written as what the move changes, so that no move and no
 * error give zero exactly, not the rounding of two long logarithms. */
static double ln_error_after(const string_model *model, double move_mm) {
    const double grow_open = log1p(move_mm / model->length_mm);
    const double grow_fretted = log1p(move_mm / model->beyond_mm);

    return model->ln_error + grow_open - grow_fretted +
           model->ln_sharpen * expm1(-2.0 * grow_open - grow_fretted);
}

/* Its derivative by the move, per mm; negative wherever the model means anything. */
static double ln_error_slope(const string_model *model, double move_mm) {
    const double length = model->length_mm + move_mm;
    const double beyond = model->beyond_mm + move_mm;
    const double sharpen = model->ln_sharpen * sharpening_left(model, move_mm);

    return 1.0 / length - 1.0 / beyond - sharpen * (2.0 / length + 1.0 / beyond);
}

static bool on_branch(const string_model *model, double move_mm) {
    return model->beyond_mm + move_mm > 0.0 && ln_error_slope(model, move_mm) < 0.0;
}

/* Newton from no move, its steps halved where they would leave the branch that falls
 * through the start. Closeness is judged on the whole step: halved ones shrink anyway. */
static bool solve_move(const string_model *model, double *move_mm) {
    double move = 0.0;

    if (!on_branch(model, move)) {
        return false;
    }
    for (int i = 0; i < MAX_STEPS; i++) {
        double step = -ln_error_after(model, move) / ln_error_slope(model, move);
        if (fabs(step) <= CLOSE_ENOUGH * model->length_mm) {
            *move_mm = move + step;
            return true;
        }
        for (int halvings = 0; halvings < MAX_STEPS && !on_branch(model, move + step); halvings++) {
            step *= 0.5;
        }
        move += step;
    }
    return false;
}

sb_status sb_saddle_move(const sb_geometry *geometry, double error_cents, double std_error_cents,
                         sb_move *out) {
    string_model model;
    double move = 0.0;

    if (!(std_error_cents >= 0.0) || isinf(std_error_cents) ||
        !set_model(geometry, error_cents, &model) || !solve_move(&model, &move)) {
        return SB_E_RANGE;
    }
    /* The measured error enters twice, as what is to be undone and in ln G; by the implicit
     * function theorem a cent of it moves the solution by this much. */
    const double mm_per_cent =
        -sharpening_left(&model, move) / (SB_CENTS_PER_LN * ln_error_slope(&model, move));
    out->move_mm = move;
    out->std_error_mm = mm_per_cent * std_error_cents;
    out->rule_of_thumb_mm =
        geometry->scale_mm * model.ln_error / (sb_fret_ratio(geometry->fret) - 1.0);
    out->cents_per_mm = -SB_CENTS_PER_LN * ln_error_slope(&model, 0.0);
    return SB_OK;
}

sb_status sb_saddle_error_after(const sb_geometry *geometry, double error_cents, double move_mm,
                                double *remaining_cents) {
    string_model model;

    if (!set_model(geometry, error_cents, &model) || !isfinite(move_mm) ||
        !(model.beyond_mm + move_mm > 0.0)) {
        return SB_E_RANGE;
    }
    *remaining_cents = SB_CENTS_PER_LN * ln_error_after(&model, move_mm);
    return SB_OK;
}

/* The error falls so nearly straight that scaling by what is missing converges at once. */
sb_status sb_saddle_move_taking(const sb_geometry *geometry, double error_cents, double taken_cents,
                                double *move_mm) {
    sb_move start;

    if (sb_saddle_move(geometry, error_cents, 0.0, &start) != SB_OK ||
        !(start.cents_per_mm > 0.0)) {
        return SB_E_RANGE;
    }
    double move = taken_cents / start.cents_per_mm;
    for (int i = 0; i < ROUNDS && move != 0.0; i++) {
        double left = 0.0;
        if (sb_saddle_error_after(geometry, error_cents, move, &left) != SB_OK ||
            !((error_cents - left) / move > 0.0)) {
            return SB_E_RANGE;
        }
        move *= taken_cents / (error_cents - left);
    }
    *move_mm = move;
    return SB_OK;
}

sb_verdict sb_verdict_for(double error_cents, double std_error_cents, double tolerance_cents) {
    const double size = fabs(error_cents);

    if (!(std_error_cents <= SB_TRUSTED_STD_ERROR_CENTS) || !(size <= SB_MAX_ERROR_CENTS)) {
        return SB_VERDICT_MEASURE_AGAIN;
    }
    return size <= tolerance_cents || size <= std_error_cents ? SB_VERDICT_LEAVE : SB_VERDICT_MOVE;
}
