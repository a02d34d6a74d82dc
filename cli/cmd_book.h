/* cmd_book: what the commands about instruments share.
 */
#ifndef SB_CMD_BOOK_H
#define SB_CMD_BOOK_H

#include "cli/book.h"
#include "cli/command.h"

/* One group of the option table; its struct is sb_book_at. */
#define SB_BOOK_OPTIONS 1
extern const sb_option sb_book_options[SB_BOOK_OPTIONS];

typedef struct {
    const char *named; /* --book, or NULL */
    char path[4096];   /* set when it is opened */
} sb_book_at;

/* Opens the book; 0, or the exit code with the failure reported. */
int sb_book_open_at(sb_book_at *at, sb_book_mode mode, sb_book **book);

typedef struct {
    const char *name;
    sb_book *book;
    int64_t id;
} sb_book_named;

/* Opens it and finds the instrument that the one operand names; 0, or the exit code with the
 * failure reported, and then no book is open. */
int sb_book_open_named(sb_book_at *at, const sb_texts *operands, sb_book_mode mode,
                       sb_book_named *named);

/* The one operand that names the instrument; 0 or the exit code. */
int sb_book_one_name(const sb_texts *operands, const char **name);

/* Whether a person is there: standard input and error are terminals. */
bool sb_book_may_ask(void);

/* Prints a question (cleaned) and reads a line without its end; false at the end of input, or
 * where the line does not fit. */
bool sb_book_ask(const char *question, char *answer, size_t size);

#endif
