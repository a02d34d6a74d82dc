/* book_print: instruments and their logs for people and for scripts.
 *
 * Whatever comes from the book is cleaned of control characters; JSON keeps it, escaped.
 */
#ifndef SB_BOOK_PRINT_H
#define SB_BOOK_PRINT_H

#include "cli/book.h"

/* What an instrument is now. False where its entry does not say (a damaged book). */
bool sb_entry_state(const sb_book_entry *entry, sb_description *out);

/* The list's columns. Set to 0, they are made wide enough for an entry by `measure`; `fit` then
 * narrows names and owners, as far as they can be, for the whole to be `width` wide. */
typedef struct {
    size_t name, owner, strings, log;
} sb_list_columns;

void sb_list_measure(sb_list_columns *columns, const sb_book_entry *entry);
void sb_list_fit(sb_list_columns *columns, size_t width);

/* One line of it; what a column has no room for ends in an ellipsis. */
void sb_list_print(FILE *out, const sb_list_columns *columns, const sb_book_entry *entry);

/* All of one instrument but its log. */
void sb_print_entry(FILE *out, const sb_book_entry *entry, const sb_description *d, bool styled);

/* One line of a log. */
void sb_print_event(FILE *out, const sb_event *event);

/* setback.instrument/1 and setback.event/1; false when out of memory. */
bool sb_json_entry(FILE *out, const sb_book_entry *entry, const sb_description *d);
bool sb_json_event(FILE *out, const sb_event *event);

#endif
