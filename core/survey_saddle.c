#include "core/survey_saddle.h"

#include <math.h>

#define TURNS    20
#define HALVINGS 30
#define STEP_MM  1e-4

static double square(double x) {
    return x * x;
}

/* The player's weight; all alike where no fret that counts has any. */
static double weight_of(const sb_survey_data *data, size_t i, bool any) {
    if (data->out[i] || data->readings[i].fret == 0) {
        return 0.0;
    }
    return any ? data->readings[i].weight : 1.0;
}

static bool has_weight(const sb_survey_data *data) {
    for (size_t i = 0; i < data->n; i++) {
        if (weight_of(data, i, true) > 0.0) {
            return true;
        }
    }
    return false;
}

/* What is to be made least, at one move. */
typedef struct {
    const sb_survey_data *data;
    sb_faults faults;
    bool weights;
    double open_cents, open_error; /* the open string's own reading */
    double fall, stiff;            /* of half the sum of squares, per mm and mm^2 */
    double variance;               /* of the fall */
} aim;

static void read_open(aim *a) {
    for (size_t i = 0; i < a->data->n; i++) {
        if (a->data->readings[i].fret == 0) {
            a->open_cents = a->data->readings[i].error_cents;
            a->open_error = a->data->std_error[i];
        }
    }
}

static double after(const aim *a, size_t i, double move_mm) {
    const sb_survey_reading *r = &a->data->readings[i];

    return r->error_cents - a->open_cents +
           sb_faults_move_cents(&a->data->options->neck, &a->faults, r->fret_cents, move_mm);
}

static void take_aim(aim *a, double move_mm) {
    double common = 0.0;

    a->fall = a->stiff = a->variance = 0.0;
    for (size_t i = 0; i < a->data->n; i++) {
        const double error = a->data->std_error[i];
        const double pull = weight_of(a->data, i, a->weights) / square(error);
        if (pull == 0.0) {
            continue; /* it may stand where there is no string any more */
        }
        const double here = after(a, i, move_mm);
        const double slope = (after(a, i, move_mm + STEP_MM) - here) / STEP_MM;
        a->fall -= pull * slope * here;
        a->stiff += pull * square(slope);
        a->variance += square(pull * slope * error);
        common += pull * slope;
    }
    a->variance += square(common * a->open_error);
}

/* What is made least; NaN where the saddle would stand before a fret. */
static double sum_of_squares(const aim *a, double move_mm) {
    double sum = 0.0;

    for (size_t i = 0; i < a->data->n; i++) {
        const double pull = weight_of(a->data, i, a->weights) / square(a->data->std_error[i]);
        sum += pull > 0.0 ? pull * square(after(a, i, move_mm)) : 0.0;
    }
    return sum;
}

/* The whole step, or as many halves of it as do no harm; false where none does not. */
static bool go(const aim *a, double *move_mm) {
    const double before = sum_of_squares(a, *move_mm);
    double step = a->fall / a->stiff;

    for (int h = 0; h < HALVINGS; h++) {
        if (sum_of_squares(a, *move_mm + step) <= before) {
            *move_mm += step;
            return true;
        }
        step *= 0.5;
    }
    return false;
}

/* Gauss and Newton in one unknown. */
void sb_survey_move_saddle(const sb_survey_data *data, const sb_survey_fit *fit, sb_survey *out) {
    aim a = {.data = data, .faults = sb_survey_faults(fit->value), .weights = has_weight(data)};
    double move = 0.0;
    double sum = 0.0;
    double all = 0.0;

    read_open(&a);
    take_aim(&a, move);
    for (int turn = 0; turn < TURNS && go(&a, &move); turn++) {
        take_aim(&a, move);
    }
    out->saddle_only_mm = move;
    out->saddle_only_std_error_mm = sqrt(a.variance) / a.stiff;
    for (size_t i = 0; i < data->n; i++) {
        const double weight = weight_of(data, i, a.weights);
        out->saddle_only_cents[i] = data->readings[i].fret == 0 ? 0.0 : after(&a, i, move);
        sum += weight > 0.0 ? weight * square(out->saddle_only_cents[i]) : 0.0;
        all += weight;
    }
    out->saddle_only_rms_cents = sqrt(sum / all);
}
