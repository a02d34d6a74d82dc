#include "cli/json_memory.h"

#include <stdalign.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#define RESERVE (4 * 1024 * 1024) /* touched by nobody, it takes no memory */

static alignas(max_align_t) unsigned char reserve[RESERVE];
static size_t used, blocks;

static bool is_reserved(const void *block) {
    uintptr_t at = (uintptr_t)block, first = (uintptr_t)reserve;
    return at >= first && at < first + RESERVE;
}

static void *take(size_t size) {
    void *block = malloc(size);
    if (block)
        return block;
    size_t room = (size + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t);
    if (room < size || room > RESERVE - used)
        return NULL;
    block = reserve + used;
    used += room;
    blocks++;
    return block;
}

/* The reserve is whole again as soon as none of it is in use. */
static void give_back(void *block) {
    if (!is_reserved(block)) {
        free(block);
        return;
    }
    if (--blocks == 0)
        used = 0;
}

void sb_json_memory_start(void) {
    json_set_alloc_funcs(take, give_back);
}

char *sb_json_text(const json_t *object, size_t flags) {
    size_t n = object ? json_dumpb(object, NULL, 0, flags) : 0;
    char *text = n > 0 ? malloc(n + 1) : NULL;
    if (!text)
        return NULL;
    if (json_dumpb(object, text, n, flags) != n) {
        free(text);
        return NULL;
    }
    text[n] = '\0';
    return text;
}
