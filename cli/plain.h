/* plain: what is printed where the locale's characters are not UTF-8.
 *
 * Everything is written in UTF-8. Where the terminal cannot show that, streams are put over
 * standard output and the messages that print stand-ins for the few signs that the program uses
 * itself ("+-", "1/2"). Whatever else a person wrote goes through as it is; files are UTF-8.
 */
#ifndef SB_PLAIN_H
#define SB_PLAIN_H

#include <stdbool.h>
#include <stdio.h>

/* What stands for the sign at `text`, which follows `before` ('\0' = nothing), and in *length how
 * many bytes the sign has; NULL = it is no such sign. "8½/64" becomes "8.5/64". */
const char *sb_plain_sign(char before, const char *text, size_t *length);

/* Puts a stream over standard output and one over the messages. Where the library has no streams
 * of one's own making, or no memory, nothing changes. */
void sb_plain_start(void);

/* Whether that was done, so that columns are counted by what is printed. */
bool sb_plain(void);

/* After sb_plain_start a stream that prints to `under`, and closes it when closed; `under` itself
 * otherwise. */
FILE *sb_plain_over(FILE *under);

/* The stream under it, for its descriptor; the stream itself where there is none. */
FILE *sb_plain_under(FILE *stream);

#endif
