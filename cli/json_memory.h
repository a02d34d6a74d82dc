/* json_memory: a reserve for jansson, which stops the program where an allocation fails while it
 * reads a number (its own assertion), and elsewhere answers as if the text were wrong.
 */
#ifndef SB_JSON_MEMORY_H
#define SB_JSON_MEMORY_H

#include <jansson.h>

/* From now on what jansson cannot have from the system comes from the reserve, which is enough
 * for the largest event of a book. For the start of the program; jansson then belongs to one
 * thread. */
void sb_json_memory_start(void);

/* The object as text, to be freed with free, which what json_dumps returns may not be; NULL when
 * out of memory, or for NULL. */
char *sb_json_text(const json_t *object, size_t flags);

#endif
