#include "tests/support/lump.h"

#include <math.h>

double lump_cents(double mass, double at, bool fretted, int n) {
    const double pi = acos(-1.0);
    const double part = fretted ? 2.0 : 1.0; /* of half the string it is twice as much */
    const double shape = sin((double)n * pi * part * at);
    return -1200.0 / log(2.0) * part * mass * shape * shape;
}
