/* ears: the ear under test, one for each sample rate, kept till the program ends. */
#ifndef SB_TESTS_EARS_H
#define SB_TESTS_EARS_H

#include <stddef.h>

#include "audio/reading.h"
#include "tests/support/corpus.h"

/* Reads one note whose attack is over; room[0..n_room-1] is sound before it (may be NULL).
 * Exits the program when no ear can be made. */
sb_reading ears_read(double rate_hz, const float samples[], size_t n, const float room[],
                     size_t n_room);

/* A pluck of the corpus, its attack left out and its room known: so long a window, or what there
 * is. */
sb_reading ears_read_note(const corpus_note *note, double seconds);

#endif
