/* bench_rounds: simulated instruments set up in rounds: how many strings come true, in how
 * many moves, and how near to the best a saddle comes that several strings share.
 *
 *   bench_rounds [instruments=100] [seed=1]
 *
 * Of each kind so many instruments, by numbers (tests/support/rounds.h). Fails nothing.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/support/rounds.h"

static double share(double part, size_t whole) {
    return part / (double)whole;
}

static double percent(size_t part, size_t whole) {
    return share(100.0 * (double)part, whole);
}

static void print_single(const char *name, const rounds_result *r) {
    printf("    %-15s %7zu %7.1f %7.1f %7.1f %7.1f %6.2f %6.1f %6.2f %6.2f\n", name, r->strings,
           percent(r->true_after[0], r->strings), percent(r->true_after[1], r->strings),
           percent(r->true_after[2], r->strings), percent(r->true_after[ROUNDS_MOST], r->strings),
           share((double)r->moves, r->strings), share((double)r->notes, r->strings),
           sqrt(share(r->squares, r->strings)), r->worst_cents);
}

static void print_shared(const char *name, const rounds_result *r) {
    printf("    %-15s %7zu %7.2f", name, r->saddles, share(r->beyond[0], r->saddles));
    for (int k = 1; k <= 2; k++)
        printf(" %7.3f %6.3f %5.0f", share(r->beyond[k], r->saddles), r->most_beyond[k],
               percent(r->near[k], r->saddles));
    printf(" %6.2f %6.1f\n", share((double)r->moves, r->saddles),
           share((double)r->notes, r->strings));
}

static void head(const rounds_setting *s) {
    printf("  %s; %zu plucks of each note, hand %.2f mm, scatter %.2f cents\n",
           rounds_name(s->planner), s->plucks, s->hands.move_mm, s->hands.pluck_cents);
}

/* Strings with a saddle of their own: percent within 1 cent. */
static void bench_single(const rounds_setting *setting) {
    rounds_result all = {0};
    head(setting);
    puts("                    strings  before  1 move 2 moves     end  moves  notes    rms  worst");
    for (int kind = 0; kind < FRETTED_KINDS; kind++) {
        if (!fretted_is_single((fretted_kind)kind))
            continue;
        rounds_result one = {0};
        rounds_run(setting, (fretted_kind)kind, &one);
        rounds_run(setting, (fretted_kind)kind, &all);
        print_single(fretted_name((fretted_kind)kind), &one);
    }
    print_single("all", &all);
}

/* Shared saddles: cents beyond the best place's largest error. */
static void bench_shared(const rounds_setting *setting) {
    head(setting);
    puts("                    saddles  before  1 move  worst near%  2moves  worst near%  moves  "
         "notes");
    for (int kind = 0; kind < FRETTED_KINDS; kind++) {
        if (fretted_is_single((fretted_kind)kind))
            continue;
        rounds_result one = {0};
        rounds_run(setting, (fretted_kind)kind, &one);
        print_shared(fretted_name((fretted_kind)kind), &one);
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

int main(int argc, char *argv[]) {
    const size_t instruments = argc > 1 ? strtoul(argv[1], NULL, 10) : 100;
    const uint64_t seed = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    rounds_setting s = usual(instruments, seed);
    puts("true strings in percent, a saddle each:");
    bench_planners(s, bench_single);
    s.plucks = 3;
    bench_planners(s, bench_single);
    s.instruments = instruments / 4;
    puts("shared saddles: cents by which the largest error exceeds the least possible:");
    bench_planners(s, bench_shared);
    puts("the same with hands and ears without error:");
    s.hands = (hands){.move_mm = 0.0};
    bench_planners(s, bench_shared);
    return 0;
}
