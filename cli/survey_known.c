#include "cli/survey_known.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "cli/err.h"
#include "cli/option_rows.h"
#include "cli/prediction.h"

/* A feeler gauge under a string, and the action where it was not told (common practice). */
#define FEELER_ERROR_MM 0.015
#define ACTION_ERROR_MM 0.3
#define RULER_ERROR_MM  0.1

const sb_option sb_survey_told_rows[SB_SURVEY_TOLD_OPTIONS] = {
    {"scale", SB_OPT_LENGTH, offsetof(sb_survey_told, scale_mm), "LEN",
     "the nominal scale length, twice nut to 12th fret, with its unit; an instrument of the book "
     "has its own",
     100, 2000, false},
    {"string", SB_OPT_TEXT, offsetof(sb_survey_told, string), "N|NOTE:GAUGE",
     "which string of the instrument, or what string it is, such as G3:17 or D3:26w: then the "
     "height of a slot is known better",
     0, 0, false},
    SB_ROW_MATERIAL(sb_survey_told, material),
    {"stretch", SB_OPT_NUMBER, offsetof(sb_survey_told, kappa), "N",
     "the string's stiffness over its tension, EA/T, where it is known", 5, 2000, false},
    {"action", SB_OPT_TEXT, offsetof(sb_survey_told, action), "FRET:LEN",
     "the open string over the crown of a fret, such as 12:1.6mm (default 12:1.8mm)", 0, 0, false},
    {"action17", SB_OPT_LENGTH, offsetof(sb_survey_told, action17_mm), "LEN",
     "or over that of fret 17", 0.1, 20, false},
    {"first-fret", SB_OPT_LENGTH, offsetof(sb_survey_told, first_fret_mm), "LEN",
     "and over that of fret 1, by a feeler gauge: then a high slot is told from a nut that is out",
     0.02, 5, false},
    {"good-slot", SB_OPT_LENGTH, offsetof(sb_survey_told, good_slot_mm), "LEN",
     "how high a good slot's bottom stands over the plane of the frets (default 0.25mm)", 0.01, 3,
     false},
};

static int bad_string(const sb_survey_known *k) {
    return sb_fail(EX_USAGE,
                   k->name ? "give its number, 1 being the first"
                           : "write note and gauge, such as --string G3:17 or D3:26w",
                   k->told->string, "no such string");
}

int sb_survey_known_read(sb_survey_known *k) {
    sb_string strings[SB_STRINGS_MAX];
    size_t n = 0;
    double number = 0;
    if (!k->told->string)
        return EX_OK;
    if (k->name) {
        if (!sb_number_parse(k->told->string, &number) || number != floor(number) || number < 1 ||
            number > (double)k->instrument.instrument.n_strings)
            return bad_string(k);
        k->number = (int)number;
        return EX_OK;
    }
    if (sb_strings_parse(k->told->string, strings, &n) != SB_OK || n != 1)
        return bad_string(k);
    k->string = strings[0];
    k->string.scale_mm = k->told->scale_mm;
    k->has_string = true;
    return EX_OK;
}

sb_open_notes sb_survey_known_notes(const sb_survey_known *k) {
    const sb_instrument *it = &k->instrument.instrument;
    double a4 = k->told->a4_hz;
    sb_open_notes open = {.n = 1};
    if (k->told->note != SB_NO_NOTE) {
        open.hz[0] = sb_note_hz(k->told->note, a4);
    } else if (k->has_string) {
        open.hz[0] = sb_note_hz(k->string.semitone, a4);
    } else if (k->number > 0) {
        open.hz[0] = sb_note_hz(it->strings[k->number - 1].semitone, a4);
    } else {
        open.n = k->name ? it->n_strings : 0;
        for (size_t i = 0; i < open.n; i++)
            open.hz[i] = sb_note_hz(it->strings[i].semitone, a4);
    }
    return open;
}

/* The instrument's string: the one told, or the nearest in pitch. */
static int string_of(const sb_survey_known *k, double open_hz) {
    const sb_instrument *it = &k->instrument.instrument;
    int nearest = 1;
    double least = HUGE_VAL;
    if (k->number > 0)
        return k->number;
    for (size_t i = 0; i < it->n_strings; i++) {
        double off =
            fabs(sb_cents_between(sb_note_hz(it->strings[i].semitone, k->told->a4_hz), open_hz));
        if (off < least) {
            least = off;
            nearest = (int)i + 1;
        }
    }
    return nearest;
}

/* From what the string is said to be and, for a wound one, sounds like. */
static int set_kappa(const sb_survey_known *k, sb_surveyed *s, const sb_string *string) {
    const sb_data_texts texts = {.material = k->told->material};
    sb_string_set set = {.n = 1};
    if (string)
        set.strings[0] = *string;
    else
        set.strings[0] = (sb_string){.semitone = 64, .course = 1};
    set.strings[0].scale_mm = s->options.neck.scale_mm;
    int code = sb_set_data(&set, &texts, k->name ? k->instrument.kind : "", k->told->a4_hz);
    sb_wire_data *data = &set.data[0];
    double hz = sb_note_hz(set.strings[0].semitone, k->told->a4_hz);
    data->inharmonicity = s->inharmonicity;
    data->inharmonicity_std_error = s->inharmonicity_std_error;
    s->kappa_told = true;
    if (k->told->kappa > 0) {
        s->options.kappa = (sb_kappa){k->told->kappa, 1.05};
        return code;
    }
    if (string && sb_kappa_of(data, s->options.neck.scale_mm, hz, &s->options.kappa) == SB_OK)
        return code;
    data->inharmonicity = 0; /* where no core goes with it, or it is known better */
    s->kappa_told =
        string && sb_kappa_of(data, s->options.neck.scale_mm, hz, &s->options.kappa) == SB_OK;
    if (!s->kappa_told)
        s->options.kappa = sb_kappa_unknown(data->material);
    return code;
}

/* The string lies in a straight line from the nut's slot over a fret that was measured. */
static int set_heights(const sb_survey_known *k, sb_surveyed *s) {
    const sb_survey_told *a = k->told;
    sb_survey_options *o = &s->options;
    sb_action action = {.fret = 12, .action_mm = SB_ACTION_MM};
    bool told = a->action || a->action17_mm > 0;
    int code = a->action ? sb_action_parse(a->action, &action) : EX_OK;
    if (a->action17_mm > 0)
        action = (sb_action){.fret = 17, .action_mm = a->action17_mm};
    double good = a->good_slot_mm > 0 ? a->good_slot_mm : SB_GOOD_SLOT_MM;
    double slot = good;
    o->neck.good_slot_mm = good;
    if (a->first_fret_mm > 0) {
        double share = (1 - 1 / sb_fret_ratio(1)) / (1 - 1 / sb_fret_ratio(action.fret));
        double off = share * (told ? RULER_ERROR_MM : ACTION_ERROR_MM);
        slot = fmax(0, (a->first_fret_mm - share * action.action_mm) / (1 - share));
        o->slot_mm = slot - good;
        o->slot_std_error_mm = hypot(FEELER_ERROR_MM, off) / (1 - share);
    }
    o->neck.saddle_mm = fmax(0, sb_saddle_height_mm(slot, action.fret, action.action_mm));
    return code;
}

int sb_survey_known_describe(const sb_survey_known *k, sb_surveyed *s) {
    char note[SB_NOTE_TEXT_MAX];
    const sb_string *string = k->has_string ? &k->string : NULL;
    s->options.neck.scale_mm = k->told->scale_mm;
    if (k->name) {
        s->string = string_of(k, s->open_hz);
        string = &k->instrument.instrument.strings[s->string - 1];
        s->options.neck.scale_mm = string->scale_mm;
    }
    if (string)
        sb_note_format(string->semitone, note, sizeof note);
    if (s->string > 0)
        (void)snprintf(s->name, sizeof s->name, "string %d, %s", s->string, note);
    else if (string)
        (void)snprintf(s->name, sizeof s->name, "%s", note);
    int code = set_kappa(k, s, string);
    return code == EX_OK ? set_heights(k, s) : code;
}
