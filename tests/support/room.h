/* room: what a recording holds besides the string: noise, mains hum, clipping, DC.
 *
 * Levels in dB are relative to `reference_rms`, the note's RMS over its first second after
 * the attack (synth_note.rms); SNR is the note's over the noise's level so defined.
 * SYNTH_OFF_DB (synth.h) means none.
 */
#ifndef SB_TESTS_ROOM_H
#define SB_TESTS_ROOM_H

#include <stddef.h>
#include <stdint.h>

#define ROOM_HUM_HARMONICS 24

typedef struct {
    double reference_rms;
    uint64_t seed;
    double noise_db; /* RMS of white Gaussian noise */
    double hum_db;   /* RMS of the mains hum, harmonics together */
    double hum_hz;   /* near 50 or 60; harmonic k is at k hum_hz, level 1/k, odd and even,
                        random phases, through the whole buffer */
    double dc;       /* re the highest sample so far */
    double clip;     /* samples are held to +-clip of the highest one so far; 0 = off */
} synth_room;

/* A silent room. */
synth_room room_silent(double reference_rms, uint64_t seed);

/* The standard deviation of the room's white noise, full scale 1. */
double room_noise_sigma(const synth_room *room);

/* Adds noise, then hum, then DC to samples[0..n-1], then clips. */
void room_add(const synth_room *room, double rate_hz, double samples[], size_t n);

#endif
