/* cents: by how much one frequency lies above another. Of the tests' own, apart from core/pitch,
 * which they judge. */
#ifndef SB_TESTS_CENTS_H
#define SB_TESTS_CENTS_H

#include <math.h>

#define CENTS_PER_LN 1731.2340490667561 /* 1200 / ln 2 */

static inline double cents(double from_hz, double to_hz) {
    return 1200.0 * log2(to_hz / from_hz);
}

#endif
