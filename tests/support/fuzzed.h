/* fuzzed: what fuzz targets that go through files and words share. */
#ifndef SB_TESTS_FUZZED_H
#define SB_TESTS_FUZZED_H

#include <stddef.h>
#include <stdint.h>

/* A file with these bytes, one for the whole run, in memory where there is such a place. */
const char *fuzzed_file(const uint8_t *data, size_t size);

/* A name beside it, for a file of the target's own; removed in the end, with its journal. */
const char *fuzzed_name(const char *name);

/* Sends messages nowhere, once. */
void fuzzed_quiet(void);

/* Stops where "nan" or "inf" stands in the text as a word, in either case. */
void invariant_of_words(const char *text);

#endif
