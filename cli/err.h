/* err: what is said when something is wrong, and where.
 *
 * A failure is one line, `setback: WHAT: 'SUBJECT'`, and one line of what to do next.
 * Lower case, no full stop. Exit codes are those of sysexits.h.
 */
#ifndef SB_ERR_H
#define SB_ERR_H

#include <stdio.h>
#include <sysexits.h>

#define SB_EX_INTERRUPTED 130 /* as shells report SIGINT */
#define SB_EX_NOT_RIGHT   1   /* measured, and not what it was to be; nothing failed */

#if defined(__GNUC__)
#define SB_PRINTF(text, first) __attribute__((__format__(__printf__, text, first)))
#else
#define SB_PRINTF(text, first)
#endif

/* The stream for messages: stderr, unless sb_messages_to has moved it. */
FILE *sb_messages(void);

/* Moves messages to another stream; NULL moves them back to stderr. */
void sb_messages_to(FILE *stream);

/* Reports a failure and returns `code`, so that `return sb_fail(...)` ends a command.
 * subject: what it is about, as the user wrote it, or NULL. hint: what to do next. */
int sb_fail(int code, const char *hint, const char *subject, const char *what, ...) SB_PRINTF(4, 5);

/* Says something that does not end the work: `setback: WHAT: 'SUBJECT'`. */
void sb_warn(const char *subject, const char *what, ...) SB_PRINTF(2, 3);

/* Completes standard output and returns `code`, or EX_IOERR with its message where what was
 * printed did not arrive. A reader that went away (EPIPE) is no failure of ours. */
int sb_close_stdout(int code);

#endif
