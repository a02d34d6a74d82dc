/* pulse: a private PulseAudio for a test program, as tests/support/pulse.sh describes it.
 *
 * Run from the root of the source tree. The server dies with the program, however that
 * ends; the folder goes with pulse_stop. Every function says on descriptor 1 what failed.
 */
#ifndef SB_TESTS_PULSE_H
#define SB_TESTS_PULSE_H

#include <stdbool.h>
#include <sys/types.h>

typedef struct {
    char folder[64]; /* "" = none */
    pid_t server;    /* 0 = not running */
} pulse;

/* Makes a folder, points this process's environment there and starts the server. False if
 * it does not answer within 10 s; pulse_stop is due all the same. */
bool pulse_start(pulse *it);

/* Starts the server again, after pulse_kill. */
bool pulse_restart(pulse *it);

/* Sends a signal to the server. */
void pulse_signal(const pulse *it, int signal_number);

/* Kills the server and waits for its end. */
void pulse_kill(pulse *it);

/* Plays a file into a sink, in the background; returns the player or 0. */
pid_t pulse_play(const char *path, const char *sink);

/* Ends a player; 0 is allowed. */
void pulse_hush(pid_t player);

/* Runs pactl with these arguments, at most three, the rest NULL; whether it succeeded. */
bool pulse_control(const char *first, const char *second, const char *third);

/* Ends the server and removes the folder. May be called twice. */
void pulse_stop(pulse *it);

/* Keeps the chatter of the sound libraries off descriptor 2, and lets it on again. The
 * sanitizers keep the real one. */
void chatter_off(void);
void chatter_on(void);

#endif
