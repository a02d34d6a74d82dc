#include "tests/support/pulse.h"

#include <fcntl.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define SCRIPT "tests/support/pulse.sh"

static void pause_ms(long ms) {
    const struct timespec t = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    nanosleep(&t, NULL);
}

/* Starts a program with nothing on its descriptors but, as errors, `log`; -1 if it cannot. */
static pid_t spawn(char *const argv[], const char *log) {
    fflush(NULL);
    pid_t child = fork();
    if (child != 0)
        return child;
    int in = open("/dev/null", O_RDWR), errors = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
    if (in < 0 || errors < 0 || dup2(in, 0) < 0 || dup2(in, 1) < 0 || dup2(errors, 2) < 0)
        _exit(126);
    execvp(argv[0], argv);
    _exit(127);
}

static pid_t spawn_words(const char *const words[], const char *log) {
    enum { MOST = 8 };
    char *argv[MOST + 1] = {NULL};
    pid_t child = -1;
    size_t n = 0;
    while (n < MOST && words[n] != NULL && (argv[n] = strdup(words[n])) != NULL)
        n++;
    if (words[n] == NULL)
        child = spawn(argv, log);
    while (n > 0)
        free(argv[--n]);
    return child;
}

static bool ended_well(pid_t child) {
    int status;
    return child > 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) &&
           WEXITSTATUS(status) == 0;
}

/* ---- the server ----------------------------------------------------------------------- */

static void in_folder(const pulse *it, const char *name, char path[128]) {
    snprintf(path, 128, "%s/%s", it->folder, name);
}

static void point(const char *variable, const char *before, const pulse *it, const char *name) {
    char value[192];
    snprintf(value, sizeof value, "%s%s%s", before, it->folder, name);
    setenv(variable, value, 1);
}

/* What pulse_point does in the script. */
static void point_environment(const pulse *it) {
    point("PULSE_SERVER", "unix:", it, "/native");
    point("PULSE_CLIENTCONFIG", "", it, "/client.conf");
    point("PULSE_COOKIE", "", it, "/cookie");
    point("ALSA_CONFIG_PATH", "", it, "/asound.conf");
    point("XDG_RUNTIME_DIR", "", it, "");
    setenv("JACK_NO_START_SERVER", "1", 1);
    unsetenv("PULSE_SINK");
    unsetenv("PULSE_SOURCE");
}

static bool answers(const pulse *it) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s/native", it->folder);
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    bool connected = fd >= 0 && connect(fd, (const struct sockaddr *)&address, sizeof address) == 0;
    if (fd >= 0)
        close(fd);
    return connected;
}

static void show_log(const char *path) {
    char line[256];
    FILE *log = fopen(path, "r");
    while (log != NULL && fgets(line, sizeof line, log) != NULL)
        fputs(line, stdout);
    if (log != NULL)
        fclose(log);
}

bool pulse_restart(pulse *it) {
    char log[128];
    in_folder(it, "log", log);
    const char *const words[] = {"sh", SCRIPT, "serve", it->folder, NULL};
    it->server = spawn_words(words, log);
    for (int i = 0; it->server > 0 && i < 500; i++) {
        if (answers(it))
            return true;
        if (waitpid(it->server, NULL, WNOHANG) != 0)
            it->server = 0; /* ended */
        else
            pause_ms(20);
    }
    printf("pulse: the server does not start (is pulseaudio installed?)\n");
    show_log(log);
    return false;
}

bool pulse_start(pulse *it) {
    *it = (pulse){.folder = "/tmp/setback-pulse.XXXXXX"};
    if (mkdtemp(it->folder) == NULL) {
        printf("pulse: no folder in /tmp\n");
        it->folder[0] = '\0';
        return false;
    }
    point_environment(it);
    return pulse_restart(it);
}

void pulse_signal(const pulse *it, int signal_number) {
    if (it->server > 0)
        kill(it->server, signal_number);
}

void pulse_kill(pulse *it) {
    if (it->server > 0) {
        kill(it->server, SIGKILL);
        waitpid(it->server, NULL, 0);
    }
    it->server = 0;
}

void pulse_stop(pulse *it) {
    pulse_kill(it);
    if (it->folder[0] != '\0') {
        const char *const words[] = {"rm", "-rf", it->folder, NULL};
        if (!ended_well(spawn_words(words, "/dev/null")))
            printf("pulse: %s is left behind\n", it->folder);
    }
    it->folder[0] = '\0';
}

/* ---- its clients ---------------------------------------------------------------------- */

pid_t pulse_play(const char *path, const char *sink) {
    char device[64];
    snprintf(device, sizeof device, "--device=%s", sink);
    const char *const words[] = {"paplay", device, path, NULL};
    pid_t player = spawn_words(words, "/dev/null");
    if (player < 0)
        printf("pulse: paplay does not start\n");
    return player > 0 ? player : 0;
}

void pulse_hush(pid_t player) {
    if (player > 0) {
        kill(player, SIGKILL);
        waitpid(player, NULL, 0);
    }
}

bool pulse_control(const char *first, const char *second, const char *third) {
    const char *const words[] = {"pactl", first, second, third, NULL};
    bool done = ended_well(spawn_words(words, "/dev/null"));
    if (!done)
        printf("pulse: pactl %s failed\n", first);
    return done;
}

/* ---- chatter -------------------------------------------------------------------------- */

static int screen = -1;

#if defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED
#endif
#elif defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED
#endif

#ifdef SANITIZED
void __sanitizer_set_report_fd(void *fd); /* sanitizer/common_interface_defs.h */
const char *__tsan_default_suppressions(void);

/* The sound server's client libraries are not built for the thread sanitizer, which cannot
 * see their locks. PortAudio stays in: its thread runs the callback. */
const char *__tsan_default_suppressions(void) {
    return "race:libpulse\nrace:libasound\n";
}
#endif

void chatter_off(void) {
    int away = open("/dev/null", O_WRONLY);
    fflush(stderr);
    screen = fcntl(2, F_DUPFD_CLOEXEC, 10);
#ifdef SANITIZED
    __sanitizer_set_report_fd((void *)(intptr_t)screen);
#endif
    if (away >= 0)
        dup2(away, 2);
    close(away);
}

void chatter_on(void) {
    if (screen < 0)
        return;
    fflush(stderr);
#ifdef SANITIZED
    __sanitizer_set_report_fd((void *)(intptr_t)2);
#endif
    dup2(screen, 2);
    close(screen);
    screen = -1;
}
