#include "core/wire.h"

#include <math.h>

#include "core/length.h"

#define PI               3.14159265358979323846
#define MM               1e-3 /* m */
#define STEEL_KG_M3      7806.0
#define CORE_ERROR       0.10 /* of a wound steel string's core */
#define THICK_CORE_ERROR 0.15
#define THICK_IN         0.046
#define THICK_ERROR_IN   0.060
#define GAUGE_ERROR      0.01
#define LAW_KG_M         4.2924e-3 /* a wound nylon string's mass at 1 mm */
#define LAW_POWER        2.665
#define WINDING_PART     0.05 /* of a wound steel string's EI */
#define BENDING_ERROR    0.32 /* of sqrt(EI) of a wound polymer string: 0.15/0.47 */

/* A material's figures, plain and wound; see the header for the sources. */
typedef struct {
    double kg_m3, kg_m3_error;    /* of a plain string, or the winding's; 0 = the power law */
    double modulus_pa, over_pull; /* E, or 0 and EA/T */
    double stretch_error;
} figures;

static const figures table[SB_MATERIALS][2] = {
    {{7806, 0.003, 203e9, 0, 0.035}, {7950, 0.02, 203e9, 0, 0.035}},
    {{7806, 0.003, 203e9, 0, 0.035}, {8800, 0.03, 203e9, 0, 0.035}},
    {{972, 0.03, 0, 61, 0.25}, {0, 0.035, 0, 51, 0.09}},
    {{1610, 0.01, 0, 49.5, 0.08}, {0, 0.035, 0, 51, 0.09}},
    {{1300, 0.05, 6e9, 0, 0.25}, {0, 0.10, 0, 51, 0.25}},
};

/* What is worked with on the way from data to wire. */
typedef struct {
    const sb_wire_data *data;
    const figures *figures;
    const double *shift;
    double gauge_m;
    double span_m; /* of the scale */
} work;

const char *sb_material_text(sb_material material) {
    static const char *const names[SB_MATERIALS] = {"steel", "bronze", "nylon", "fluorocarbon",
                                                    "gut"};
    return names[material];
}

static double area(double diameter_m) {
    return PI / 4.0 * diameter_m * diameter_m;
}

/* A figure of the model, moved as the caller asked. */
static double moved(const work *w, sb_unsure which, double relative_error) {
    return 1.0 + (w->shift ? w->shift[which] * relative_error : 0.0);
}

static bool within_or_none(double value, double least, double most) {
    return value == 0.0 || (value >= least && value <= most); /* false for NaN */
}

static bool valid(const sb_wire_data *d, double scale_mm, double hz) {
    return within_or_none(d->gauge_mm, 0.05, 5.0) && within_or_none(d->core_mm, 0.05, 5.0) &&
           within_or_none(d->unit_mass_kg_m, 1e-5, 0.1) &&
           within_or_none(d->tension_n, 1.0, 2000.0) && within_or_none(d->modulus_pa, 1e8, 1e12) &&
           within_or_none(d->inharmonicity, 1e-9, 0.1) && d->inharmonicity_std_error >= 0.0 &&
           isfinite(d->inharmonicity_std_error) && scale_mm >= 100.0 && scale_mm <= 2000.0 &&
           hz >= 5.0 && hz <= 20000.0 && (int)d->material >= 0 && d->material < SB_MATERIALS &&
           (d->gauge_mm == 0.0 || d->core_mm <= d->gauge_mm * (1.0 + 1e-9));
}

/* The diameter, told or the one that its mass asks for; 0 where there is no telling. */
static double diameter_m(const work *w, double mass_kg_m) {
    const sb_wire_data *d = w->data;
    if (d->gauge_mm > 0.0)
        return d->gauge_mm * MM;
    if (!d->wound && d->core_mm > 0.0)
        return d->core_mm * MM;
    if (!d->wound && mass_kg_m > 0.0)
        return sqrt(4.0 * mass_kg_m / (PI * w->figures->kg_m3));
    return 0.0;
}

static bool steel_core(const sb_wire_data *d) {
    return d->material == SB_MATERIAL_STEEL || d->material == SB_MATERIAL_BRONZE;
}

/* The core of a wound steel string, by its gauge. */
static double usual_core_m(double gauge_m) {
    const double inch = SB_MM_PER_INCH * MM, thick_m = THICK_IN * inch;
    const double usual = 0.0115 * inch + 0.1 * fmin(gauge_m, thick_m);
    return fmin(0.57 * gauge_m, usual + 0.17 * fmax(gauge_m - thick_m, 0.0));
}

static double core_m(const work *w, sb_wire *out) {
    const sb_wire_data *d = w->data;
    out->core_from = d->core_mm > 0.0 ? SB_FROM_DATA : SB_FROM_MODEL;
    if (d->core_mm > 0.0)
        return d->core_mm * MM;
    if (!d->wound)
        return w->gauge_m * moved(w, SB_UNSURE_CORE, GAUGE_ERROR);
    if (!steel_core(d))
        return w->gauge_m;
    const bool thick = w->gauge_m > THICK_ERROR_IN * SB_MM_PER_INCH * MM;
    return usual_core_m(w->gauge_m) *
           moved(w, SB_UNSURE_CORE, thick ? THICK_CORE_ERROR : CORE_ERROR);
}

static double usual_mass(const work *w, double core) {
    const figures *f = w->figures;
    const double change = moved(w, SB_UNSURE_MASS, f->kg_m3_error);
    if (!w->data->wound)
        return f->kg_m3 *
               area(w->data->gauge_mm > 0.0 && w->data->core_mm > 0.0 ? w->gauge_m : core) * change;
    if (f->kg_m3 == 0.0)
        return LAW_KG_M * pow(w->gauge_m / MM, LAW_POWER) * change;
    return (STEEL_KG_M3 * area(core) + PI / 4.0 * f->kg_m3 * (area(w->gauge_m) - area(core))) *
           change;
}

static double known_mass(const work *w, double hz) {
    const double speed = 2.0 * w->span_m * hz;
    return w->data->tension_n > 0.0 ? w->data->tension_n / (speed * speed)
                                    : w->data->unit_mass_kg_m;
}

static void set_stretch(const work *w, sb_wire *out) {
    const figures *f = w->figures;
    const double core_area = area(out->core_mm * MM);
    out->stretch_from = w->data->modulus_pa > 0.0 ? SB_FROM_DATA : SB_FROM_MODEL;
    out->modulus_pa = w->data->modulus_pa;
    if (out->modulus_pa == 0.0)
        out->modulus_pa =
            (f->modulus_pa > 0.0 ? f->modulus_pa : f->over_pull * out->tension_n / core_area) *
            moved(w, SB_UNSURE_STRETCH, f->stretch_error);
    out->stretch_n = out->modulus_pa * core_area;
}

static double bending(double modulus_pa, double diameter) {
    return modulus_pa * PI / 64.0 * pow(diameter, 4.0);
}

static void set_bending(const work *w, sb_wire *out) {
    const bool doubtful = w->data->wound && !steel_core(w->data);
    const double change = doubtful ? moved(w, SB_UNSURE_BENDING, BENDING_ERROR) : 1.0;
    out->bending_from = out->stretch_from;
    out->bending_nm2 = bending(out->modulus_pa, out->core_mm * MM) * change * change;
}

/* What was heard in place of what was guessed. */
static void set_heard(const work *w, sb_wire *out) {
    const sb_wire_data *d = w->data;
    const double relative_error = d->inharmonicity_std_error / d->inharmonicity;
    out->bending_from = SB_FROM_READING;
    out->bending_nm2 = d->inharmonicity * fmax(moved(w, SB_UNSURE_BENDING, relative_error), 0.0) *
                       out->tension_n * w->span_m * w->span_m / (PI * PI);
    if (!d->wound || !steel_core(d) || d->core_mm > 0.0)
        return;
    const double core = pow(64.0 * out->bending_nm2 / (PI * out->modulus_pa), 0.25) *
                        moved(w, SB_UNSURE_CORE, WINDING_PART / 4.0);
    out->core_from = out->stretch_from = SB_FROM_READING;
    out->core_mm = core / MM;
    out->stretch_n = out->modulus_pa * area(core);
}

sb_status sb_wire_make(const sb_wire_data *data, double scale_mm, double hz, const double shift[],
                       sb_wire *out) {
    sb_wire wire = {.mass_from = SB_FROM_MODEL};
    if (!valid(data, scale_mm, hz))
        return SB_E_RANGE;
    work w = {data, &table[data->material][data->wound], shift, 0.0, scale_mm * MM};
    const double speed = 2.0 * w.span_m * hz, mass = known_mass(&w, hz);
    w.gauge_m = diameter_m(&w, mass);
    if (w.gauge_m == 0.0 && !(mass > 0.0 && data->core_mm > 0.0))
        return SB_E_UNDETERMINED;
    wire.core_mm = core_m(&w, &wire) / MM;
    wire.mass_from = mass > 0.0 ? SB_FROM_DATA : SB_FROM_MODEL;
    wire.unit_mass_kg_m = mass > 0.0 ? mass : usual_mass(&w, wire.core_mm * MM);
    wire.tension_n = wire.unit_mass_kg_m * speed * speed;
    set_stretch(&w, &wire);
    set_bending(&w, &wire);
    if (data->inharmonicity > 0.0)
        set_heard(&w, &wire);
    wire.inharmonicity = PI * PI * wire.bending_nm2 / (wire.tension_n * w.span_m * w.span_m);
    if (wire.core_from == SB_FROM_READING && w.gauge_m > 0.0 && wire.core_mm * MM > w.gauge_m)
        return SB_E_RANGE;
    *out = wire;
    return SB_OK;
}

sb_status sb_wire_inharmonicity(const sb_wire_data *data, double scale_mm, double hz, double *b,
                                double *std_error) {
    sb_wire wire, up, down;
    double var = 0.0;
    sb_status status = sb_wire_make(data, scale_mm, hz, NULL, &wire);

    for (int i = 0; i < SB_UNSURES && status == SB_OK; i++) {
        double shift[SB_UNSURES] = {0.0};
        shift[i] = 1.0;
        status = sb_wire_make(data, scale_mm, hz, shift, &up);
        shift[i] = -1.0;
        if (status == SB_OK) {
            status = sb_wire_make(data, scale_mm, hz, shift, &down);
        }
        if (status == SB_OK) {
            const double half = 0.5 * (up.inharmonicity - down.inharmonicity);
            var += half * half;
        }
    }
    if (status == SB_OK) {
        *b = wire.inharmonicity;
        *std_error = sqrt(var);
    }
    return status;
}
