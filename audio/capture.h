/* capture: live sound from a device through PortAudio.
 *
 * The PortAudio callback copies one channel into a lock-free ring and counts what did not
 * fit; the caller drains the ring from its own thread. Overflow, whether PortAudio's or
 * the ring's, is reported with the samples it touches. A device or server that goes away
 * shows as SB_E_DEVICE_LOST within SB_CAPTURE_STALL_S, never as a hang.
 *
 * One capture at a time (PortAudio's state is global). The library underneath may write
 * to file descriptor 2; cli/ keeps that off the screen, this module writes nothing.
 */
#ifndef SB_CAPTURE_H
#define SB_CAPTURE_H

#include <stddef.h>

#include "core/status.h"

#define SB_CAPTURE_STALL_S 2.0
#define SB_DEVICE_NAME_MAX 128

typedef struct sb_capture sb_capture;

typedef struct {
    int index;                     /* what --input takes */
    char name[SB_DEVICE_NAME_MAX]; /* control characters replaced */
    char host_api[SB_DEVICE_NAME_MAX];
    int channels; /* most that it captures, > 0 */
    double default_rate_hz;
    int is_default;
} sb_device;

/* Lists capture devices, at most `max`; *n receives how many there are.
 * Errors: SB_E_NO_DEVICE (PortAudio cannot start); an empty list is no error. */
SB_MUST_CHECK sb_status sb_devices_list(sb_device devices[], size_t max, size_t *n);

typedef struct {
    const char *device; /* name, unambiguous part of one, or index; NULL = default */
    double rate_hz;     /* 0 = the device's default */
    int channel;        /* 1-based; 0 = first */
} sb_capture_options;

/* Opens and starts capture. *rate_hz receives the rate in use. Release with sb_capture_close.
 * Errors: SB_E_NO_DEVICE (none, unknown or ambiguous name, or it cannot be opened),
 * SB_E_RANGE (rate or channel refused by the device), SB_E_MEMORY. */
SB_MUST_CHECK sb_status sb_capture_open(const sb_capture_options *options, double *rate_hz,
                                        sb_capture **out);

/* Waits up to wait_s for samples and takes at most max of them. *n_read may be 0.
 * *lost receives how many samples were lost before these (0 normally).
 * Errors: SB_E_DEVICE_LOST (nothing has come for SB_CAPTURE_STALL_S, or the stream stopped). */
SB_MUST_CHECK sb_status sb_capture_read(sb_capture *capture, float samples[], size_t max,
                                        double wait_s, size_t *n_read, size_t *lost);

/* The open device's name; valid until close. */
const char *sb_capture_device(const sb_capture *capture);

/* Stops and releases; NULL is allowed. After SB_E_DEVICE_LOST it may abandon the stream
 * rather than wait for a dead server. */
void sb_capture_close(sb_capture *capture);

#endif
