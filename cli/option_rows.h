/* option_rows: rows of option tables that several commands have, each for a member of the
 * command's own struct.
 */
#ifndef SB_OPTION_ROWS_H
#define SB_OPTION_ROWS_H

#include <stddef.h>

#include "cli/args.h"

/* const char *: the material of all strings, or one a string. */
#define SB_ROW_MATERIAL(type, member)                                                              \
    {                                                                                              \
        "material", SB_OPT_TEXT, offsetof(type, member), "NAME[,...]",                             \
            "steel, bronze (steel, wound in bronze), nylon, fluorocarbon or gut, for all or one "  \
            "a string (default nylon for a kind that has it and where steel would pull over 200 "  \
            "N, else steel)",                                                                      \
            0, 0, false                                                                            \
    }

/* double, Hz. */
#define SB_ROW_A4(type, member, most)                                                              \
    {                                                                                              \
        "a4", SB_OPT_NUMBER, offsetof(type, member), "HZ", "the pitch of A4 (default 440)", 380,   \
            most, false                                                                            \
    }

/* double, s: of what listens until it has heard enough. */
#define SB_ROW_TIMEOUT(type, member)                                                               \
    {                                                                                              \
        "timeout", SB_OPT_NUMBER, offsetof(type, member), "S",                                     \
            "stop listening after this time (default: never; 60 where there is no terminal)", 1,   \
            86400, false                                                                           \
    }

/* double, cents. */
#define SB_ROW_TOLERANCE(type, member)                                                             \
    {                                                                                              \
        "tolerance", SB_OPT_NUMBER, offsetof(type, member), "CENTS",                               \
            "the error that may stay (default 1)", 0.05, 50, false                                 \
    }

#endif
