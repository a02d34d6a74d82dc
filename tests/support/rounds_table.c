#include "tests/support/rounds_table.h"

#include <math.h>
#include <stdio.h>

static double share(double part, size_t whole) {
    return part / (double)whole;
}

static double percent(size_t part, size_t whole) {
    return share(100.0 * (double)part, whole);
}

void rounds_head_single(void) {
    puts("                    strings  before  1 move 2 moves     end  moves  notes    rms  worst");
}

void rounds_print_single(const char *name, const rounds_result *r) {
    printf("    %-15s %7zu %7.1f %7.1f %7.1f %7.1f %6.2f %6.1f %6.2f %6.2f\n", name, r->strings,
           percent(r->true_after[0], r->strings), percent(r->true_after[1], r->strings),
           percent(r->true_after[2], r->strings), percent(r->true_after[ROUNDS_MOST], r->strings),
           share((double)r->moves, r->strings), share((double)r->notes, r->strings),
           sqrt(share(r->squares, r->strings)), r->worst_cents);
}

void rounds_head_shared(void) {
    puts("                    saddles  before  1 move  worst near%  2moves  worst near%  moves  "
         "notes");
}

void rounds_print_shared(const char *name, const rounds_result *r) {
    printf("    %-15s %7zu %7.2f", name, r->saddles, share(r->beyond[0], r->saddles));
    for (int k = 1; k <= 2; k++)
        printf(" %7.3f %6.3f %5.0f", share(r->beyond[k], r->saddles), r->most_beyond[k],
               percent(r->near[k], r->saddles));
    printf(" %6.2f %6.1f\n", share((double)r->moves, r->saddles),
           share((double)r->notes, r->strings));
}
