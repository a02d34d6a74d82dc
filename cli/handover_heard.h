/* handover_heard: what was heard of the signal path and of strings besides the readings, put
 * together to rows of the sheet. Only the files that gather it include this.
 */
#ifndef SB_HANDOVER_HEARD_H
#define SB_HANDOVER_HEARD_H

#include <jansson.h>

#include "cli/handover.h"

#define SB_HEARD_ROWS  32             /* kinds and selector positions heard of */
#define SB_HEARD_PARTS SB_STRINGS_MAX /* of a row: a string or a pickup each */

/* A row that several events make together; a later one of the same part takes its place. */
typedef struct {
    char what[160], before[160], now[160], verdict[80];
    bool repaired; /* what the parts were first is worth telling */
    struct {
        char key[64], text[160], first[160];
    } parts[SB_HEARD_PARTS];
    size_t n;
} sb_heard_row;

typedef struct {
    sb_heard_row rows[SB_HEARD_ROWS];
    size_t n;
} sb_heard;

/* Takes in the data of a `measured` event of this kind; string 0 = of none. False where it is not
 * one of those that are heard. */
bool sb_heard_read(sb_heard *heard, const char *what, const json_t *object, int string);

/* Adds the rows to the sheet. */
void sb_heard_show(const sb_heard *heard, sb_handover *sheet);

/* A text of the object, clean, or "". */
void sb_heard_field(const json_t *object, const char *key, char *text, size_t size);

#endif
