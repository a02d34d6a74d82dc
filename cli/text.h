/* text: strings that come from outside made fit to print, and columns counted.
 *
 * File names, device names and arguments may hold anything; nothing of theirs may reach
 * the terminal as a control sequence. UTF-8 throughout.
 */
#ifndef SB_TEXT_H
#define SB_TEXT_H

#include <stddef.h>
#include <stdio.h>

/* Copies `in` with control characters (C0, DEL, C1), what has no width or turns the direction of
 * writing (U+061C, 200B-200F, 2028-202E, 2060-206F, FEFF) and malformed UTF-8 replaced by '?', cut
 * to `size` - 1 bytes at a character's end. in and out must not overlap; size > 0. */
void sb_text_clean(const char *in, char *out, size_t size);

/* Prints clean text as text or as a quoted attribute of HTML or XML. */
void sb_text_markup(FILE *out, const char *clean);

/* --- columns, in text_columns.c ---------------------------------------------------------- */

/* Columns that valid UTF-8 takes as it is printed: those of wcwidth where the locale is UTF-8,
 * else one a character; a sign that cannot be shown those of its stand-in (cli/plain.h). */
size_t sb_text_width(const char *text);

/* Cuts what goes beyond so many columns. */
void sb_text_cut(char *text, size_t columns);

/* Prints the text and spaces up to `width` columns. */
void sb_text_pad(FILE *out, const char *text, size_t width);

/* The same, in `width` columns and no more: what is longer ends in an ellipsis. */
void sb_text_fit(FILE *out, const char *text, size_t width);

/* Prints words wrapped at `width` columns, every line after `indent` spaces; each '\n' in
 * the text ends a paragraph. The first line starts at column `column`, already indented. */
void sb_text_wrap(FILE *out, const char *text, size_t column, size_t indent, size_t width);

/* Which of names[0..n-1] is nearest to `word` by edit distance (Damerau, Commun. ACM 7(3),
 * 171, 1964: restricted transpositions), or NULL where none is near enough to be meant. */
const char *sb_text_nearest(const char *word, const char *const names[], size_t n);

#endif
