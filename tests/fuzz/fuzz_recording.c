/* Any bytes as an audio file, through the whole measuring path down to the saddle's move. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "cli/json.h"
#include "cli/measurement.h"
#include "tests/support/invariants.h"

#define SCALE_MM 650.0

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char path[] = "/tmp/setback-fuzz-XXXXXX";
static FILE *nowhere;

static void remove_file(void) {
    (void)unlink(path);
}

/* One file for the whole run; its content changes. */
static int the_file(void) {
    static int descriptor = -1;
    if (descriptor >= 0)
        return descriptor;
    descriptor = mkstemp(path);
    nowhere = fopen("/dev/null", "w");
    INVARIANT(descriptor >= 0 && nowhere && atexit(remove_file) == 0);
    return descriptor;
}

static void invariants_of_measurement(const sb_task *task, const sb_measurement *m) {
    INVARIANT(isfinite(m->interval.error_cents));
    INVARIANT(isfinite(m->interval.std_error_cents) && m->interval.std_error_cents >= 0);
    INVARIANT(isfinite(m->interval.drift_cents_per_min));
    if (m->answer.movable) {
        INVARIANT(fabs(m->answer.move.move_mm) < SCALE_MM);
        INVARIANT(m->answer.move.std_error_mm >= 0 && isfinite(m->answer.move.std_error_mm));
    }
    INVARIANT(sb_json_measurement(nowhere, task, m, "take", true));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    const int file = the_file();
    INVARIANT(ftruncate(file, 0) == 0 && pwrite(file, data, size, 0) == (ssize_t)size);
    sb_setting setting = sb_setting_default();
    setting.scale_mm = SCALE_MM;
    setting.thread_mm = 0.5;
    const sb_task task = {.setting = &setting, .note = SB_NO_NOTE, .a4_hz = 440.0};
    sb_take *take = sb_take_new();
    sb_measurement *m = calloc(1, sizeof *m);
    if (take && m && sb_take_load(take, path, 0, NULL) == SB_OK) {
        for (size_t i = 0; i < take->n; i++)
            invariants_of_reading(&take->readings[i]);
        if (sb_measure_take(&task, take, m) == SB_MEASURED)
            invariants_of_measurement(&task, m);
    }
    free(m);
    free(take);
    return 0;
}
