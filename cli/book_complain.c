#include "cli/book.h"
#include "cli/complain.h"
#include "cli/err.h"

/* What one instrument or its data make impossible. */
static int complain_of_instrument(sb_book_status status, const char *name) {
    switch (status) {
    case SB_BOOK_NO_INSTRUMENT:
        return sb_fail(EX_NOINPUT, "setback book list shows what is in the book", name,
                       "no such instrument");
    case SB_BOOK_TAKEN:
        return sb_fail(EX_DATAERR, "choose another name, or see setback book show", name,
                       "an instrument of that name is in the book already");
    case SB_BOOK_BAD_NAME:
        return sb_fail(EX_USAGE, "write 1 to 199 bytes of UTF-8", name,
                       "that cannot be a name or a reference");
    default:
        return sb_fail(EX_DATAERR,
                       "nothing was changed; see whether names, lengths and notes are right", name,
                       "what was to be kept is nothing that a book can hold");
    }
}

int sb_book_complain(sb_book_status status, const char *path, const char *name) {
    const char *keep = "nothing was changed; keep the file, and restore the book from a copy";
    switch (status) {
    case SB_BOOK_OK:
    case SB_BOOK_STOPPED: return EX_OK;
    case SB_BOOK_ABSENT:
        return sb_fail(EX_NOINPUT, "setback book add NAME begins one", path, "no such book");
    case SB_BOOK_NO_PLACE:
        return sb_fail(EX_CANTCREAT, "see whether its folder is there and may be written", path,
                       "the book cannot be opened or made");
    case SB_BOOK_FORBIDDEN:
        return sb_fail(EX_NOPERM, "see whose file it is: it must be yours to read and write", path,
                       "the book may not be read or written");
    case SB_BOOK_LOCKED:
        return sb_fail(EX_TEMPFAIL, "nothing was changed; end the other program, or try again",
                       path, "another program is using the book");
    case SB_BOOK_NEWER:
        return sb_fail(EX_DATAERR, "nothing was changed; use the newer setback", path,
                       "the book was written by a newer setback");
    case SB_BOOK_FOREIGN:
        return sb_fail(EX_DATAERR, "nothing was changed; give another --book", path,
                       "the file is not a book of setback");
    case SB_BOOK_DAMAGED: return sb_fail(EX_DATAERR, keep, path, "the book is damaged or cut off");
    case SB_BOOK_FULL:
        return sb_fail(EX_IOERR, "nothing was changed; make room and try again", path,
                       "the disk is full");
    case SB_BOOK_IO:
        return sb_fail(EX_IOERR, "see whether the disk is in order", path,
                       "reading or writing the book failed");
    case SB_BOOK_MEMORY: return sb_complain_memory();
    default: return complain_of_instrument(status, name);
    }
}
