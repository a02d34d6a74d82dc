/* interpose: an object to be preloaded (LD_PRELOAD) into the program, which fails what the
 * environment names. Counting begins with main and covers libraries.
 *
 *   SB_FAIL_ALLOC=N    the N-th allocation fails
 *   SB_FAIL_FILE=N     the N-th change of a file fails: write, pwrite, fsync, fdatasync,
 *                      ftruncate, unlink, rename, link, or an open that makes a file
 *   SB_FAIL_ERRNO=E    with this error; ENOSPC fails no unlink
 *   SB_FAIL_ON=1       and all after it do, too
 *   SB_DIE_FILE=N      at the N-th change the process is killed; of a write only the first half
 *                      has been done by then
 *   SB_REPORT=FILE     takes, at the end of main, the numbers of allocations, of changes and of
 *                      blocks that were allocated since main began and not freed; and, from the
 *                      moment of it on, the file of the code whose allocation failed
 *
 * What glibc's stdio writes by itself is not seen: it calls no function that can be replaced.
 * For glibc; tests/support/child.h runs programs with it.
 */
#define _GNU_SOURCE /* NOLINT(bugprone-reserved-identifier) */
#include <stdlib.h>

#ifdef __GLIBC__
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

typedef int main_function(int, char **, char **);
typedef void plain_function(void);

/* glibc's own names; none of its headers declares them. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *block, size_t size);
void *__libc_memalign(size_t alignment, size_t size);
void __libc_free(void *block);
int __libc_start_main(main_function *program, int argc, char **argv, plain_function *init,
                      plain_function *fini, plain_function *rtld_fini, void *stack_end);

static atomic_bool counting;
static atomic_long allocations, changes, held;
static void *failed_for;
static long fail_alloc, fail_file, die_file;
static int fail_errno = EIO;
static int fail_on;

static long setting(const char *name) {
    const char *text = getenv(name);
    return text ? strtol(text, NULL, 10) : 0;
}

static void report(long all) {
    const char *path = getenv("SB_REPORT");
    char line[300];
    Dl_info about = {0};
    int known = failed_for && dladdr(failed_for, &about) != 0 && about.dli_fname;
    int fd =
        path ? (int)syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_CREAT | O_TRUNC, 0600) : -1;
    int n = snprintf(line, sizeof line, "%ld %ld %ld %s\n", all, atomic_load(&changes),
                     atomic_load(&held), known ? about.dli_fname : "-");
    if (fd >= 0) {
        if (n > 0)
            (void)!syscall(SYS_write, fd, line, (size_t)n);
        (void)close(fd);
    }
}

static int is_due(long count, long wanted) {
    return wanted > 0 && (count == wanted || (fail_on && count > wanted));
}

/* --- memory ---------------------------------------------------------------------------- */

static int allocation_fails(void *caller) {
    if (!atomic_load(&counting))
        return 0;
    int due = is_due(atomic_fetch_add(&allocations, 1) + 1, fail_alloc);
    if (due && !failed_for) {
        failed_for = caller;
        report(-1);
    }
    if (due)
        errno = ENOMEM;
    return due;
}

#define ALLOCATION_FAILS() allocation_fails(__builtin_return_address(0))

static void *given(void *block) {
    if (block && atomic_load(&counting))
        atomic_fetch_add(&held, 1);
    return block;
}

void *malloc(size_t size) {
    return ALLOCATION_FAILS() ? NULL : given(__libc_malloc(size));
}

void *calloc(size_t n, size_t size) {
    return ALLOCATION_FAILS() ? NULL : given(__libc_calloc(n, size));
}

void *realloc(void *block, size_t size) {
    if (size > 0 && ALLOCATION_FAILS())
        return NULL;
    void *moved = __libc_realloc(block, size);
    if (!block)
        return given(moved);
    if (size == 0 && atomic_load(&counting))
        atomic_fetch_sub(&held, 1);
    return moved;
}

void *aligned_alloc(size_t alignment, size_t size) {
    return ALLOCATION_FAILS() ? NULL : given(__libc_memalign(alignment, size));
}

int posix_memalign(void **block, size_t alignment, size_t size) {
    if (ALLOCATION_FAILS())
        return ENOMEM;
    *block = given(__libc_memalign(alignment, size));
    return *block ? 0 : ENOMEM;
}

void free(void *block) {
    if (block && atomic_load(&counting))
        atomic_fetch_sub(&held, 1);
    __libc_free(block);
}

/* --- files ----------------------------------------------------------------------------- */

/* The function behind ours; -Wpedantic knows no cast from an object to a function. */
#define BEHIND(name, variable)                                                                     \
    do {                                                                                           \
        if (!(variable)) {                                                                         \
            void *found = dlsym(RTLD_NEXT, name);                                                  \
            memcpy(&(variable), &found, sizeof found);                                             \
        }                                                                                          \
    } while (0)

typedef enum { GOES_ON, FAILS, DIES } fate;

static fate of_change(void) {
    if (!atomic_load(&counting))
        return GOES_ON;
    long count = atomic_fetch_add(&changes, 1) + 1;
    if (die_file > 0 && count == die_file)
        return DIES;
    if (!is_due(count, fail_file))
        return GOES_ON;
    errno = fail_errno;
    return FAILS;
}

/* Before the change, or after half of it. */
static int die(void) {
    (void)kill(getpid(), SIGKILL);
    return -1;
}

/* What goes to standard output or error is no file of the program's. */
static fate of_writing(int fd) {
    return fd <= 2 ? GOES_ON : of_change();
}

ssize_t write(int fd, const void *bytes, size_t n) {
    static ssize_t (*real)(int, const void *, size_t);
    BEHIND("write", real);
    fate f = of_writing(fd);
    if (f == DIES) {
        (void)real(fd, bytes, n / 2);
        return die();
    }
    return f == FAILS ? -1 : real(fd, bytes, n);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t at) {
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    BEHIND("pwrite64", real);
    fate f = of_writing(fd);
    if (f == DIES) {
        (void)real(fd, bytes, n / 2, at);
        return die();
    }
    return f == FAILS ? -1 : real(fd, bytes, n, at);
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at) {
    return pwrite64(fd, bytes, n, at);
}

#define CHANGE(name, parameters, arguments)                                                        \
    int name parameters {                                                                          \
        static int(*real) parameters;                                                              \
        BEHIND(#name, real);                                                                       \
        fate f = of_change();                                                                      \
        return f == DIES ? die() : f == FAILS ? -1 : real arguments;                               \
    }

CHANGE(fsync, (int fd), (fd))
CHANGE(fdatasync, (int fd), (fd))
CHANGE(ftruncate, (int fd, off_t size), (fd, size))
CHANGE(ftruncate64, (int fd, off64_t size), (fd, size))
CHANGE(rename, (const char *from, const char *to), (from, to))
CHANGE(link, (const char *from, const char *to), (from, to))

int unlink(const char *path) {
    static int (*real)(const char *);
    BEHIND("unlink", real);
    fate f = of_change();
    bool needs_no_room = f == FAILS && fail_errno == ENOSPC;
    return f == DIES ? die() : f == FAILS && !needs_no_room ? -1 : real(path);
}

static int opened(const char *name, const char *path, int flags, mode_t mode) {
    int (*real)(const char *, int, ...) = NULL;
    BEHIND(name, real);
    int is_change = (flags & O_CREAT) != 0;
    fate f = is_change ? of_change() : GOES_ON;
    return f == DIES ? die() : f == FAILS ? -1 : real(path, flags, mode);
}

/* The third argument is there only where the flags say so. */
#define OPENING(name)                                                                              \
    int name(const char *path, int flags, ...) {                                                   \
        mode_t mode = 0;                                                                           \
        va_list rest;                                                                              \
        va_start(rest, flags);                                                                     \
        if ((flags & (O_CREAT | O_TMPFILE)) != 0)                                                  \
            mode = va_arg(rest, mode_t);                                                           \
        va_end(rest);                                                                              \
        return opened(#name, path, flags, mode);                                                   \
    }

OPENING(open)
OPENING(open64)

/* --- around main ------------------------------------------------------------------------ */

static main_function *program_main;

static int counted_main(int argc, char **argv, char **environment) {
    fail_alloc = setting("SB_FAIL_ALLOC");
    fail_file = setting("SB_FAIL_FILE");
    die_file = setting("SB_DIE_FILE");
    fail_on = setting("SB_FAIL_ON") != 0;
    if (setting("SB_FAIL_ERRNO") != 0)
        fail_errno = (int)setting("SB_FAIL_ERRNO");
    atomic_store(&counting, 1);
    int code = program_main(argc, argv, environment);
    atomic_store(&counting, 0);
    report(atomic_load(&allocations));
    return code;
}

int __libc_start_main(main_function *program, int argc, char **argv, plain_function *init,
                      plain_function *fini, plain_function *rtld_fini, void *stack_end) {
    int (*real)(main_function *, int, char **, plain_function *, plain_function *, plain_function *,
                void *) = NULL;
    BEHIND("__libc_start_main", real);
    program_main = program;
    return real(counted_main, argc, argv, init, fini, rtld_fini, stack_end);
}

#else
typedef int sb_no_interposer; /* a file must hold something */
#endif
