#include "cli/complain.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cli/err.h"
#include "core/pitch.h"

#define SILENCE    1e-5                   /* swing below this, -100 dBFS, is none */
#define SHORTEST_S 0.3                    /* no note can be measured in less */
#define FAULTS     (SB_PLUCK_DROPPED + 1) /* values of sb_pluck_fault */
#define LET_RING   "pluck one string at a time and let each note ring for two seconds"

int sb_complain_memory(void) {
    return sb_fail(EX_OSERR, "close other programs and try again", NULL, "out of memory");
}

/* --- files and devices --------------------------------------------------------------- */

int sb_complain_open(const char *path) {
    struct stat about;
    if (errno == ENOMEM)
        return sb_complain_memory();
    if (stat(path, &about) == 0 || (errno != ENOENT && errno != ENOTDIR))
        return sb_fail(EX_NOINPUT, "see whether it is a file, and yours to read", path,
                       "the file cannot be opened");
    return sb_fail(EX_NOINPUT, "see whether the name is right and the file may be read", path,
                   "no such file");
}

int sb_complain_read(const char *path) {
    return sb_fail(EX_IOERR, "see whether it is a file and the disk is in order", path,
                   "reading failed");
}

static int out_of_range(const char *path, double rate_hz, int channel) {
    if (rate_hz >= SB_RATE_MIN_HZ && rate_hz <= SB_RATE_MAX_HZ)
        return sb_fail(EX_DATAERR, "leave --channel away to take the loudest", path,
                       "no channel %d in the recording", channel);
    return sb_fail(EX_DATAERR, "record at 8 to 384 kHz, best at 44.1 or 48 kHz", path,
                   "a sample rate of %.0f Hz cannot be measured", rate_hz);
}

static bool is_empty(const char *path) {
    struct stat about;
    return stat(path, &about) == 0 && S_ISREG(about.st_mode) && about.st_size == 0;
}

int sb_complain_recording(sb_status status, const char *path, double rate_hz, int channel) {
    switch (status) {
    case SB_E_NO_FILE: return sb_complain_open(path);
    case SB_E_RANGE: return out_of_range(path, rate_hz, channel);
    case SB_E_MEMORY: return sb_complain_memory();
    case SB_E_IO: return sb_complain_read(path);
    default:
        if (is_empty(path))
            return sb_fail(EX_DATAERR, "record it again", path, "the file is empty");
        return sb_fail(EX_DATAERR, "give a recording as WAV, FLAC, AIFF, CAF or OGG", path,
                       "not a sound file that can be read");
    }
}

int sb_load_take(sb_take *take, const char *path, int channel, const sb_also *also) {
    sb_status status = sb_take_load(take, path, channel, also);
    if (status != SB_OK)
        return sb_complain_recording(status, path, take->rate_hz, channel);
    if (take->end == SB_E_IO || take->end == SB_E_MEMORY)
        return sb_complain_recording(take->end, path, 0, 0);
    if (take->end != SB_OK)
        sb_warn(path, "the recording is damaged after %.1f s; what comes before is used",
                sb_take_seconds(take));
    return EX_OK;
}

int sb_complain_input(sb_status status, const sb_input_options *options) {
    const char *list = "setback inputs lists them; choose with --input NAME or INDEX";
    if (status == SB_E_RANGE)
        return sb_fail(EX_UNAVAILABLE, "leave --rate and --channel away, or see setback inputs",
                       options->input, "the input refuses this rate or channel");
    if (status == SB_E_MEMORY)
        return sb_complain_memory();
    if (options->input)
        return sb_fail(EX_UNAVAILABLE, list, options->input, "no such input, or several like it");
    return sb_fail(EX_UNAVAILABLE, "plug in a microphone or interface, then see setback inputs",
                   NULL, "no input to listen to");
}

/* --- sound --------------------------------------------------------------------------- */

const char *sb_pluck_advice(sb_pluck_fault fault) {
    switch (fault) {
    case SB_PLUCK_GOOD: return "";
    case SB_PLUCK_TOO_SHORT: return "let each note ring for two seconds before the next";
    case SB_PLUCK_TOO_QUIET: return "bring the microphone nearer or turn the input up";
    case SB_PLUCK_CLIPPED: return "turn the input down or pluck more softly";
    case SB_PLUCK_MANY_STRINGS: return "damp the other strings with a strip of cloth";
    case SB_PLUCK_UNSTEADY: return "pluck softly, hold still, and see that the string is settled";
    case SB_PLUCK_NO_PITCH: return LET_RING;
    case SB_PLUCK_HUM: return "go further from mains leads and transformers, and pluck again";
    case SB_PLUCK_DROPPED: return "close other programs and record again";
    }
    return LET_RING;
}

/* "2 clipped, 1 too short", and the fault that most have. */
static sb_pluck_fault list_faults(const sb_take *take, char *text, size_t size) {
    size_t count[FAULTS] = {0};
    sb_pluck_fault most = SB_PLUCK_NO_PITCH;
    for (size_t i = 0; i < take->n; i++)
        count[take->readings[i].fault]++;
    count[SB_PLUCK_GOOD] = 0;
    text[0] = '\0';
    for (int f = 1; f < FAULTS; f++) {
        size_t used = strlen(text);
        if (count[f] > 0)
            (void)snprintf(text + used, size - used, "%s%zu %s", used ? ", " : "", count[f],
                           sb_pluck_fault_text((sb_pluck_fault)f));
        if (count[f] > count[most])
            most = (sb_pluck_fault)f;
    }
    return most;
}

static int complain_of_plucks(const sb_take *take, const char *path) {
    char list[160];
    sb_pluck_fault most = list_faults(take, list, sizeof list);
    if (list[0] == '\0')
        return sb_fail(EX_DATAERR, LET_RING, path, "no pluck was heard");
    return sb_fail(EX_DATAERR, sb_pluck_advice(most), path, "no usable pluck (%s)", list);
}

int sb_complain_take(const sb_take *take, const char *path) {
    double swing = take->highest - take->lowest, level = (take->highest + take->lowest) / 2;
    if (take->samples == 0)
        return sb_fail(EX_DATAERR, "record it again", path, "there is no sound in it");
    if (take->not_finite == take->samples)
        return sb_fail(EX_DATAERR, "export the recording again from where it was made", path,
                       "every sample is invalid (NaN or infinite)");
    if (sb_take_seconds(take) < SHORTEST_S)
        return sb_fail(EX_DATAERR, LET_RING, path, "too short to measure (%.3f s)",
                       sb_take_seconds(take));
    const char *advice = path ? "see whether the right input was recorded and turned up"
                              : "see whether it is the right --input, connected and turned up";
    if (swing < SILENCE && fabs(level) > SILENCE)
        return sb_fail(EX_DATAERR, advice, path, "a constant level, no sound");
    if (swing < SILENCE)
        return sb_fail(EX_DATAERR, advice, path, "nothing but silence");
    return complain_of_plucks(take, path);
}

/* --- notes --------------------------------------------------------------------------- */

static void note_of(const sb_task *task, double hz, char *text, size_t size) {
    sb_note_format(sb_note_nearest(hz, task->a4_hz, NULL), text, size);
}

static int wrong_string(const sb_task *task, const sb_measurement *m, const char *path) {
    char heard[SB_NOTE_TEXT_MAX], told[SB_NOTE_TEXT_MAX];
    note_of(task, m->heard_hz, heard, sizeof heard);
    sb_note_format(task->note, told, sizeof told);
    return sb_fail(EX_DATAERR, "see whether it is the right string, and tuned", path,
                   "wrong string: it sounds %s (%.1f Hz), not %s", heard, m->heard_hz, told);
}

static int wrong_fret(const sb_task *task, const sb_measurement *m, const char *path) {
    double semitones = m->heard_cents / 100;
    char hint[120];
    if (semitones > 0.5 && semitones < 36.5)
        (void)snprintf(hint, sizeof hint,
                       "it is nearest to fret %.0f; wrong fret or wrong string? "
                       "--fret N tells another fret",
                       round(semitones));
    else
        (void)snprintf(hint, sizeof hint, "wrong fret or wrong string?");
    return sb_fail(EX_DATAERR, hint, path,
                   "the two notes are %.0f cents apart where fret %d makes %d", m->heard_cents,
                   task->setting->fret, 100 * task->setting->fret);
}

static int missing(const sb_task *task, const sb_measurement *m, const char *what,
                   const char *path) {
    char heard[SB_NOTE_TEXT_MAX];
    note_of(task, m->heard_hz, heard, sizeof heard);
    return sb_fail(EX_DATAERR, "pluck the string open and at the fret, each a few times", path,
                   "%s (only %s, %.1f Hz, was heard)", what, heard, m->heard_hz);
}

static const char *const side_names[] = {"open", "fretted", "one"};

int sb_complain_outcome(sb_outcome outcome, const sb_task *task, const sb_measurement *m,
                        const sb_take *take, const char *path) {
    switch (outcome) {
    case SB_MEASURED: return EX_OK;
    case SB_NO_PLUCK: return sb_complain_take(take, path);
    case SB_NO_OPEN: return missing(task, m, "the open string is missing", path);
    case SB_NO_FRETTED: return missing(task, m, "the fretted note is missing", path);
    case SB_ONE_NOTE: return missing(task, m, "only one note, where two are needed", path);
    case SB_WRONG_STRING: return wrong_string(task, m, path);
    case SB_WRONG_FRET: return wrong_fret(task, m, path);
    case SB_SAME_NOTE:
        return missing(task, m, "the fretted note is the same as the open one", path);
    case SB_SWAPPED:
        return sb_fail(EX_DATAERR, "swap --open and --fretted", path,
                       "the open recording holds the fretted note");
    case SB_MIXED_NOTES:
        return sb_fail(EX_DATAERR, "give a recording of both notes with --take", path,
                       "several notes in what should hold the %s one", side_names[m->fault_side]);
    }
    return EX_SOFTWARE;
}
