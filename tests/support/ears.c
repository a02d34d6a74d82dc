#include "tests/support/ears.h"

#include <stdio.h>
#include <stdlib.h>

#include "audio/ear.h"

enum { MOST_RATES = 8 };

static struct {
    double rate_hz;
    sb_ear *ear;
} kept[MOST_RATES];

static void release(void) {
    for (size_t i = 0; i < MOST_RATES; i++)
        sb_ear_free(kept[i].ear);
}

static sb_ear *ear_at(double rate_hz) {
    for (size_t i = 0; i < MOST_RATES; i++) {
        if (kept[i].ear == NULL) {
            kept[i].rate_hz = rate_hz;
            if (i == 0)
                (void)atexit(release);
            if (sb_ear_new(rate_hz, 0.0, 0.0, &kept[i].ear) != SB_OK)
                break;
        }
        if (kept[i].rate_hz == rate_hz)
            return kept[i].ear;
    }
    fprintf(stderr, "ears: no ear for %.0f Hz\n", rate_hz);
    exit(1);
}

sb_reading ears_read(double rate_hz, const float samples[], size_t n, const float room[],
                     size_t n_room) {
    const sb_ear_scene scene = {.room = room,
                                .n_room = n_room,
                                .n_between = n_room > 0 ? (size_t)(samples - (room + n_room)) : 0};
    sb_reading reading;
    sb_ear_read(ear_at(rate_hz), samples, n, &scene, &reading);
    return reading;
}

sb_reading ears_read_note(const corpus_note *note, double seconds) {
    const size_t first = note->n_room + note->n_skip, want = (size_t)(seconds * note->rate_hz);
    const size_t n = want < note->n - first ? want : note->n - first;
    return ears_read(note->rate_hz, note->samples + first, n, note->samples, note->n_room);
}
