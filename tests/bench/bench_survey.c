/* bench_survey: how well a survey finds what is at fault on simulated necks.
 *
 *   bench_survey [necks=500] [seed=1] [scatter=0.2]
 *
 * Necks are whole elastic strings (tests/support/necks.h) read at frets 1 2 3 5 7 9 12 15 17 once
 * each with normal scatter. Three things may be known: nothing but the scale; the string (EA/T
 * within 5 %) and its heights; and besides, the slot by a feeler gauge (0.015 mm). Wanted: saddle
 * and nut within 0.1 mm and the slot within 0.03 mm in 95 of 100; a fret 3 cents out found in 95,
 * with under 2 false alarms. Then what the Fisher matrix allows at all. Fails nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/survey.h"
#include "tests/support/necks.h"

typedef struct {
    unsigned long necks, seed;
    double scatter_cents;
} options;

typedef enum { NOTHING, STRING, FEELER, KNOWN } knowledge;

static const char *const known_names[KNOWN] = {"nothing", "string", "feeler"};

/* What is put out, and how far. */
typedef struct {
    const char *name;
    double saddle_mm, nut_mm, slot_low_mm, slot_high_mm, bad_cents;
} fault_kind;

static const fault_kind kinds[] = {
    {"nothing", 0, 0, 0, 0, 0},
    {"saddle", 3, 0, 0, 0, 0},
    {"nut", 0, 1, 0, 0, 0},
    {"saddle, nut", 3, 1, 0, 0, 0},
    {"slot", 0, 0, 0.2, 0.8, 0},
    {"saddle, slot", 3, 0, 0.2, 0.8, 0},
    {"saddle, nut, slot", 3, 1, 0.2, 0.8, 0},
    {"fret", 0, 0, 0, 0, 3},
    {"fret, saddle, nut", 3, 1, 0, 0, 3},
};

enum { KINDS = sizeof kinds / sizeof *kinds };

typedef struct {
    unsigned long near[SB_PARTS], verdict[SB_SURVEY_UNDECIDED + 1], found, alarms, adequate;
    double squares[SB_PARTS];
} tally;

static neck_fault fault_of(const fault_kind *kind, prng *rng) {
    const bool sharp = prng_next(rng) % 2;
    return (neck_fault){.saddle_mm = prng_uniform(rng, -1.0, 1.0) * kind->saddle_mm,
                        .nut_mm = prng_uniform(rng, -1.0, 1.0) * kind->nut_mm,
                        .slot_mm = prng_uniform(rng, kind->slot_low_mm, kind->slot_high_mm),
                        .bad_fret = kind->bad_cents > 0.0
                                        ? necks_default_frets[prng_next(rng) % NECKS_DEFAULT_FRETS]
                                        : 0,
                        .bad_cents = sharp ? kind->bad_cents : -kind->bad_cents};
}

static sb_survey_options options_for(const neck_string *s, const neck_fault *f, knowledge known,
                                     prng *rng) {
    sb_survey_options o = {.neck = {s->scale_mm, SB_GOOD_SLOT_MM,
                                    sb_saddle_height_mm(SB_GOOD_SLOT_MM, 12, SB_ACTION_MM)},
                           .kappa = sb_kappa_unknown(SB_MATERIAL_STEEL),
                           .tolerance_cents = 1.0};
    if (known >= STRING) {
        o.kappa = (sb_kappa){s->kappa * exp(0.049 * prng_normal(rng)), 1.05};
        o.neck = (sb_straight_neck){s->scale_mm, s->slot_mm, s->saddle_height_mm};
    }
    if (known == FEELER) {
        o.slot_std_error_mm = 0.015;
        o.slot_mm = fmax(f->slot_mm + 0.015 * prng_normal(rng), -0.9 * s->slot_mm);
    }
    return o;
}

static void survey_one(const options *o, const fault_kind *kind, knowledge known, prng *rng,
                       tally *t) {
    const neck_string s = necks_random(rng);
    const neck_fault f = fault_of(kind, rng);
    sb_survey_reading r[NECKS_DEFAULT_FRETS];
    sb_survey got;
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++) {
        const int fret = necks_default_frets[i];
        const double heard = necks_error_cents(&s, &f, fret) + o->scatter_cents * prng_normal(rng);
        r[i] = (sb_survey_reading){fret, 100.0 * fret, heard, o->scatter_cents, 1.0};
    }
    const sb_survey_options told = options_for(&s, &f, known, rng);
    if (sb_survey_string(r, NECKS_DEFAULT_FRETS, &told, &got) != SB_OK)
        return;
    const double truth[] = {f.saddle_mm, f.nut_mm, f.slot_mm}, wanted[] = {0.1, 0.1, 0.03};
    bool alarm = false;
    for (int p = 0; p < SB_PARTS; p++) {
        t->near[p] += fabs(got.excess_mm[p] - truth[p]) <= wanted[p];
        t->squares[p] += pow(got.excess_mm[p] - truth[p], 2.0);
    }
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++) {
        t->found += got.bad[i] && r[i].fret == f.bad_fret;
        alarm = alarm || (got.bad[i] && r[i].fret != f.bad_fret);
    }
    t->alarms += alarm;
    t->verdict[got.verdict]++;
    t->adequate += got.adequate;
}

static void print_rates(const options *o) {
    prng rng = prng_seeded(o->seed);
    printf("%lu necks a row, readings scatter by %g cents; per cent of necks\n", o->necks,
           o->scatter_cents);
    printf("%-18s %-8s within 0.1, 0.1, 0.03 mm   RMS error, mm           false   bad    verdict\n",
           "put out", "known");
    printf("%-18s %-8s saddle   nut  slot   saddle    nut   slot   alarms  fret   true saddle "
           "nut slot fret undecided\n",
           "", "");
    for (int k = 0; k < KINDS; k++)
        for (int known = NOTHING; known < KNOWN; known++) {
            tally t = {.found = 0};
            for (unsigned long i = 0; i < o->necks; i++)
                survey_one(o, &kinds[k], (knowledge)known, &rng, &t);
            const double n = (double)o->necks;
            printf("%-18s %-8s", kinds[k].name, known_names[known]);
            for (int p = 0; p < SB_PARTS; p++)
                printf(" %5.1f", 100.0 * (double)t.near[p] / n);
            printf("  ");
            for (int p = 0; p < SB_PARTS; p++)
                printf("  %.3f", sqrt(t.squares[p] / n));
            printf("  %6.1f", 100.0 * (double)t.alarms / n);
            if (kinds[k].bad_cents > 0.0)
                printf(" %6.1f ", 100.0 * (double)t.found / n);
            else
                printf("      - ");
            for (int v = 0; v <= SB_SURVEY_UNDECIDED; v++)
                printf(" %5.1f", 100.0 * (double)t.verdict[v] / n);
            printf("\n");
        }
}

/* Standard errors that no method can beat, at slot excesses and strings. */
static void print_bounds(const options *o) {
    static const double kappas[] = {50.0, 143.0, 250.0, 403.0}, slots[] = {0.1, 0.3, 0.6};
    static const struct {
        const char *name;
        unsigned free;
        double factor, slot_error_mm;
    } cases[] = {
        {"saddle and nut", 3U, 1.05, 0.0},        {"saddle and slot, string known", 5U, 1.05, 0.0},
        {"all, string not known", 7U, 1.5, 0.0},  {"all, string known", 7U, 1.05, 0.0},
        {"all, slot by feeler", 7U, 1.05, 0.015},
    };
    sb_survey_reading r[NECKS_DEFAULT_FRETS];
    for (int i = 0; i < NECKS_DEFAULT_FRETS; i++)
        r[i] = (sb_survey_reading){necks_default_frets[i], 100.0 * necks_default_frets[i], 0.0,
                                   o->scatter_cents, 1.0};
    printf("\nCramer-Rao bounds, standard error in mm of saddle, nut, slot; 95 of 100 within the\n"
           "wanted figures needs 0.051, 0.051, 0.0153\n%-31s slot ",
           "fitted");
    for (size_t k = 0; k < sizeof kappas / sizeof *kappas; k++)
        printf("  EA/T %-13.0f", kappas[k]);
    printf("\n");
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++)
        for (size_t h = 0; h < sizeof slots / sizeof *slots; h++) {
            printf("%-31s %.1f ", h == 0 ? cases[c].name : "", slots[h]);
            for (size_t k = 0; k < sizeof kappas / sizeof *kappas; k++) {
                double error[SB_PARTS] = {0};
                const sb_survey_options told = {.neck = {647.7, SB_GOOD_SLOT_MM, 3.35},
                                                .kappa = {kappas[k], cases[c].factor},
                                                .slot_mm = slots[h],
                                                .slot_std_error_mm = cases[c].slot_error_mm,
                                                .tolerance_cents = 1.0};
                const sb_faults f = {.slot_mm = slots[h], .kappa = kappas[k]};
                if (sb_survey_bound(r, NECKS_DEFAULT_FRETS, &told, &f, cases[c].free, error) ==
                    SB_OK)
                    printf("  %.3f %.3f %.3f", error[0], error[1], error[2]);
            }
            printf("\n");
        }
}

static bool read_option(options *o, const char *text) {
    char *end = NULL;
    if (strncmp(text, "necks=", 6) == 0)
        o->necks = strtoul(text + 6, &end, 10);
    else if (strncmp(text, "seed=", 5) == 0)
        o->seed = strtoul(text + 5, &end, 10);
    else if (strncmp(text, "scatter=", 8) == 0)
        o->scatter_cents = strtod(text + 8, &end);
    return end && *end == '\0';
}

int main(int argc, char *argv[]) {
    options o = {500, 1, 0.2};
    for (int i = 1; i < argc; i++)
        if (!read_option(&o, argv[i])) {
            fputs("usage: bench_survey [necks=500] [seed=1] [scatter=0.2]\n", stderr);
            return 64;
        }
    print_rates(&o);
    print_bounds(&o);
    return 0;
}
