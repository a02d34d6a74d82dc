/* book: the record of instruments and of all that was heard, measured and done on them.
 *
 * One SQLite file. An instrument is a name and a log of events; a log is only ever added to,
 * which the file's own triggers enforce, and goes only when its instrument is removed. What
 * an instrument is now is read from its log: its last SB_EVENT_DESCRIBED says what it is, and
 * an SB_EVENT_STRINGS after that says which strings are on it. Nothing derived is stored.
 *
 * A change is on the disk when its function returns (synchronous=EXTRA, which is FULL and
 * the removal of the journal besides): what was acknowledged survives kill -9 and a power
 * cut. Several programs may use one book; each waits for another for up to five seconds.
 *
 * Event data are JSON objects; their fields are in cli/share/setback-book.5. Nothing here prints
 * but sb_book_complain. A book belongs to one thread.
 */
#ifndef SB_BOOK_H
#define SB_BOOK_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "core/instrument.h"

#define SB_BOOK_VERSION  2     /* of the schema that this program writes */
#define SB_NAME_MAX      200   /* bytes of a name or owner, NUL included */
#define SB_BOOK_DATA_MAX 65536 /* bytes of an event's data, NUL included */
#define SB_SETTING_MAX   200   /* bytes of a setting's name or value, NUL included */

typedef struct sb_book sb_book;

typedef enum {
    SB_BOOK_OK = 0,
    SB_BOOK_ABSENT,    /* no such file */
    SB_BOOK_NO_PLACE,  /* the file or its folder cannot be made */
    SB_BOOK_FORBIDDEN, /* the file may not be read, or not written */
    SB_BOOK_LOCKED,    /* another program kept it too long */
    SB_BOOK_NEWER,     /* written by a newer setback */
    SB_BOOK_FOREIGN,   /* not a book */
    SB_BOOK_DAMAGED,   /* a book, but cut off or overwritten */
    SB_BOOK_FULL,      /* no room on the disk */
    SB_BOOK_IO,        /* reading or writing failed */
    SB_BOOK_MEMORY,
    SB_BOOK_NO_INSTRUMENT, /* no such instrument */
    SB_BOOK_TAKEN,         /* the name is in use */
    SB_BOOK_BAD_NAME,      /* empty, too long, or no UTF-8 */
    SB_BOOK_BAD_DATA,      /* not a JSON object of the right shape, or too long */
    SB_BOOK_STOPPED        /* a callback said so */
} sb_book_status;

typedef enum {
    SB_EVENT_DESCRIBED, /* what the instrument is, whole; the first of every log */
    SB_EVENT_STRINGS,   /* a set of strings fitted */
    SB_EVENT_PLUCK,     /* one note heard */
    SB_EVENT_READING,   /* a string measured */
    SB_EVENT_MOVE,      /* a saddle moved */
    SB_EVENT_MEASURED,  /* relief, action and the like, by ruler or meter */
    SB_EVENT_NOTE,      /* a person's words */
    SB_EVENT_VISIT,     /* a visit begun or ended; what lies between belongs to it */
    SB_EVENT_KINDS
} sb_event_kind;

typedef struct {
    int64_t id;    /* rises along the log; set by the book */
    int64_t at_ms; /* when, in Unix milliseconds, 0 .. year 9999; need not rise along the log */
    sb_event_kind kind;
    int string;       /* from 1; 0 = the whole instrument */
    const char *data; /* a JSON object; borrowed */
} sb_event;

typedef struct {
    const char *name;                      /* as stored: clean before printing; borrowed */
    int64_t id, added_ms, events, last_ms; /* last_ms: of the latest event */
    const char *described;                 /* data of the last SB_EVENT_DESCRIBED; borrowed */
    const char *strings; /* data of the last SB_EVENT_STRINGS after that, or NULL; borrowed */
} sb_book_entry;

typedef struct {
    char owner[SB_NAME_MAX]; /* the owner's reference, "" for none */
    char kind[32];           /* name of the kind it began as, "" for none */
    sb_instrument instrument;
} sb_description;

typedef enum { SB_BOOK_READ, SB_BOOK_WRITE } sb_book_mode;

/* Where the book is: `named` (may be NULL), else $SETBACK_BOOK, else
 * $XDG_DATA_HOME/setback/book.db, else $HOME/.local/share/setback/book.db. False where none
 * of these is set or the path is too long. */
bool sb_book_path(const char *named, char *path, size_t size);

/* Opens the book. WRITE makes it (0600) where there is none, with the folders above it
 * (0700); READ makes nothing. Both bring an older schema up to date, which only needs
 * writing where it is older. On success free with sb_book_close. */
sb_book_status sb_book_open(const char *path, sb_book_mode mode, sb_book **book);

/* NULL is allowed. */
void sb_book_close(sb_book *book);

/* --- instruments ---------------------------------------------------------------------- */

/* Whether a name or an owner's reference can be stored: UTF-8, not empty, not too long. */
bool sb_book_name_good(const char *name);

/* Adds an instrument with its first event, all or nothing. */
sb_book_status sb_book_add(sb_book *book, const char *name, const sb_description *description,
                           int64_t at_ms, int64_t *id);

/* The instrument of that name; ASCII letters in either case. */
sb_book_status sb_book_find(sb_book *book, const char *name, int64_t *id);

/* What the instrument is now, from its log. */
sb_book_status sb_book_describe(sb_book *book, int64_t id, sb_description *out);

/* Describes it anew; a name other than NULL renames it, in the same transaction. */
sb_book_status sb_book_edit(sb_book *book, int64_t id, const char *name,
                            const sb_description *description, int64_t at_ms);

/* Removes the instrument and its whole log. */
sb_book_status sb_book_remove(sb_book *book, int64_t id);

/* Calls `each` for every instrument in the order of their names, `id` = 0, or for one; it
 * returns false to stop, and the result is then SB_BOOK_STOPPED. */
sb_book_status sb_book_list(sb_book *book, int64_t id, bool (*each)(void *, const sb_book_entry *),
                            void *context);

/* --- the log -------------------------------------------------------------------------- */

/* Adds an event to the log and returns after the commit; `id` (may be NULL) is the event's.
 * The data are kept as compact JSON with numbers to 15 digits. Event data must be an object;
 * those of DESCRIBED and STRINGS must describe a sound instrument. */
sb_book_status sb_book_append(sb_book *book, int64_t instrument, const sb_event *event,
                              int64_t *id);

/* Adds events[0..n-1] in this order, all or none. */
sb_book_status sb_book_append_all(sb_book *book, int64_t instrument, const sb_event events[],
                                  size_t n);

/* Calls `each` for every event of the instrument after the event `after` (0 = all), in the
 * order in which they were appended; it returns false to stop, as above. */
sb_book_status sb_book_read(sb_book *book, int64_t instrument, int64_t after,
                            bool (*each)(void *, const sb_event *), void *context);

/* What an SB_EVENT_DESCRIBED or SB_EVENT_STRINGS makes of a description. False where the event
 * is of another kind, or not as it should be; nothing is written then. */
bool sb_event_describes(const sb_event *event, sb_description *description);

/* "reading"; static storage. */
const char *sb_event_text(sb_event_kind kind);

/* False where the text names no kind. */
bool sb_event_named(const char *text, sb_event_kind *kind);

/* --- the shop's own settings ------------------------------------------------------------ */

/* The text kept under a name into `value` (of SB_SETTING_MAX); "" where there is none. */
sb_book_status sb_book_setting(sb_book *book, const char *name, char *value);

/* Keeps settings[0..n-1], all or none; a value of NULL takes one away. SB_BOOK_BAD_DATA: no
 * UTF-8, empty or too long. */
typedef struct {
    const char *name, *value;
} sb_setting_text;
sb_book_status sb_book_keep_settings(sb_book *book, const sb_setting_text settings[], size_t n);

/* Calls `each` for all in the order of their names; as sb_book_list. */
sb_book_status sb_book_settings(sb_book *book,
                                bool (*each)(void *, const char *name, const char *value),
                                void *context);

/* --- taking it elsewhere --------------------------------------------------------------- */

/* Writes the whole book, as it is at one moment, as JSON Lines (setback.book/1). */
sb_book_status sb_book_export(sb_book *book, FILE *out);

/* Adds all instruments of an export, or none: on any failure the book is as before. Settings that
 * the book has already stay as they are. `line`
 * is where it failed and `what`, of static storage, why, for BAD_DATA; `name` (of size
 * SB_NAME_MAX) is the one in use, for TAKEN. `added` counts instruments. */
typedef struct {
    size_t line, added;
    const char *what;
    char name[SB_NAME_MAX];
} sb_book_import_report;
sb_book_status sb_book_import(sb_book *book, FILE *in, sb_book_import_report *report);

/* --- words ----------------------------------------------------------------------------- */

/* Reports a status other than OK about the book at `path` (or the instrument `name`, may be
 * NULL) and returns the exit code. */
int sb_book_complain(sb_book_status status, const char *path, const char *name);

/* Now, in Unix milliseconds. */
int64_t sb_book_now_ms(void);

#endif
