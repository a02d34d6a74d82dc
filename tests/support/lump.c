#include "tests/support/lump.h"

#include <math.h>

double lump_cents(double mass, bool fretted, int n) {
    const double pi = acos(-1.0);
    const double at = fretted ? 2.0 * LUMP_AT : LUMP_AT, share = fretted ? 2.0 * mass : mass;
    const double shape = sin((double)n * pi * at);
    return 1200.0 / log(2.0) * -share * shape * shape;
}
