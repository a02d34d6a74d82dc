/* Any bytes as a book: whatever of it is accepted is sound, can be exported, taken to another
 * book and exported again the same, and added to. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/bench.h"
#include "cli/book.h"
#include "tests/support/fuzzed.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define INSTRUMENTS 8

typedef struct {
    int64_t id[INSTRUMENTS];
    size_t n;
} found;

static bool find(void *context, const sb_book_entry *entry) {
    found *f = context;
    if (f->n < INSTRUMENTS)
        f->id[f->n++] = entry->id;
    INVARIANT(entry->name && entry->described);
    return true;
}

static bool take(void *context, const sb_event *event) {
    (void)context;
    INVARIANT(event->data && event->kind < SB_EVENT_KINDS);
    return true;
}

static void try_bench(sb_book *book, int64_t id) {
    sb_bench_options options = {.progress = sb_progress_default(), .a4_hz = 440.0};
    sb_bench *bench = NULL;
    char text[200];
    if (sb_bench_new(&options, book, id, "one", &bench) != SB_BOOK_OK)
        return;
    for (size_t s = 1; s <= bench->description.instrument.n_strings; s++) {
        sb_bench_advice(bench, s, text, sizeof text);
        invariant_of_words(text);
    }
    sb_bench_free(bench);
}

static void try_instrument(sb_book *book, int64_t id) {
    sb_description d;
    const sb_event event = {.at_ms = 1, .kind = SB_EVENT_NOTE, .data = "{\"text\":\"x\"}"};
    (void)sb_book_read(book, id, 0, take, NULL);
    if (sb_book_describe(book, id, &d) != SB_BOOK_OK)
        return;
    INVARIANT(sb_instrument_fault(&d.instrument) == NULL);
    try_bench(book, id);
    (void)sb_book_append(book, id, &event, NULL);
}

static char *exported(sb_book *book, size_t *size) {
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    INVARIANT(out != NULL);
    sb_book_status status = sb_book_export(book, out);
    INVARIANT(fclose(out) == 0);
    if (status == SB_BOOK_OK)
        return text;
    free(text);
    return NULL;
}

/* An export that an import takes comes out of it the same. */
static void try_export(sb_book *book) {
    size_t size = 0, again_size = 0;
    char *text = exported(book, &size);
    sb_book *copy = NULL;
    sb_book_import_report report;
    if (!text)
        return;
    const char *path = fuzzed_name("copy");
    (void)unlink(path);
    INVARIANT(sb_book_open(path, SB_BOOK_WRITE, &copy) == SB_BOOK_OK);
    FILE *in = fmemopen(text, size, "r");
    INVARIANT(in != NULL);
    if (sb_book_import(copy, in, &report) == SB_BOOK_OK) {
        char *again = exported(copy, &again_size);
        INVARIANT(again && again_size == size && memcmp(again, text, size) == 0);
        free(again);
    }
    (void)fclose(in);
    sb_book_close(copy);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char journal[100];
    const char *path = fuzzed_file(data, size);
    sb_book *book = NULL;
    found f = {.n = 0};
    fuzzed_quiet();
    (void)snprintf(journal, sizeof journal, "%s-journal", path);
    (void)unlink(journal);
    if (sb_book_open(path, SB_BOOK_READ, &book) != SB_BOOK_OK)
        return 0;
    (void)sb_book_list(book, 0, find, &f);
    try_export(book);
    for (size_t i = 0; i < f.n; i++)
        try_instrument(book, f.id[i]);
    sb_book_close(book);
    return 0;
}
