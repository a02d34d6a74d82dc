/* invariants: what must hold of any result, whatever the input was. Each function stops the
 * program, naming what does not hold. For the fuzz targets. */
#ifndef SB_TESTS_INVARIANTS_H
#define SB_TESTS_INVARIANTS_H

#include "audio/reading.h"

/* Stops unless `holds`. */
#define INVARIANT(holds) invariant((holds), #holds, __FILE__, __LINE__)
void invariant(int holds, const char *text, const char *file, int line);

/* No figure of a reading is NaN or infinite, none lies outside its range. */
void invariants_of_reading(const sb_reading *reading);

#endif
