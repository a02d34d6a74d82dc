#include "cli/output_file.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/complain.h"
#include "cli/err.h"

#define ATTEMPTS 100

static int exists(const char *path) {
    return sb_fail(EX_USAGE, "choose another name, or replace it with --force", path,
                   "the file exists already");
}

/* A device or a folder is not to be replaced by a file, whoever asks. */
static bool is_other(const char *path) {
    struct stat there;
    return stat(path, &there) == 0 && !S_ISREG(there.st_mode);
}

static int cannot_write(const char *path) {
    return sb_fail(EX_IOERR, "see whether the folder may be written and the disk has room", path,
                   "the file could not be written");
}

/* Unlike mkstemp this leaves the file's mode to the umask, as for any file that is asked for. */
static int open_temporary(sb_output_file *file) {
    const char *slash = strrchr(file->path, '/');
    int folder = slash ? (int)(slash - file->path + 1) : 0;
    for (int n = 0; n < ATTEMPTS; n++) {
        (void)snprintf(file->temporary, sizeof file->temporary, "%.*s.%s.%ld-%d.part", folder,
                       file->path, file->path + folder, (long)getpid(), n);
        int fd = open(file->temporary, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0 || errno != EEXIST)
            return fd;
    }
    return -1;
}

int sb_output_vacant(const char *path, bool replace) {
    return !replace && access(path, F_OK) == 0 ? exists(path) : EX_OK;
}

int sb_output_begin(sb_output_file *file, const char *path, bool replace) {
    *file = (sb_output_file){.path = path, .replace = replace};
    if (is_other(path))
        return sb_fail(EX_CANTCREAT, "choose another name", path,
                       "what is there is a folder or a device, and no file");
    int code = sb_output_vacant(path, replace);
    if (code != EX_OK)
        return code;
    int fd = strlen(path) < SB_OUTPUT_PATH_MAX ? open_temporary(file) : -1;
    if (fd < 0)
        return cannot_write(path);
    file->out = fdopen(fd, "w");
    if (file->out)
        return EX_OK;
    (void)close(fd);
    (void)unlink(file->temporary);
    return sb_complain_memory();
}

/* link() refuses to replace, with no moment between the question and the deed; file systems
 * without hard links get the question first. */
static bool move_into_place(const sb_output_file *file, bool *taken) {
    if (file->replace)
        return rename(file->temporary, file->path) == 0;
    if (link(file->temporary, file->path) == 0) {
        if (unlink(file->temporary) == 0)
            return true;
        (void)unlink(file->path); /* what is called a failure leaves nothing */
        return false;
    }
    *taken = errno == EEXIST || access(file->path, F_OK) == 0;
    return !*taken && rename(file->temporary, file->path) == 0;
}

int sb_output_end(sb_output_file *file, bool keep) {
    bool taken = false, whole = !ferror(file->out) && fflush(file->out) == 0;
    whole = fsync(fileno(file->out)) == 0 && whole;
    whole = fclose(file->out) == 0 && whole;
    file->out = NULL;
    if (keep && whole && move_into_place(file, &taken))
        return EX_OK;
    (void)unlink(file->temporary);
    if (!keep)
        return EX_OK;
    return taken ? exists(file->path) : cannot_write(file->path);
}
