/* bench_rounds: simulated instruments set up in rounds: how many strings come true, in how
 * many moves.
 *
 *   bench_rounds [instruments=100] [seed=1]
 *
 * Of each kind so many instruments, by numbers (tests/support/rounds.h). Fails nothing.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/rounds.h"

static double percent(size_t part, size_t whole) {
    return 100.0 * (double)part / (double)whole;
}

static void print_single(const char *name, const rounds_single *r) {
    printf("  %-16s %6zu  %6.1f %6.1f %6.1f %6.1f   %5.2f  %5.1f  %6.2f  %6.2f\n", name, r->strings,
           percent(r->true_after[0], r->strings), percent(r->true_after[1], r->strings),
           percent(r->true_after[2], r->strings), percent(r->true_after[ROUNDS_MOST], r->strings),
           (double)r->moves / (double)r->strings, (double)r->notes / (double)r->strings,
           sqrt(r->squares / (double)r->strings), r->worst_cents);
}

static void bench_single(const rounds_setting *setting) {
    rounds_single all = {0};
    printf("%s, %zu plucks each, hand %.2f mm, scatter %.2f cents\n", rounds_name(setting->planner),
           setting->plucks, setting->hands.move_mm, setting->hands.pluck_cents);
    puts("  kind            strings  before  1 move  2moves    end   moves  notes    rms   worst");
    for (int kind = 0; kind < FRETTED_KINDS; kind++) {
        if (!fretted_is_single((fretted_kind)kind))
            continue;
        rounds_single one = {0};
        rounds_run_single(setting, (fretted_kind)kind, &one);
        rounds_run_single(setting, (fretted_kind)kind, &all);
        print_single(fretted_name((fretted_kind)kind), &one);
    }
    print_single("all", &all);
}

static void bench_shared(const rounds_setting *setting) {
    printf("%s, shared saddles, %zu plucks each, hand %.2f mm, scatter %.2f cents\n",
           rounds_name(setting->planner), setting->plucks, setting->hands.move_mm,
           setting->hands.pluck_cents);
    for (int kind = 0; kind < FRETTED_KINDS; kind++) {
        if (fretted_is_single((fretted_kind)kind))
            continue;
        rounds_shared r = {0};
        rounds_run_shared(setting, (fretted_kind)kind, &r);
        printf("  %-16s %5zu  beyond the best: before %5.2f, 1 move %6.3f (worst %6.3f, within "
               "%5.1f %%), "
               "2 moves %6.3f (worst %6.3f, within %5.1f %%), moves %.2f\n",
               fretted_name((fretted_kind)kind), r.saddles, r.sum[0] / (double)r.saddles,
               r.sum[1] / (double)r.saddles, r.worst[1], percent(r.within[1], r.saddles),
               r.sum[2] / (double)r.saddles, r.worst[2], percent(r.within[2], r.saddles),
               (double)r.moves / (double)r.saddles);
    }
}

int main(int argc, char *argv[]) {
    const size_t instruments = argc > 1 ? strtoul(argv[1], NULL, 10) : 100;
    const uint64_t seed = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    for (int planner = 0; planner < ROUNDS_PLANNERS; planner++) {
        rounds_setting s = {.planner = (rounds_planner)planner,
                            .hands = hands_usual(0),
                            .plucks = 2,
                            .seed = seed,
                            .instruments = instruments};
        bench_single(&s);
        s.plucks = 3;
        bench_single(&s);
        s.instruments = instruments / 4;
        bench_shared(&s);
        s.hands = (hands){.move_mm = 0.0};
        bench_shared(&s);
    }
    return 0;
}
