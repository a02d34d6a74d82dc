#include "audio/errand.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <time.h>

#define LOOK_EVERY_S 0.002

enum { RUNNING, RETURNED, LEFT_BEHIND };

typedef struct {
    sb_errand_step *run;
    sb_errand_step *release;
    void *matter;
    atomic_int state;
} errand;

static atomic_int errands_out;

double sb_clock_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

bool sb_sleep_s(double seconds) {
    time_t whole = (time_t)seconds;
    struct timespec pause = {.tv_sec = whole, .tv_nsec = (long)(1e9 * (seconds - (double)whole))};
    return nanosleep(&pause, NULL) == 0;
}

bool sb_errand_out(void) {
    /* acquire: partner is the release in errand_thread, after the release step. */
    return atomic_load_explicit(&errands_out, memory_order_acquire) > 0;
}

static void *errand_thread(void *start) {
    errand *it = start;
    it->run(it->matter);
    /* acq_rel: hands what run wrote to the caller's acquire in finished_within; if the
     * caller has left, acquires all that it did to matter before. */
    if (atomic_exchange_explicit(&it->state, RETURNED, memory_order_acq_rel) == LEFT_BEHIND) {
        it->release(it->matter);
        free(it);
        atomic_fetch_sub_explicit(&errands_out, 1, memory_order_release);
    }
    return NULL;
}

/* Signals stay with the caller's thread, whose waiting they should end. */
static bool start_thread(errand *it) {
    pthread_t thread;
    sigset_t all, before;
    sigfillset(&all);
    if (pthread_sigmask(SIG_SETMASK, &all, &before) != 0)
        return false;
    int failed = pthread_create(&thread, NULL, errand_thread, it);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (failed)
        return false;
    pthread_detach(thread);
    return true;
}

static bool finished_within(errand *it, double limit_s) {
    double end_s = sb_clock_s() + limit_s;
    /* acquire: partner is the exchange in errand_thread. */
    while (atomic_load_explicit(&it->state, memory_order_acquire) == RUNNING) {
        if (sb_clock_s() >= end_s)
            return false;
        sb_sleep_s(LOOK_EVERY_S);
    }
    return true;
}

/* False when the errand returned at the last moment after all. */
static bool leave_behind(errand *it) {
    int state = RUNNING;
    atomic_fetch_add_explicit(&errands_out, 1, memory_order_relaxed);
    /* Success releases to the exchange in errand_thread; failure acquires from it. */
    if (atomic_compare_exchange_strong_explicit(&it->state, &state, LEFT_BEHIND,
                                                memory_order_acq_rel, memory_order_acquire))
        return true;
    atomic_fetch_sub_explicit(&errands_out, 1, memory_order_relaxed);
    return false;
}

sb_status sb_errand_run(sb_errand_step *run, sb_errand_step *release, void *matter,
                        double limit_s) {
    errand *it = malloc(sizeof *it);
    if (it == NULL)
        return SB_E_MEMORY;
    *it = (errand){.run = run, .release = release, .matter = matter};
    atomic_init(&it->state, RUNNING);
    if (!start_thread(it)) {
        free(it);
        return SB_E_MEMORY;
    }
    if (!finished_within(it, limit_s) && leave_behind(it))
        return SB_E_DEVICE_LOST;
    free(it);
    return SB_OK;
}
