/* capture: live sound from a device through PortAudio.
 *
 * The PortAudio callback copies one channel into a lock-free ring and counts what did not
 * fit; the caller drains the ring from its own thread. Loss, whether PortAudio's or the
 * ring's, is reported at its place: before the first sample behind it. A device or server
 * that goes away shows as SB_E_DEVICE_LOST, never as a hang. Silence is no loss: its samples
 * arrive all the same.
 *
 * Time limits: whatever asks PortAudio for something runs in a thread of its own and is
 * left behind when it does not answer, so that every call here returns. A stopped server
 * costs SB_CAPTURE_STALL_S + SB_CAPTURE_CLOSE_S until the device is reported lost and
 * closed; one that dies shows at once.
 *
 * One capture at a time, from one thread (PortAudio's state is global). While a call that
 * was left behind is still out, listing and opening answer SB_E_NO_DEVICE.
 *
 * The libraries underneath (PortAudio, ALSA, JACK) write to file descriptor 2, from their
 * own threads too, at any time between the first call here and the end of the program.
 * This module writes nothing; whoever owns the screen points descriptor 2 elsewhere
 * (dup2) for that time and keeps a copy for its own messages.
 */
#ifndef SB_CAPTURE_H
#define SB_CAPTURE_H

#include <stdbool.h>
#include <stddef.h>

#include "core/status.h"

#define SB_CAPTURE_OPEN_S 2.75 /* most that listing or opening takes */
#define SB_CAPTURE_START_S                                                                         \
    2.75                       /* an open device that gives no first sample is lost; a             \
                                  virtual one may well take 2 s */
#define SB_CAPTURE_STALL_S 1.5 /* one that gives no further sample is lost */
#define SB_CAPTURE_CLOSE_S 0.5 /* most that closing takes */

#define SB_DEVICE_NAME_MAX 128

typedef struct sb_capture sb_capture;

typedef struct {
    int index;                     /* what --input takes */
    char name[SB_DEVICE_NAME_MAX]; /* UTF-8 cut to fit, control characters replaced by '?' */
    char host_api[SB_DEVICE_NAME_MAX];
    int channels; /* most that it captures, > 0 */
    double default_rate_hz;
    int is_default;
} sb_device;

/* Lists capture devices, at most `max`; *n receives how many there are, which may be more.
 * Errors: SB_E_NO_DEVICE (PortAudio cannot start or does not answer), SB_E_MEMORY; an empty
 * list is no error. */
SB_MUST_CHECK sb_status sb_devices_list(sb_device devices[], size_t max, size_t *n);

/* Finds the devices that `wanted` may mean and returns how many: 1 = found, 0 = unknown,
 * more = ambiguous. The first is stored in *which if there is one. Digits alone are an index;
 * otherwise a device of exactly that name is preferred to those that hold it as a part, in
 * either case of the ASCII letters; NULL = the default device. Pure. */
size_t sb_devices_match(const sb_device devices[], size_t n, const char *wanted, size_t *which);

typedef struct {
    const char *device; /* name, unambiguous part of one, or index; NULL = default */
    double rate_hz;     /* 0 = the device's default */
    int channel;        /* 1-based; 0 = first */
    double buffer_s;    /* sound kept for a reader that is late, at least; 0 = 4 s */
} sb_capture_options;

/* Opens and starts capture. *rate_hz receives the rate in use. Release with sb_capture_close.
 * Errors: SB_E_NO_DEVICE (none, unknown or ambiguous name, or it cannot be opened in time),
 * SB_E_RANGE (rate, channel or buffer refused), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_capture_open(const sb_capture_options *options, double *rate_hz,
                                        sb_capture **out);

/* Waits up to wait_s for samples and takes at most max >= 1 of them. *n_read may be 0; a
 * signal ends the wait. *lost receives how many samples were lost just before these (0
 * normally; at least so many: PortAudio does not tell its own number). What has arrived can
 * still be read after the device went away.
 * Errors: SB_E_DEVICE_LOST (the stream stopped, or nothing has come for the times above; it
 * stays so). Time in which the whole program was stopped does not count. */
SB_MUST_CHECK sb_status sb_capture_read(sb_capture *capture, float samples[], size_t max,
                                        double wait_s, size_t *n_read, size_t *lost);

/* The open device's name; valid until close. */
const char *sb_capture_device(const sb_capture *capture);

/* Stops and releases; NULL is allowed. A stream whose server does not answer is left behind,
 * and released should it ever answer. */
void sb_capture_close(sb_capture *capture);

#endif
