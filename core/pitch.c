#include "core/pitch.h"

#include <math.h>
#include <stdio.h>

#define CENTS_PER_OCTAVE     1200.0
#define SEMITONES_PER_OCTAVE 12
#define A4_SEMITONE          69
#define LOWEST_SEMITONE      0   /* C-1 */
#define HIGHEST_SEMITONE     131 /* B9 */

double sb_cents_between(double hz_from, double hz_to) {
    if (!(hz_from > 0.0 && hz_to > 0.0) || isinf(hz_from) || isinf(hz_to)) {
        return (double)NAN;
    }
    return CENTS_PER_OCTAVE * log2(hz_to / hz_from);
}

double sb_ratio_from_cents(double cents) {
    return exp2(cents / CENTS_PER_OCTAVE);
}

double sb_fret_ratio(int fret) {
    return exp2((double)fret / SEMITONES_PER_OCTAVE);
}

/* Semitones of a note letter above C, or -1. */
static int letter_above_c(char letter) {
    static const int above_c[] = {9, 11, 0, 2, 4, 5, 7}; /* A B C D E F G */

    if (letter >= 'a' && letter <= 'g') {
        return above_c[letter - 'a'];
    }
    if (letter >= 'A' && letter <= 'G') {
        return above_c[letter - 'A'];
    }
    return -1;
}

/* Takes up to two accidentals of one kind; the sum of their semitones. */
static int take_accidentals(const char **text) {
    const char sign = **text;
    int count = 0;

    if (sign != '#' && sign != 'b') {
        return 0;
    }
    while (count < 2 && **text == sign) {
        count++;
        (*text)++;
    }
    return sign == '#' ? count : -count;
}

/* Reads the whole rest of a note's name as its octave. */
static sb_status read_octave(const char *text, int *octave) {
    const int sign = *text == '-' ? -1 : 1;
    const char *digits = sign < 0 ? text + 1 : text;
    size_t n = 0;

    while (digits[n] >= '0' && digits[n] <= '9') {
        n++;
    }
    if (n == 0 || digits[n] != '\0') {
        return SB_E_SYNTAX;
    }
    *octave = sign * (digits[0] - '0');
    return n == 1 ? SB_OK : SB_E_RANGE;
}

sb_status sb_note_parse(const char *text, int *semitone) {
    const int above_c = letter_above_c(text[0]);
    int octave = 0;

    if (above_c < 0) {
        return SB_E_SYNTAX;
    }
    text++;
    const int accidentals = take_accidentals(&text);
    const sb_status status = read_octave(text, &octave);
    if (status != SB_OK) {
        return status;
    }
    const int note = SEMITONES_PER_OCTAVE * (octave + 1) + above_c + accidentals;
    if (octave < -1 || note < LOWEST_SEMITONE || note > HIGHEST_SEMITONE) {
        return SB_E_RANGE;
    }
    *semitone = note;
    return SB_OK;
}

void sb_note_format(int semitone, char *text, size_t size) {
    static const char names[SEMITONES_PER_OCTAVE][3] = {"C",  "C#", "D",  "D#", "E",  "F",
                                                        "F#", "G",  "G#", "A",  "A#", "B"};
    int octave = semitone / SEMITONES_PER_OCTAVE;
    int above_c = semitone % SEMITONES_PER_OCTAVE;

    if (above_c < 0) { /* C truncates toward zero; notes below C-1 want the floor */
        above_c += SEMITONES_PER_OCTAVE;
        octave--;
    }
    (void)snprintf(text, size, "%s%d", names[above_c], octave - 1);
}

double sb_note_hz(int semitone, double a4_hz) {
    return a4_hz * exp2(((double)semitone - A4_SEMITONE) / SEMITONES_PER_OCTAVE);
}

int sb_note_nearest(double hz, double a4_hz, double *cents_off) {
    const double semitones = sb_cents_between(a4_hz, hz) / 100.0;

    if (isnan(semitones) || isinf(semitones)) {
        if (cents_off != NULL) {
            *cents_off = (double)NAN;
        }
        return LOWEST_SEMITONE;
    }
    const double nearest = floor(semitones + 0.5);
    if (cents_off != NULL) {
        *cents_off = 100.0 * (semitones - nearest);
    }
    return A4_SEMITONE + (int)nearest;
}
