/* Any bytes as a Scala file. What is read is finite, and written out and read again the same. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "core/scl.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static char written[SB_SCL_TEXT_MAX + 32 * (SB_SCL_NOTES_MAX + 2)];
    static sb_scl scale, again;
    size_t line = 0;
    const sb_status status = sb_scl_parse((const char *)data, size, &scale, &line);
    if (status != SB_OK) {
        INVARIANT(line >= 1 && line <= size + 1);
        return 0;
    }
    INVARIANT(scale.n <= SB_SCL_NOTES_MAX);
    const size_t n = sb_scl_format(&scale, written, sizeof written);
    INVARIANT(n < sizeof written && strlen(written) == n);
    INVARIANT(sb_scl_parse(written, n, &again, NULL) == SB_OK);
    INVARIANT(again.n == scale.n);
    for (size_t i = 0; i < scale.n; i++) {
        INVARIANT(fabs(scale.cents[i]) <= SB_SCL_CENTS_MAX);
        INVARIANT(fabs(again.cents[i] - scale.cents[i]) <= 1e-9);
    }
    INVARIANT(scale.n == 0 || isfinite(sb_scl_degree_cents(&scale, 36)));
    return 0;
}
