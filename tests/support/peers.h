/* peers: what a general-purpose library (aubio) makes of the same samples.
 *
 * Five of its methods, each with a buffer of 2048 and of 8192 samples, the hop an eighth of
 * the buffer; the reading is the median over the frames that lie wholly within the samples
 * and in which it found a pitch.
 */
#ifndef SB_TESTS_PEERS_H
#define SB_TESTS_PEERS_H

#include <stddef.h>

#define PEERS 10

typedef struct {
    const char *method; /* aubio's word */
    unsigned buffer;
    char name[16]; /* for a table's head */
} peer;

/* All peers, PEERS of them. */
const peer *peers_all(void);

/* Median pitch in Hz of samples[0..n-1]; 0 when the peer finds none. */
double peer_pitch_hz(const peer *p, double rate_hz, const float samples[], size_t n);

#endif
