/* Any text as an export of a book: it is taken in whole or not at all, and what was taken in is
 * exported, taken in and exported again the same. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/book.h"
#include "tests/support/fuzzed.h"
#include "tests/support/invariants.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char *exported(sb_book *book, size_t *size) {
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    INVARIANT(out && sb_book_export(book, out) == SB_BOOK_OK && fclose(out) == 0);
    return text;
}

static sb_book_status import(sb_book *book, const void *text, size_t size,
                             sb_book_import_report *report) {
    FILE *in = fmemopen((void *)(uintptr_t)text, size, "r");
    INVARIANT(in != NULL);
    sb_book_status status = sb_book_import(book, in, report);
    (void)fclose(in);
    return status;
}

static bool remove_one(void *book, const sb_book_entry *entry) {
    *(int64_t *)book = entry->id;
    return false;
}

static void empty(sb_book *book) {
    int64_t id = 0;
    while (sb_book_list(book, 0, remove_one, &id) == SB_BOOK_STOPPED)
        INVARIANT(sb_book_remove(book, id) == SB_BOOK_OK);
}

/* Every line ends whole, every instrument is sound. */
static bool is_sound(void *book, const sb_book_entry *entry) {
    sb_description d;
    INVARIANT(sb_book_describe(book, entry->id, &d) == SB_BOOK_OK);
    INVARIANT(sb_instrument_fault(&d.instrument) == NULL);
    INVARIANT(sb_book_name_good(entry->name));
    return true;
}

static void try_again(sb_book *book, const char *text, size_t size) {
    size_t again_size = 0;
    sb_book_import_report report;
    empty(book);
    INVARIANT(import(book, text, size, &report) == SB_BOOK_OK);
    char *again = exported(book, &again_size);
    INVARIANT(again_size == size && memcmp(again, text, size) == 0);
    free(again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static sb_book *book;
    size_t before_size = 0, after_size = 0;
    sb_book_import_report report;
    if (!book)
        INVARIANT(sb_book_open(fuzzed_name("book"), SB_BOOK_WRITE, &book) == SB_BOOK_OK);
    if (size == 0)
        return 0;
    char *before = exported(book, &before_size);
    sb_book_status status = import(book, data, size, &report);
    char *after = exported(book, &after_size);
    if (status == SB_BOOK_OK) {
        INVARIANT(sb_book_list(book, 0, is_sound, book) == SB_BOOK_OK);
        try_again(book, after, after_size);
        empty(book);
    } else {
        INVARIANT(status == SB_BOOK_TAKEN || (status == SB_BOOK_BAD_DATA && report.what[0]));
        INVARIANT(report.line >= 1);
        INVARIANT(after_size == before_size && memcmp(after, before, before_size) == 0);
    }
    free(before);
    free(after);
    return 0;
}
