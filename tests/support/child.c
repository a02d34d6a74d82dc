#include "tests/support/child.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/scratch.h"

#define WORDS_MAX 2048

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED 1
#endif
#endif

bool child_can_fail(void) {
#if defined(__GLIBC__) && !defined(SANITIZED)
    return true;
#else
    return false;
#endif
}

/* --- its home -------------------------------------------------------------------------- */

bool child_home_make(child_home *home) {
    char self[CHILD_PATH_MAX - 20];
    ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    if (n <= 0)
        return false;
    self[n] = '\0';
    char *slash = strrchr(self, '/');
    if (!slash)
        return false;
    *slash = '\0';
    (void)snprintf(home->program, sizeof home->program, "%s/../setback", self);
    (void)snprintf(home->interposer, sizeof home->interposer, "%s/interpose.so", self);
    /* In memory where there is such a place: a disk would be waited for at every change. */
    const char *top = getenv("TMPDIR");
    if (!top)
        top = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    (void)snprintf(home->folder, sizeof home->folder, "%s/setback.XXXXXX", top);
    return access(home->program, X_OK) == 0 && mkdtemp(home->folder) != NULL;
}

void child_home_free(child_home *home) {
    (void)scratch_remove(home->folder);
}

bool child_furnish(const child_home *home, child_end *end) {
    if (!child_tool(home, "mksignal hum.wav -72 -58 50 silence:2.5 pluck:110:-18:1") ||
        !child_tool(home, "mksignal taps.wav -75 -60 50 silence:1 tap:-30:3 tap:-36:3") ||
        !child_tool(home, "mksignal strings.wav -80 -70 50 silence:0.5 pluck:82.41:-30:2 "
                          "pluck:110:-28:2 pluck:146.83:-27:2"))
        return false;
    child_run(home, "book add more --kind ukulele --book more.db", NULL, end);
    child_run(home, "book export --book more.db", NULL, end);
    if (!child_put(home, "more.jsonl", end->out))
        return false;
    child_remove(home, "more.db");
    child_run(home, "book add one --kind electric --book kept.db", NULL, end);
    if (end->code != 0)
        return false;
    child_run(home, "book add pair --scale 25.5in --strings E4:10,E2:46w --book kept.db", NULL,
              end);
    return end->code == 0;
}

static void path_of(const child_home *home, const char *name, char path[CHILD_PATH_MAX]) {
    (void)snprintf(path, CHILD_PATH_MAX, "%s/%s", home->folder, name);
}

void child_remove(const child_home *home, const char *name) {
    char path[CHILD_PATH_MAX];
    path_of(home, name, path);
    (void)unlink(path);
}

bool child_copy(const child_home *home, const char *from, const char *to) {
    char path[CHILD_PATH_MAX], block[4096];
    path_of(home, from, path);
    FILE *in = fopen(path, "rb");
    path_of(home, to, path);
    FILE *out = in ? fopen(path, "wb") : NULL;
    bool whole = out != NULL;
    for (size_t n; whole && (n = fread(block, 1, sizeof block, in)) > 0;)
        whole = fwrite(block, 1, n, out) == n;
    if (in)
        (void)fclose(in);
    return out && fclose(out) == 0 && whole;
}

bool child_tool(const child_home *home, const char *words) {
    char command[2 * CHILD_PATH_MAX + WORDS_MAX];
    int folder = (int)(strrchr(home->interposer, '/') + 1 - home->interposer);
    (void)snprintf(command, sizeof command, "cd '%s' && '%.*s'%s", home->folder, folder,
                   home->interposer, words);
    return system(command) == 0; /* NOLINT: paths and words of our own making */
}

size_t child_files(const child_home *home) {
    static const char *const ours[] = {".", "..", "out", "err", "report"};
    DIR *folder = opendir(home->folder);
    size_t n = 0;
    for (const struct dirent *entry; folder && (entry = readdir(folder));) {
        bool is_ours = false;
        for (size_t i = 0; i < sizeof ours / sizeof *ours; i++)
            is_ours = is_ours || strcmp(entry->d_name, ours[i]) == 0;
        n += !is_ours;
    }
    if (folder)
        (void)closedir(folder);
    return n;
}

long child_step(long all, long some) {
    const char *every = getenv("SB_EVERY");
    long step = every ? strtol(every, NULL, 10) : 1 + all / some;
    return step > 0 ? step : 1;
}

/* --- running it ------------------------------------------------------------------------- */

static size_t split(const child_home *home, const char *words, char *text, char *argv[]) {
    char here[CHILD_PATH_MAX];
    size_t n = 0, used = 0;
    if (!getcwd(here, sizeof here))
        here[0] = '\0';
    argv[n++] = (char *)(size_t)home->program;
    while (*words && n < CHILD_WORDS - 1) {
        size_t length = strcspn(words, " ");
        bool is_fixture = *words == '@';
        argv[n++] = text + used;
        int put = is_fixture ? snprintf(text + used, WORDS_MAX - used, "%s/fixtures/%.*s", here,
                                        (int)length - 1, words + 1)
                             : snprintf(text + used, WORDS_MAX - used, "%.*s", (int)length, words);
        used += (size_t)put + 1;
        words += length + strspn(words + length, " ");
    }
    argv[n] = NULL;
    return n;
}

static void set_number(const char *name, long number) {
    char text[32];
    (void)snprintf(text, sizeof text, "%ld", number);
    if (number != 0)
        (void)setenv(name, text, 1);
}

static void set_environment(const child_home *home, const child_fault *fault) {
    char path[CHILD_PATH_MAX];
    static const char *const away[] = {"SETBACK_BOOK", "XDG_DATA_HOME", "TERM", "NO_COLOR"};
    for (size_t i = 0; i < sizeof away / sizeof *away; i++)
        (void)unsetenv(away[i]);
    (void)setenv("HOME", home->folder, 1);
    (void)setenv("LC_ALL", "C.UTF-8", 1);
    (void)setenv("TZ", "UTC", 1);
    if (!fault)
        return;
    path_of(home, "report", path);
    (void)setenv("SB_REPORT", path, 1);
    (void)setenv("LD_PRELOAD", home->interposer, 1);
    set_number("SB_FAIL_ALLOC", fault->alloc);
    set_number("SB_FAIL_FILE", fault->file);
    set_number("SB_FAIL_ERRNO", fault->error);
    set_number("SB_FAIL_ON", fault->on);
    set_number("SB_DIE_FILE", fault->die);
}

static int open_to(const child_home *home, const char *name) {
    char path[CHILD_PATH_MAX];
    path_of(home, name, path);
    return open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
}

static void become(const child_home *home, char *argv[], const child_fault *fault, int input,
                   int output) {
    int in = input >= 0 ? input : open("/dev/null", O_RDONLY);
    int out = output >= 0 ? output : open_to(home, "out");
    int err = open_to(home, "err");
    (void)dup2(in, 0);
    (void)dup2(out, 1);
    (void)dup2(err, 2);
    for (int fd = 3; fd < 64; fd++)
        (void)close(fd);
    set_environment(home, fault);
    (void)signal(SIGPIPE, SIG_DFL);
    (void)alarm(CHILD_LIMIT_S);
    if (chdir(home->folder) == 0)
        (void)execv(home->program, argv);
    _exit(127);
}

pid_t child_start(const child_home *home, const char *words, const child_fault *fault, int input,
                  int output) {
    char text[WORDS_MAX], *argv[CHILD_WORDS];
    (void)split(home, words, text, argv);
    child_remove(home, "report");
    (void)fflush(NULL);
    pid_t pid = fork();
    if (pid == 0)
        become(home, argv, fault, input, output);
    return pid;
}

static size_t read_text(const child_home *home, const char *name, char *text, size_t size) {
    char path[CHILD_PATH_MAX];
    path_of(home, name, path);
    FILE *file = fopen(path, "rb");
    size_t n = file ? fread(text, 1, size - 1, file) : 0;
    text[n] = '\0';
    if (file)
        (void)fclose(file);
    return n;
}

void child_wait(const child_home *home, pid_t pid, child_end *end) {
    char text[400];
    int status = 0;
    *end = (child_end){.code = -1};
    if (pid > 0 && waitpid(pid, &status, 0) == pid)
        end->code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    end->n_out = read_text(home, "out", end->out, sizeof end->out);
    (void)read_text(home, "err", end->err, sizeof end->err);
    (void)read_text(home, "report", text, sizeof text);
    end->reported = sscanf(text, "%ld %ld %ld %255s", &end->allocations, &end->changes, &end->held,
                           end->failed_for) == 4 &&
                    end->allocations >= 0;
}

void child_run(const child_home *home, const char *words, const child_fault *fault,
               child_end *end) {
    child_wait(home, child_start(home, words, fault, -1, -1), end);
}

/* --- what it wrote ----------------------------------------------------------------------- */

static bool is_whole(sqlite3 *db) {
    sqlite3_stmt *row = NULL;
    bool whole = sqlite3_prepare_v2(db, "PRAGMA integrity_check", -1, &row, NULL) == SQLITE_OK &&
                 sqlite3_step(row) == SQLITE_ROW &&
                 strcmp((const char *)sqlite3_column_text(row, 0), "ok") == 0;
    (void)sqlite3_finalize(row);
    return whole;
}

static char *content(sqlite3 *db) {
    static const char sql[] =
        "SELECT coalesce(group_concat(line, char(10)), '') FROM ("
        "SELECT i.name || ' ' || e.kind || ' ' || e.string || ' ' || e.data AS line"
        " FROM instruments i JOIN events e ON e.instrument = i.id ORDER BY e.id)";
    sqlite3_stmt *row = NULL;
    char *text = NULL;
    if (sqlite3_prepare_v2(db, sql, -1, &row, NULL) == SQLITE_OK &&
        sqlite3_step(row) == SQLITE_ROW) {
        const char *found = (const char *)sqlite3_column_text(row, 0);
        text = malloc(strlen(found) + 1);
        if (text)
            memcpy(text, found, strlen(found) + 1);
    }
    (void)sqlite3_finalize(row);
    return text;
}

char *child_book(const child_home *home, const char *name) {
    char path[CHILD_PATH_MAX];
    sqlite3 *db = NULL;
    path_of(home, name, path);
    char *text = NULL;
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK && is_whole(db))
        text = content(db);
    (void)sqlite3_close(db);
    return text;
}

bool child_put(const child_home *home, const char *name, const char *text) {
    char path[CHILD_PATH_MAX];
    path_of(home, name, path);
    FILE *file = fopen(path, "w");
    return file && fputs(text, file) >= 0 && fclose(file) == 0;
}

size_t child_count(const char *text, const char *part) {
    size_t n = 0;
    for (const char *at = text; (at = strstr(at, part)); at += strlen(part))
        n++;
    return n;
}
