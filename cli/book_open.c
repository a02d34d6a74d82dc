/* Where the book is, and opening it. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "cli/book_store.h"

#define WAIT_MS        5000 /* for another program to finish its change */
#define PATH_MAX_BYTES 4096

static const char *setting(const char *name) {
    const char *value = getenv(name);
    return value && *value ? value : NULL;
}

bool sb_book_path(const char *named, char *path, size_t size) {
    const char *data = setting("XDG_DATA_HOME"), *home = setting("HOME");
    int n = -1;
    if (!named)
        named = setting("SETBACK_BOOK");
    if (named)
        n = snprintf(path, size, "%s", named);
    else if (data && *data == '/') /* relative ones are to be ignored, says the specification */
        n = snprintf(path, size, "%s/setback/book.db", data);
    else if (home)
        n = snprintf(path, size, "%s/.local/share/setback/book.db", home);
    return n > 0 && (size_t)n < size;
}

static void make_folders(char *path) {
    for (char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        (void)mkdir(path, 0700); /* where that fails, making the file will say so */
        *slash = '/';
    }
}

/* Makes an empty file that only its owner may read, before SQLite makes one that more may. */
static sb_book_status make_file(char *path) {
    int file = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0 && errno == ENOENT) {
        make_folders(path);
        file = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    }
    if (file >= 0)
        return close(file) == 0 ? SB_BOOK_OK : SB_BOOK_IO;
    if (errno == EEXIST)
        return SB_BOOK_OK;
    return errno == ENOSPC || errno == EDQUOT ? SB_BOOK_FULL : SB_BOOK_NO_PLACE;
}

static sb_book_status look_at(const char *path, sb_book_mode mode) {
    struct stat about;
    if (stat(path, &about) != 0)
        return errno == ENOENT || errno == ENOTDIR ? SB_BOOK_ABSENT : SB_BOOK_FORBIDDEN;
    if (!S_ISREG(about.st_mode))
        return SB_BOOK_FOREIGN;
    if (access(path, mode == SB_BOOK_WRITE ? R_OK | W_OK : R_OK) != 0)
        return SB_BOOK_FORBIDDEN;
    /* Without a byte it may be a new one, but not one to be read. */
    return mode == SB_BOOK_READ && about.st_size == 0 ? SB_BOOK_DAMAGED : SB_BOOK_OK;
}

/* trusted_schema, defensive: a book may come from a stranger. */
static sb_book_status set_up(sb_book *book, sb_book_mode mode) {
    (void)sqlite3_extended_result_codes(book->db, 1);
    (void)sqlite3_busy_timeout(book->db, WAIT_MS);
    (void)sqlite3_db_config(book->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sb_book_status status = sb_store_run(book, "PRAGMA trusted_schema = OFF;"
                                               "PRAGMA foreign_keys = ON;"
                                               "PRAGMA recursive_triggers = ON;"
                                               "PRAGMA cache_size = -256;" /* kB, however long */
                                               "PRAGMA synchronous = EXTRA");
    if (status == SB_BOOK_OK && mode == SB_BOOK_WRITE && sqlite3_db_readonly(book->db, "main") == 1)
        status = SB_BOOK_FORBIDDEN;
    return status == SB_BOOK_OK ? sb_store_migrate(book) : status;
}

sb_book_status sb_book_open(const char *path, sb_book_mode mode, sb_book **out) {
    char name[PATH_MAX_BYTES]; /* "./" keeps ":memory:" and the like a file's name */
    int n = snprintf(name, sizeof name, "%s%s", *path == '/' ? "" : "./", path);
    if (n < 0 || (size_t)n >= sizeof name)
        return SB_BOOK_NO_PLACE;
    sb_book_status status = mode == SB_BOOK_WRITE ? make_file(name) : SB_BOOK_OK;
    if (status == SB_BOOK_OK)
        status = look_at(name, mode);
    if (status != SB_BOOK_OK)
        return status;
    sb_book *book = calloc(1, sizeof *book);
    if (!book)
        return SB_BOOK_MEMORY;
    status = sb_store_status(sqlite3_open_v2(name, &book->db, SQLITE_OPEN_READWRITE, NULL));
    if (status == SB_BOOK_OK)
        status = set_up(book, mode);
    if (status == SB_BOOK_OK)
        *out = book;
    else
        sb_book_close(book);
    return status;
}

void sb_book_close(sb_book *book) {
    if (book)
        (void)sqlite3_close(book->db);
    free(book);
}

int64_t sb_book_now_ms(void) {
    struct timespec now = {0, 0};
    (void)clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}
