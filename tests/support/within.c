#include "tests/support/within.h"

#include <math.h>

void within_or_fail(double got, double want, double tolerance, const char *what, const char *file,
                    int line) {
    if (!(fabs(got - want) <= tolerance)) {
        print_error("%s: got %.12g, want %.12g within %.3g\n", what, got, want, tolerance);
        _fail(file, line);
    }
}
