/* bench_rounds: simulated instruments set up in rounds: how many strings come true, in how
 * many moves, and how near to the best a saddle comes that several strings share.
 *
 *   bench_rounds [instruments=100] [seed=1]
 *
 * Of each kind so many instruments, by numbers (tests/support/rounds.h). Fails nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/rounds.h"
#include "tests/support/rounds_table.h"

#define PI           3.14159265358979323846
#define CENTS_PER_LN 1731.2340490667561

static void head(const rounds_setting *s) {
    printf("  %s; %zu plucks of each note, hand %.2f mm, scatter %.2f cents\n",
           rounds_name(s->planner), s->plucks, s->hands.move_mm, s->hands.pluck_cents);
}

/* Strings with a saddle of their own: percent within 1 cent. */
static void bench_single(const rounds_setting *setting) {
    rounds_result all = {0};
    head(setting);
    rounds_head_single();
    for (int kind = 0; kind < SPECIMEN_KINDS; kind++) {
        if (!specimen_is_single((specimen_kind)kind))
            continue;
        rounds_result one = {0};
        rounds_run(setting, (specimen_kind)kind, &one);
        rounds_add(&all, &one);
        rounds_print_single(specimen_name((specimen_kind)kind), &one);
    }
    rounds_print_single("all", &all);
}

/* Shared saddles: cents beyond the best place's largest error. */
static void bench_shared(const rounds_setting *setting) {
    head(setting);
    rounds_head_shared();
    for (int kind = 0; kind < SPECIMEN_KINDS; kind++) {
        if (specimen_is_single((specimen_kind)kind))
            continue;
        rounds_result one = {0};
        rounds_run(setting, (specimen_kind)kind, &one);
        rounds_print_shared(specimen_name((specimen_kind)kind), &one);
    }
}

static rounds_setting usual(size_t instruments, uint64_t seed) {
    return (rounds_setting){
        .hands = hands_usual(0), .plucks = 2, .seed = seed, .instruments = instruments};
}

static void bench_planners(rounds_setting s, void (*table)(const rounds_setting *)) {
    for (int planner = 0; planner < ROUNDS_PLANNERS; planner++) {
        s.planner = (rounds_planner)planner;
        table(&s);
    }
}

/* What no planner can beat: one reading and one hand err independently and normally, the true
 * error after the move is their sum. */
static void print_limit(const rounds_setting *s, double scale_mm) {
    const double reading = s->hands.pluck_cents * sqrt(2.0 / (double)s->plucks);
    const double hand = s->hands.move_mm * CENTS_PER_LN / scale_mm;
    const double both = hypot(reading, hand);
    printf(
        "  by calculation at %.1f mm: reading %.2f cents, hand %.2f, together %.2f: after one move "
        "%.1f %% at most\n",
        scale_mm, reading, hand, both, 100.0 * erf(ROUNDS_TRUE_CENTS / (both * sqrt(2.0))));
}

/* The least that a hand alone does to a flat saddle that was planned perfectly: its largest
 * error grows by what the hand misses, a normal deviate without its sign. */
static void print_shared_limit(const rounds_setting *s, double scale_mm) {
    const double hand = s->hands.move_mm * CENTS_PER_LN / scale_mm;
    printf(
        "  by calculation at %.1f mm: the hand alone leaves %.2f cents on average, %.0f %% within "
        "%.2f\n",
        scale_mm, hand * sqrt(2.0 / PI), 100.0 * erf(ROUNDS_NEAR_CENTS / (hand * sqrt(2.0))),
        ROUNDS_NEAR_CENTS);
}

static void bench_usual(rounds_setting s) {
    puts("true strings in percent, a saddle each:");
    for (s.plucks = 1; s.plucks <= 3; s.plucks++) {
        print_limit(&s, 647.7);
        bench_planners(s, bench_single);
    }
    puts("the same, but the screws move their saddles 0.8 of what is thought:");
    s.plucks = 3;
    s.hands.move_ratio = 0.8;
    bench_planners(s, bench_single);
}

int main(int argc, char *argv[]) {
    const size_t instruments = argc > 1 ? strtoul(argv[1], NULL, 10) : 100;
    const uint64_t seed = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    rounds_setting s = usual(instruments, seed);
    bench_usual(s);
    s.plucks = 3;
    puts("shared saddles: cents by which the largest error exceeds the least possible:");
    print_shared_limit(&s, 647.7);
    bench_planners(s, bench_shared);
    puts("with hands and ears without error:");
    s.hands = hands_exact();
    bench_planners(s, bench_single);
    bench_planners(s, bench_shared);
    return 0;
}
