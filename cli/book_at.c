/* Which book, and which instrument of it, a command is about. */
#include <stddef.h>
#include <unistd.h>

#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"

const sb_option sb_book_options[SB_BOOK_OPTIONS] = {
    {"book", SB_OPT_TEXT, offsetof(sb_book_at, named), "FILE",
     "the book (default $SETBACK_BOOK, else $XDG_DATA_HOME/setback/book.db, else "
     "~/.local/share/setback/book.db)",
     0, 0, false},
};

int sb_book_open_at(sb_book_at *at, sb_book_mode mode, sb_book **book) {
    if (!sb_book_path(at->named, at->path, sizeof at->path))
        return sb_fail(EX_USAGE, "give --book FILE, or set HOME", NULL,
                       "there is no place for the book");
    sb_book_status status = sb_book_open(at->path, mode, book);
    return status == SB_BOOK_OK ? EX_OK : sb_book_complain(status, at->path, NULL);
}

int sb_book_one_name(const sb_texts *operands, const char **name) {
    if (operands->n == 1 && operands->item[0][0]) {
        *name = operands->item[0];
        return EX_OK;
    }
    if (operands->n > 1)
        return sb_fail(EX_USAGE, "put quotes around a name of several words", operands->item[1],
                       "one name is needed");
    return sb_fail(EX_USAGE, "setback book list shows what is in the book", NULL,
                   "the instrument's name is needed");
}

int sb_book_open_named(sb_book_at *at, const sb_texts *operands, sb_book_mode mode,
                       sb_book_named *named) {
    int code = sb_book_one_name(operands, &named->name);
    if (code != EX_OK)
        return code;
    /* What is not there is not made only to say that nothing is in it. */
    if (sb_book_path(at->named, at->path, sizeof at->path) && access(at->path, F_OK) != 0)
        mode = SB_BOOK_READ;
    code = sb_book_open_at(at, mode, &named->book);
    if (code != EX_OK)
        return code;
    sb_book_status status = sb_book_find(named->book, named->name, &named->id);
    if (status == SB_BOOK_OK)
        return EX_OK;
    sb_book_close(named->book);
    named->book = NULL;
    return sb_book_complain(status, at->path, named->name);
}
