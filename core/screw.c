#include "core/screw.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "core/length.h"

#define MIN_PITCH_MM    0.1
#define MAX_PITCH_MM    3.0
#define EIGHTHS         8
#define MAX_TURNS       1e6
#define THREAD_TEXT_MAX 16

typedef struct {
    const char *name; /* lower case */
    double pitch_mm;
} thread;

static const thread threads[] = {
    {"m2", 0.4},
    {"m2.5", 0.45},
    {"m3", 0.5},
    {"m3.5", 0.6},
    {"m4", 0.7},
    {"2-56", SB_MM_PER_INCH / 56.0},
    {"4-40", SB_MM_PER_INCH / 40.0},
    {"6-32", SB_MM_PER_INCH / 32.0},
    {"8-32", SB_MM_PER_INCH / 32.0},
};

/* Copies without spaces and in lower case; false when it is too long for any thread. */
static bool normalize(const char *text, char name[THREAD_TEXT_MAX]) {
    size_t n = 0;

    for (; *text != '\0'; text++) {
        if (*text == ' ' || *text == '\t') {
            continue;
        }
        if (n + 1 >= THREAD_TEXT_MAX) {
            return false;
        }
        const bool upper = *text >= 'A' && *text <= 'Z';
        name[n++] = (char)(upper ? *text - 'A' + 'a' : *text);
    }
    name[n] = '\0';
    return true;
}

static bool find_by_name(const char *name, double *pitch_mm) {
    for (size_t i = 0; i < sizeof threads / sizeof threads[0]; i++) {
        if (strcmp(name, threads[i].name) == 0) {
            *pitch_mm = threads[i].pitch_mm;
            return true;
        }
    }
    return false;
}

/* The text behind the diameter and the cross of "m3x0.5", else NULL. */
static const char *pitch_of_metric(const char *name) {
    const size_t digits = name[0] == 'm' ? strspn(name + 1, "0123456789.") : 0;

    if (digits == 0) {
        return NULL;
    }
    const char *cross = name + 1 + digits;
    if (*cross == 'x') {
        return cross + 1;
    }
    return strncmp(cross, "\u00d7", 2) == 0 ? cross + 2 : NULL;
}

sb_status sb_thread_parse(const char *text, double *pitch_mm) {
    char name[THREAD_TEXT_MAX];
    double mm = 0.0;

    if (normalize(text, name) && find_by_name(name, pitch_mm)) {
        return SB_OK;
    }
    const char *metric = normalize(text, name) ? pitch_of_metric(name) : NULL;
    const sb_status status =
        metric != NULL ? sb_length_parse(metric, 1.0, &mm) : sb_length_parse(text, 0.0, &mm);
    if (status != SB_OK) {
        return status;
    }
    if (!(mm >= MIN_PITCH_MM && mm <= MAX_PITCH_MM)) {
        return SB_E_RANGE;
    }
    *pitch_mm = mm;
    return SB_OK;
}

double sb_screw_turns(double move_mm, double pitch_mm, sb_screw_action action, sb_turn *turn) {
    const double turns = fabs(move_mm) / pitch_mm;

    *turn = SB_TURN_NONE;
    if (!(pitch_mm > 0.0) || !isfinite(turns)) {
        return (double)NAN;
    }
    const double eighths = floor(turns * EIGHTHS + 0.5);
    if (eighths > 0.0) {
        const bool back = move_mm > 0.0;
        const bool clockwise = back == (action == SB_SCREW_PULLS);
        *turn = clockwise ? SB_TURN_CLOCKWISE : SB_TURN_ANTICLOCKWISE;
    }
    return eighths / EIGHTHS;
}

void sb_turns_format(double turns, char *text, size_t size) {
    static const char fractions[EIGHTHS][4] = {"",       "\u215b", "\u00bc", "\u215c",
                                               "\u00bd", "\u215d", "\u00be", "\u215e"};

    if (!(turns >= 0.0 && turns <= MAX_TURNS)) {
        (void)snprintf(text, size, "n/a");
        return;
    }
    const long eighths = lround(turns * EIGHTHS);
    const long whole = eighths / EIGHTHS;
    const char *fraction = fractions[eighths % EIGHTHS];
    const char *plural = eighths > EIGHTHS ? "s" : "";
    if (eighths == 0) {
        (void)snprintf(text, size, "no turn");
    } else if (whole == 0) {
        (void)snprintf(text, size, "%s turn", fraction);
    } else {
        const char *space = fraction[0] != '\0' ? " " : "";
        (void)snprintf(text, size, "%ld%s%s turn%s", whole, space, fraction, plural);
    }
}
