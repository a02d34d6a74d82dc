/* term: the terminal, the signals and the standard descriptors.
 */
#ifndef SB_TERM_H
#define SB_TERM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Called first: makes descriptors 0 to 2 safe to use even where they came closed, takes the
 * locale's characters, and prints what they lack otherwise (cli/plain.h). */
void sb_term_start(void);

/* Called last: puts descriptor 2 back and returns `code`; after sb_term_abandon it does not
 * return but ends the program at once. */
int sb_term_end(int code);

/* From now on the program ends without waiting for anyone: threads of a sound library whose
 * server is gone may never come back. */
void sb_term_abandon(void);

/* Whether bold and colour may be used on the stream: a terminal, no NO_COLOR, not dumb. */
bool sb_term_styled(FILE *stream);

/* Whether what is printed may be more than ASCII, by the locale's characters. */
bool sb_term_utf8(void);

/* Whether a line may be redrawn in place on the stream: a terminal, not dumb. */
bool sb_term_redraws(FILE *stream);

/* How wide the stream's terminal is; 0 where it is none. */
size_t sb_term_columns(FILE *stream);

/* Points descriptor 2 at /dev/null for what sound libraries print there, and messages at a
 * copy of the old one. */
void sb_term_quiet(void);

/* Catches SIGINT, SIGTERM and SIGHUP: the first is noted, a second one ends the program. */
void sb_term_catch_signals(void);

/* From now on, until given NULL, whatever ends the program without its own doing calls
 * `restore` first: a second signal of those above, a crash, an abort. It may use only what a
 * signal handler may. */
void sb_term_guard(void (*restore)(void));

/* The signal noted, 0 while there is none. */
int sb_term_signal(void);

#endif
