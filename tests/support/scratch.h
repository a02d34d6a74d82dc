/* scratch: a folder of a test's own.
 */
#ifndef SB_TESTS_SCRATCH_H
#define SB_TESTS_SCRATCH_H

#include <stdbool.h>

#define SCRATCH_MAX 64 /* bytes of its path, NUL included */

/* On the disk, where it matters what a commit does or costs; or in memory where the machine has
 * it. */
typedef enum { SCRATCH_ON_DISK, SCRATCH_IN_MEMORY } scratch_place;

/* Makes it; false where it cannot be made. */
bool scratch_make(char folder[SCRATCH_MAX], scratch_place place);

/* Removes it and all that is in it; 0, or what went wrong. */
int scratch_remove(const char *folder);

#endif
