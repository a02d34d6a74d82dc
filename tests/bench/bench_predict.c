/* bench_predict: predicted against published compensation.
 *
 * The tables of Anderson & Beausoleil (2024), of Byers (1996), and of a steel set; the model from
 * gauge alone against what was measured; and the most that the closed forms are off finite
 * elements is in tests/test_fretted.c. Fails nothing.
 */
#include <math.h>
#include <stdio.h>

#include "core/compensate.h"
#include "tests/support/published.h"

#define INCH_MM 25.4

typedef struct {
    double worst, squares;
    size_t n;
} spread;

static void gather(spread *s, double off) {
    s->worst = fmax(s->worst, fabs(off));
    s->squares += off * off;
    s->n++;
}

static void print_spread(const char *what, const spread *s) {
    printf("%-34s %3zu   RMS %.4f   worst %.4f\n", what, s->n, sqrt(s->squares / (double)s->n),
           s->worst);
}

static sb_compensation solve(const char *note, bool nut, double ends, const sb_wire_data *d) {
    sb_compensation_task t = {
        .neck = {.scale_mm = 650.0, .nut_height_mm = 1.0, .rise_mm = 4.0},
        .hz = published_hz(note),
        .ends = ends,
        .ends_std_error = SB_ENDS_STD_ERROR,
        .n_frets = 12,
        .nut = nut,
    };
    sb_compensation c = {.saddle_mm = (double)NAN};
    for (int i = 0; i < 12; i++)
        t.frets[i] = i + 1;
    if (sb_compensate(&t, d, &c) != SB_OK)
        printf("%s: no solution\n", note);
    return c;
}

static sb_wire_data nylon(const published_string *s) {
    return (sb_wire_data){.material = SB_MATERIAL_NYLON,
                          .gauge_mm = 2.0 * s->radius_mm,
                          .core_mm = 2.0 * s->radius_mm,
                          .unit_mass_kg_m = 1e-3 * s->unit_mass_g_m,
                          .modulus_pa = 1e9 * s->modulus_gpa};
}

static void print_setbacks(void) {
    spread saddle = {.n = 0}, nut = {.n = 0}, rms = {.n = 0}, tension = {.n = 0};
    size_t within = 0;
    printf("published (Anderson & Beausoleil 2024) and predicted, mm and cents\n"
           "%-16s %-4s | %6s %7s | %6s %7s | %6s %7s\n",
           "set", "note", "saddle", "", "nut", "", "RMS", "");
    for (size_t i = 0; i < PUBLISHED_STRINGS; i++) {
        const published_string *s = &published_strings[i];
        const sb_wire_data d = nylon(s);
        const sb_compensation c = solve(s->note, true, SB_ENDS_HYBRID, &d);
        printf("%-16s %-4s | %6.2f %7.3f | %6.2f %7.3f | %6.3f %7.3f\n", s->set, s->note,
               s->saddle_mm, c.saddle_mm, s->nut_mm, c.nut_mm, s->rms_cents, c.rms_cents);
        gather(&saddle, c.saddle_mm - s->saddle_mm);
        gather(&nut, c.nut_mm - s->nut_mm);
        gather(&rms, c.rms_cents - s->rms_cents);
        gather(&tension, c.wire.tension_n - s->tension_n);
        within += fabs(c.saddle_mm - s->saddle_mm) <= 0.05;
    }
    print_spread("saddle, mm (0.05 claimed)", &saddle);
    print_spread("nut, mm (0.02 claimed)", &nut);
    print_spread("RMS, cents (0.01 claimed)", &rms);
    print_spread("tension, N (0.1 claimed)", &tension);
    printf("saddles within 0.05 mm: %zu of %d\n", within, PUBLISHED_STRINGS);
}

/* What gauge and material alone come to, against the same string with its measured data. */
static void print_from_gauge(void) {
    spread saddle = {.n = 0}, nut = {.n = 0};
    size_t within = 0;
    for (size_t i = 0; i < PUBLISHED_STRINGS; i++) {
        const published_string *s = &published_strings[i];
        const bool wound = i % 6 > 2;
        const sb_wire_data known = nylon(s);
        const sb_wire_data gauge = {.material = i >= 24 && !wound ? SB_MATERIAL_FLUOROCARBON
                                                                  : SB_MATERIAL_NYLON,
                                    .wound = wound,
                                    .gauge_mm = 2.0 * s->radius_mm};
        const sb_compensation a = solve(s->note, true, SB_ENDS_HYBRID, &known);
        const sb_compensation b = solve(s->note, true, SB_ENDS_HYBRID, &gauge);
        gather(&saddle, b.saddle_mm - a.saddle_mm);
        gather(&nut, b.nut_mm - a.nut_mm);
        within += fabs(b.saddle_mm - a.saddle_mm) <= b.saddle_std_error_mm;
    }
    printf("\nfrom gauge and material alone, against measured data\n");
    print_spread("saddle, mm", &saddle);
    print_spread("nut, mm", &nut);
    printf("saddles within their stated error: %zu of %d (it counts the ends too)\n", within,
           PUBLISHED_STRINGS);
}

static void print_byers(void) {
    printf("\nByers 1996 (his heights and strings unknown) and the normal set, mm\n"
           "%-4s | %6s %7s %8s | %6s %7s\n",
           "note", "saddle", "hybrid", "clamped", "nut", "hybrid");
    for (size_t i = 0; i < PUBLISHED_BYERS; i++) {
        const published_byers *b = &published_byer[i];
        const sb_wire_data d = nylon(&published_strings[6 + i]);
        const sb_compensation hybrid = solve(b->note, true, SB_ENDS_HYBRID, &d);
        const sb_compensation clamped = solve(b->note, true, SB_ENDS_CLAMPED, &d);
        printf("%-4s | %6.1f %7.2f %8.2f | %6.1f %7.2f\n", b->note, b->saddle_mm, hybrid.saddle_mm,
               clamped.saddle_mm, b->nut_mm, hybrid.nut_mm);
    }
}

static double mass_off(double gauge_in, double lb_per_in, bool wound) {
    const sb_wire_data d = {.wound = wound, .gauge_mm = INCH_MM * gauge_in};
    sb_wire w = {.unit_mass_kg_m = (double)NAN};
    if (sb_wire_make(&d, 647.7, 150.0, NULL, &w) != SB_OK)
        printf("%.3f: no wire\n", gauge_in);
    return 100.0 * (w.unit_mass_kg_m / (LB_PER_IN * lb_per_in) - 1.0);
}

static void print_masses(void) {
    spread plain = {.n = 0}, wound = {.n = 0};
    for (size_t i = 0; i < PUBLISHED_PLAIN; i++)
        gather(&plain, mass_off(published_plain[i].gauge_in, published_plain[i].lb_per_in, false));
    for (size_t i = 0; i < PUBLISHED_WOUND; i++)
        gather(&wound, mass_off(published_wound[i].gauge_in, published_wound[i].lb_per_in, true));
    printf("\nunit mass from gauge, against a maker's published weights, %%\n");
    print_spread("plain steel", &plain);
    print_spread("nickel round-wound", &wound);
}

int main(void) {
    print_setbacks();
    print_from_gauge();
    print_byers();
    print_masses();
    return 0;
}
