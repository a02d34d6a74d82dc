#include <math.h>

#include "tests/support/specimen.h"

#define PI          3.14159265358979323846
#define LB_IN       17.857967322834646 /* kg/m in a pound an inch */
#define STEEL_MPA   203000.0
#define STEEL_KG_M3 7806.0
#define NYLON_MM    650.0 /* the length that the nylon figures were taken at */
#define OFF_MM      4.0   /* a saddle starts up to so far from where it should be */

/* A string as it is bought: plain steel where core_in is 0, nylon where kappa is given. */
typedef struct {
    const char *note;
    int semitone; /* from A4 */
    double gauge_in, core_in;
    double kappa, b, tension_n;
} stock;

typedef struct {
    const char *name;
    double scale_mm, spacing_mm;
    double thread_mm;    /* 0 = by hand */
    double action_mm[2]; /* over fret 12, least and most */
    size_t n_strings, strings_a_saddle;
    bool slant;
    const stock *strings;
} kind_row;

static const stock light_steel[] = {
    {"E4", -5, 0.010, 0.0, 0.0, 0.0, 0.0},    {"B3", -10, 0.013, 0.0, 0.0, 0.0, 0.0},
    {"G3", -14, 0.017, 0.0, 0.0, 0.0, 0.0},   {"D3", -19, 0.026, 0.014, 0.0, 0.0, 0.0},
    {"A2", -24, 0.036, 0.014, 0.0, 0.0, 0.0}, {"E2", -29, 0.046, 0.016, 0.0, 0.0, 0.0},
};
static const stock heavy_steel[] = {
    {"E4", -5, 0.012, 0.0, 0.0, 0.0, 0.0},    {"B3", -10, 0.016, 0.0, 0.0, 0.0, 0.0},
    {"G3", -14, 0.024, 0.011, 0.0, 0.0, 0.0}, {"D3", -19, 0.032, 0.014, 0.0, 0.0, 0.0},
    {"A2", -24, 0.042, 0.016, 0.0, 0.0, 0.0}, {"E2", -29, 0.053, 0.018, 0.0, 0.0, 0.0},
};
static const stock bass[] = {
    {"G2", -26, 0.045, 0.018, 0.0, 0.0, 0.0},
    {"D2", -31, 0.065, 0.020, 0.0, 0.0, 0.0},
    {"A1", -36, 0.085, 0.024, 0.0, 0.0, 0.0},
    {"E1", -41, 0.105, 0.028, 0.0, 0.0, 0.0},
};
static const stock nylon[] = {
    {"E4", -5, 0.0280, 0.0, 48.2, 0.00190, 68.6},   {"B3", -10, 0.0322, 0.0, 48.7, 0.00220, 52.0},
    {"G3", -14, 0.0403, 0.0, 58.6, 0.00301, 54.2},  {"D3", -19, 0.0290, 0.01, 46.0, 0.00192, 70.0},
    {"A2", -24, 0.0350, 0.01, 48.7, 0.00239, 67.3}, {"E2", -29, 0.0430, 0.01, 58.2, 0.00321, 62.8},
};
static const stock mandolin[] = {
    {"E5", 7, 0.010, 0.0, 0.0, 0.0, 0.0},
    {"A4", 0, 0.014, 0.0, 0.0, 0.0, 0.0},
    {"D4", -7, 0.024, 0.011, 0.0, 0.0, 0.0},
    {"G3", -14, 0.038, 0.014, 0.0, 0.0, 0.0},
};

static const kind_row rows[SPECIMEN_KINDS] = {
    [SPECIMEN_ELECTRIC] = {"electric", 647.7, 10.5, 0.635, {1.2, 2.2}, 6, 1, false, light_steel},
    [SPECIMEN_SHORT] = {"short electric", 628.65, 10.4, 0.7, {1.2, 2.2}, 6, 1, false, light_steel},
    [SPECIMEN_BASS] = {"bass", 863.6, 19.0, 0.5, {1.6, 3.0}, 4, 1, false, bass},
    [SPECIMEN_PAIRS] =
        {"three saddles", 647.7, 10.8, 0.79375, {1.2, 2.2}, 6, 2, false, light_steel},
    [SPECIMEN_BAR] = {"bar", 628.65, 10.4, 0.7, {1.2, 2.2}, 6, 6, true, light_steel},
    [SPECIMEN_STEEL_FLAT] = {"steel, flat", 645.0, 10.8, 0.0, {1.6, 2.8}, 6, 6, false, heavy_steel},
    [SPECIMEN_NYLON_FLAT] = {"nylon, flat", 650.0, 11.6, 0.0, {2.8, 4.0}, 6, 6, false, nylon},
    [SPECIMEN_MANDOLIN] = {"mandolin", 353.0, 13.0, 0.0, {1.2, 2.0}, 4, 4, true, mandolin},
};

const char *specimen_name(specimen_kind kind) {
    return rows[kind].name;
}

bool specimen_is_single(specimen_kind kind) {
    return rows[kind].strings_a_saddle == 1;
}

static double open_hz(const stock *s) {
    return 440.0 * pow(2.0, s->semitone / 12.0);
}

static wire nylon_wire(const stock *s) {
    const double speed = 2.0 * NYLON_MM / 1000.0 * open_hz(s);
    wire w = wire_at(s->tension_n, s->kappa, s->tension_n / (speed * speed));
    w.bending_nmm2 = pow(s->b * NYLON_MM, 2.0) * s->tension_n;
    return w;
}

static wire steel_wire(const stock *s) {
    const double gauge_m = s->gauge_in * 0.0254;
    const double core_mm = (s->core_in > 0.0 ? s->core_in : s->gauge_in) * 25.4;
    return (wire){.axial_n = STEEL_MPA * PI * core_mm * core_mm / 4.0,
                  .bending_nmm2 = STEEL_MPA * PI * pow(core_mm, 4.0) / 64.0,
                  .unit_mass = s->core_in > 0.0 ? 0.18 * s->gauge_in * s->gauge_in * LB_IN
                                                : STEEL_KG_M3 * PI * gauge_m * gauge_m / 4.0};
}

static wire random_wire(const stock *s, prng *rng) {
    wire w = s->kappa > 0.0 ? nylon_wire(s) : steel_wire(s);
    w.axial_n *= prng_uniform(rng, 0.92, 1.08);
    w.bending_nmm2 *= prng_uniform(rng, 0.85, 1.15);
    w.unit_mass *= prng_uniform(rng, 0.98, 1.02);
    w.clamped_ends = prng_uniform(rng, 0.8, 1.4);
    return w;
}

/* What all strings of an instrument share. */
typedef struct {
    double relief_mm, wear_mm, action_mm, beyond_mm;
} neck_state;

static strung random_strung(const kind_row *row, const stock *s, const neck_state *neck,
                            prng *rng) {
    const wire w = random_wire(s, rng);
    const double nut_z = prng_uniform(rng, 0.15, 0.6);
    strung out = strung_on(&w, row->scale_mm, nut_z, nut_z);
    for (int n = 1; n <= STRUNG_FRETS; n++)
        out.crown[n].x_mm += 0.04 * prng_normal(rng);
    strung_bow(&out, neck->relief_mm, row->scale_mm * (1.0 - pow(2.0, -16.0 / 12.0)));
    for (int n = 1; n <= STRUNG_FRETS; n++)
        strung_wear(&out, n, neck->wear_mm * prng_uniform(rng, 0.0, 1.0), 1.2,
                    prng_uniform(rng, -0.5, 1.0));
    const side_point octave = out.crown[STRUNG_FRETS];
    const double height = neck->action_mm + prng_uniform(rng, -0.15, 0.15);
    out.saddle.z_mm = nut_z + (octave.z_mm + height - nut_z) * row->scale_mm / octave.x_mm;
    out.nut.x_mm = 0.15 * prng_normal(rng);
    out.finger_behind_mm = prng_uniform(rng, 3.0, 12.0);
    out.finger_below_mm = out.finger_behind_mm * prng_uniform(rng, 0.0, 0.03);
    out.beyond_mm = neck->beyond_mm;
    return out;
}

static saddle_end random_end(const kind_row *row, double across_mm, prng *rng) {
    const double play = row->thread_mm > 0.0 ? prng_uniform(rng, 0.0, 0.15) : 0.0;
    const double off = prng_uniform(rng, -OFF_MM, OFF_MM);
    return (saddle_end){.across_mm = across_mm,
                        .thread_mm = row->thread_mm,
                        .play_mm = play,
                        .screw_mm = off + play * prng_uniform(rng, -0.5, 0.5),
                        .place_mm = off};
}

static void add_saddles(specimen *f, const kind_row *row, prng *rng) {
    for (size_t i = 0; i < row->n_strings; i += row->strings_a_saddle) {
        specimen_saddle *s = &f->saddles[f->n_saddles++];
        *s = (specimen_saddle){.first = i, .count = row->strings_a_saddle, .slant = row->slant};
        const double near_mm = f->spacing_mm * (double)i;
        const double far_mm = f->spacing_mm * (double)(i + s->count - 1);
        s->ends[0] = random_end(row, near_mm - 8.0, rng);
        s->ends[1] = random_end(row, far_mm + 8.0, rng);
    }
}

/* Origins about where the strings want their saddles: on a shared one in the middle of these. */
static void set_origins(specimen *f) {
    double wanted[SPECIMEN_STRINGS];
    for (size_t i = 0; i < f->n_strings; i++)
        wanted[i] = strung_true_saddle_mm(&f->strings[i], f->open_hz[i], STRUNG_FRETS);
    for (size_t k = 0; k < f->n_saddles; k++) {
        const specimen_saddle *s = &f->saddles[k];
        double sum = 0.0;
        for (size_t i = s->first; i < s->first + s->count; i++)
            sum += wanted[i];
        for (size_t i = s->first; i < s->first + s->count; i++)
            f->origin_mm[i] = sum / (double)s->count;
    }
}

specimen specimen_random(specimen_kind kind, prng *rng) {
    const kind_row *row = &rows[kind];
    const neck_state neck = {prng_uniform(rng, 0.05, 0.35), prng_uniform(rng, 0.0, 0.25),
                             prng_uniform(rng, row->action_mm[0], row->action_mm[1]),
                             prng_uniform(rng, 0.0, 150.0)};
    specimen f = {
        .scale_mm = row->scale_mm, .spacing_mm = row->spacing_mm, .n_strings = row->n_strings};
    for (size_t i = 0; i < f.n_strings; i++) {
        const stock *s = &row->strings[i];
        f.notes[i] = s->note;
        f.gauge_in[i] = s->gauge_in;
        f.wound[i] = s->core_in > 0.0;
        f.open_hz[i] = open_hz(s);
        f.strings[i] = random_strung(row, s, &neck, rng);
    }
    add_saddles(&f, row, rng);
    set_origins(&f);
    for (size_t k = 0; k < f.n_saddles; k++)
        specimen_move(&f, k, 0, 0.0);
    for (size_t i = 0; i < f.n_strings; i++)
        strung_tune(&f.strings[i], f.open_hz[i]);
    return f;
}
