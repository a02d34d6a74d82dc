/* survey: several frets of a string, and what is at fault. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "cli/bench_log.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json_survey.h"
#include "cli/option_rows.h"
#include "cli/output_file.h"
#include "cli/prediction.h"
#include "cli/print_survey.h"
#include "cli/survey_input.h"
#include "cli/survey_live.h"
#include "cli/term.h"
#include "cli/text.h"

#define MOST_STRINGS 24
/* A feeler gauge under a string, and the action where it was not told (common practice). */
#define FEELER_ERROR_MM 0.015
#define ACTION_ERROR_MM 0.3
#define RULER_ERROR_MM  0.1

typedef struct {
    double scale_mm, action17_mm, first_fret_mm, good_slot_mm, kappa; /* 0 = not told */
    const char *string, *material, *action, *readings, *frets, *weights, *scl, *svg;
    sb_texts takes;
    int note;
    double a4_hz, tolerance_cents;
    bool force, json;
    sb_session_options live;
    sb_book_at at;
} survey_args;

/* --- options --------------------------------------------------------------------------- */

static const sb_option string_options[] = {
    {"scale", SB_OPT_LENGTH, offsetof(survey_args, scale_mm), "LEN",
     "the nominal scale length, twice nut to 12th fret, with its unit; an instrument of the book "
     "has its own",
     100, 2000, false},
    {"string", SB_OPT_TEXT, offsetof(survey_args, string), "N|NOTE:GAUGE",
     "which string of the instrument, or what string it is, such as G3:17 or D3:26w: then the "
     "height of a slot is known better",
     0, 0, false},
    SB_ROW_MATERIAL(survey_args, material),
    {"stretch", SB_OPT_NUMBER, offsetof(survey_args, kappa), "N",
     "the string's stiffness over its tension, EA/T, where it is known", 5, 2000, false},
    {"action", SB_OPT_TEXT, offsetof(survey_args, action), "FRET:LEN",
     "the open string over the crown of a fret, such as 12:1.6mm (default 12:1.8mm)", 0, 0, false},
    {"action17", SB_OPT_LENGTH, offsetof(survey_args, action17_mm), "LEN",
     "or over that of fret 17", 0.1, 20, false},
    {"first-fret", SB_OPT_LENGTH, offsetof(survey_args, first_fret_mm), "LEN",
     "and over that of fret 1, by a feeler gauge: then a high slot is told from a nut that is out",
     0.02, 5, false},
    {"good-slot", SB_OPT_LENGTH, offsetof(survey_args, good_slot_mm), "LEN",
     "how high a good slot's bottom stands over the plane of the frets (default 0.25mm)", 0.01, 3,
     false},
};

static const sb_option sound_options[] = {
    {"readings", SB_OPT_TEXT, offsetof(survey_args, readings), "FILE",
     "readings made elsewhere: lines of fret, cents against the open string, and standard error, "
     "divided by tabs; - reads standard input",
     0, 0, false},
    {"take", SB_OPT_TEXTS, offsetof(survey_args, takes), "FILE",
     "a recording of one string, open and at several frets, in any order; given several times, of "
     "several strings",
     0, 0, false},
    {"frets", SB_OPT_TEXT, offsetof(survey_args, frets), "LIST",
     "the frets that are played, such as 0,1,2,5-9 (default 0,1,2,3,5,7,9,12,15,17, or others)", 0,
     0, false},
    {"note", SB_OPT_NOTE, offsetof(survey_args, note), "NOTE",
     "the open string's note, such as E2, so that another string is noticed", 0, 0, false},
    SB_ROW_A4(survey_args, a4_hz, 500),
    {"scl", SB_OPT_TEXT, offsetof(survey_args, scl), "FILE",
     "the temperament that the neck is fretted for, one degree a fret, as a Scala file (default: "
     "equal temperament)",
     0, 0, false},
};

static const sb_option live_options[] = {
    {"plucks", SB_OPT_WHOLE, offsetof(survey_args, live.plucks), "N",
     "how many good plucks of each fret to wait for, at least (default 1)", 1, 10, false},
    SB_ROW_TIMEOUT(survey_args, live.timeout_s),
};

static const sb_option answer_options[] = {
    {"weights", SB_OPT_TEXT, offsetof(survey_args, weights), "LIST",
     "how much the player uses each fret, such as 1-5:3,12:2 (default 1 each): for the saddle's "
     "best move while the nut stays",
     0, 0, false},
    SB_ROW_TOLERANCE(survey_args, tolerance_cents),
    {"svg", SB_OPT_TEXT, offsetof(survey_args, svg), "FILE",
     "draw the neck as SVG, to be shown or printed", 0, 0, false},
    {"force", SB_OPT_FLAG, offsetof(survey_args, force), NULL,
     "replace the drawing if there is one already", 0, 0, false},
    {"json", SB_OPT_FLAG, offsetof(survey_args, json), NULL, "print one JSON object a string", 0, 0,
     false},
};

static const sb_option_group groups[] = {
    {"the string", string_options, 8, 0},
    {"the readings; live when neither a file nor a recording is named", sound_options, 6, 0},
    {"the input", sb_input_option_rows, SB_INPUT_OPTIONS, offsetof(survey_args, live.input)},
    {"listening", live_options, 2, 0},
    {"the answer", answer_options, 5, 0},
    {"the book", sb_book_options, SB_BOOK_OPTIONS, offsetof(survey_args, at)},
    {NULL, NULL, 0, 0},
};

/* --- what a run works with --------------------------------------------------------------- */

typedef struct {
    survey_args args;
    sb_survey_plan plan;
    const char *name; /* of the instrument; NULL = none */
    sb_book *book;
    int64_t id;
    sb_description instrument;
    int told; /* its string told, from 1; 0 = by pitch */
    bool has_string;
    sb_string string; /* told by note and gauge */
    sb_take *take;
    sb_take_frets frets;
    sb_surveyed done[MOST_STRINGS];
    size_t n;
} work;

/* --- the string -------------------------------------------------------------------------- */

static int bad_string(const work *w) {
    return sb_fail(EX_USAGE,
                   w->name ? "give its number, 1 being the first"
                           : "write note and gauge, such as --string G3:17 or D3:26w",
                   w->args.string, "no such string");
}

static int read_string(work *w) {
    sb_string strings[SB_STRINGS_MAX];
    size_t n = 0;
    double number = 0;
    if (!w->args.string)
        return EX_OK;
    if (w->name) {
        if (!sb_number_parse(w->args.string, &number) || number != floor(number) || number < 1 ||
            number > (double)w->instrument.instrument.n_strings)
            return bad_string(w);
        w->told = (int)number;
        return EX_OK;
    }
    if (sb_strings_parse(w->args.string, strings, &n) != SB_OK || n != 1)
        return bad_string(w);
    w->string = strings[0];
    w->string.scale_mm = w->args.scale_mm;
    w->has_string = true;
    return EX_OK;
}

/* What the open string may be; 0 = anything. */
static size_t open_notes(const work *w, double hz[SB_STRINGS_MAX]) {
    const sb_instrument *it = &w->instrument.instrument;
    double a4 = w->args.a4_hz;
    if (w->args.note != SB_NO_NOTE) {
        hz[0] = sb_note_hz(w->args.note, a4);
        return 1;
    }
    if (w->has_string) {
        hz[0] = sb_note_hz(w->string.semitone, a4);
        return 1;
    }
    if (!w->name)
        return 0;
    if (w->told > 0) {
        hz[0] = sb_note_hz(it->strings[w->told - 1].semitone, a4);
        return 1;
    }
    for (size_t i = 0; i < it->n_strings; i++)
        hz[i] = sb_note_hz(it->strings[i].semitone, a4);
    return it->n_strings;
}

/* The instrument's string: the one told, or the nearest in pitch. */
static int string_of(const work *w, double open_hz) {
    const sb_instrument *it = &w->instrument.instrument;
    int nearest = 1;
    double least = HUGE_VAL;
    if (w->told > 0)
        return w->told;
    for (size_t i = 0; i < it->n_strings; i++) {
        double off =
            fabs(sb_cents_between(sb_note_hz(it->strings[i].semitone, w->args.a4_hz), open_hz));
        if (off < least) {
            least = off;
            nearest = (int)i + 1;
        }
    }
    return nearest;
}

/* From what the string is said to be and, for a wound one, sounds like. */
static int set_kappa(const work *w, sb_surveyed *s, const sb_string *string) {
    const sb_data_texts texts = {.material = w->args.material};
    sb_string_set set = {.n = 1};
    if (string)
        set.strings[0] = *string;
    else
        set.strings[0] = (sb_string){.semitone = 64, .course = 1};
    set.strings[0].scale_mm = s->options.neck.scale_mm;
    int code = sb_set_data(&set, &texts, w->name ? w->instrument.kind : "", w->args.a4_hz);
    sb_wire_data *data = &set.data[0];
    double hz = sb_note_hz(set.strings[0].semitone, w->args.a4_hz);
    data->inharmonicity = s->inharmonicity;
    data->inharmonicity_std_error = s->inharmonicity_std_error;
    s->kappa_told = true;
    if (w->args.kappa > 0) {
        s->options.kappa = (sb_kappa){w->args.kappa, 1.05};
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
static int set_heights(const work *w, sb_surveyed *s) {
    const survey_args *a = &w->args;
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

static int describe(const work *w, sb_surveyed *s) {
    char note[SB_NOTE_TEXT_MAX];
    const sb_string *string = w->has_string ? &w->string : NULL;
    s->options.tolerance_cents = w->args.tolerance_cents;
    s->options.neck.scale_mm = w->args.scale_mm;
    if (w->name) {
        s->string = string_of(w, s->open_hz);
        string = &w->instrument.instrument.strings[s->string - 1];
        s->options.neck.scale_mm = string->scale_mm;
    }
    if (string)
        sb_note_format(string->semitone, note, sizeof note);
    if (s->string > 0)
        (void)snprintf(s->name, sizeof s->name, "string %d, %s", s->string, note);
    else if (string)
        (void)snprintf(s->name, sizeof s->name, "%s", note);
    int code = set_kappa(w, s, string);
    return code == EX_OK ? set_heights(w, s) : code;
}

/* --- one string -------------------------------------------------------------------------- */

static int judge(work *w, sb_surveyed *s) {
    int code = describe(w, s);
    if (code != EX_OK)
        return code;
    sb_status status = sb_survey_string(s->readings, s->n, &s->options, &s->survey);
    if (status == SB_E_TOO_SHORT)
        return sb_fail(EX_DATAERR, "pluck the string at several frets, not open alone", s->source,
                       "no fret could be read");
    if (status != SB_OK)
        return sb_fail(EX_DATAERR, "see whether the frets, the scale and the heights are right",
                       s->source, "no neck fits these readings");
    w->n++;
    return EX_OK;
}

static sb_surveyed *begin(work *w, const char *source) {
    sb_surveyed *s = &w->done[w->n];
    *s = (sb_surveyed){.source = source, .plan = &w->plan};
    return s;
}

static int survey_readings(work *w) {
    sb_surveyed *s = begin(w, w->args.readings);
    int code = sb_survey_load(s, w->args.readings);
    return code == EX_OK ? judge(w, s) : code;
}

static int wrong_string(const work *w, const char *path) {
    char note[SB_NOTE_TEXT_MAX];
    sb_note_format(sb_note_nearest(w->frets.open_hz, w->args.a4_hz, NULL), note, sizeof note);
    return sb_fail(EX_DATAERR, "see whether it is the right string, and tuned", path,
                   "wrong string: it sounds %s (%.1f Hz)", note, w->frets.open_hz);
}

static int survey_take(work *w, const char *path) {
    double open_hz[SB_STRINGS_MAX];
    size_t n_open = open_notes(w, open_hz);
    sb_surveyed *s = begin(w, path);
    sb_take_reset(w->take);
    int code = path
                   ? sb_load_take(w->take, path, w->args.live.input.channel, NULL)
                   : sb_survey_listen(&w->args.live, &w->plan, open_hz, n_open, w->take, &w->frets);
    if (code != EX_OK)
        return code;
    sb_sorted sorted = sb_survey_sort(w->take, &w->plan, open_hz, n_open, &w->frets);
    if (sorted == SB_SORTED_NO_STRING && n_open > 0 &&
        sb_survey_sort(w->take, &w->plan, NULL, 0, &w->frets) == SB_SORTED)
        return wrong_string(w, path);
    if (sorted != SB_SORTED)
        return sb_survey_complain(sorted, w->take, path);
    sb_survey_combine(s, w->take, &w->frets);
    return judge(w, s);
}

/* One bad recording does not keep the others from being surveyed. */
static int survey_all(work *w) {
    int worst = EX_OK;
    if (w->args.readings)
        return survey_readings(w);
    if (w->args.takes.n == 0)
        return survey_take(w, NULL);
    for (size_t i = 0; i < w->args.takes.n; i++) {
        int code = survey_take(w, w->args.takes.item[i]);
        worst = worst == EX_OK ? code : worst;
    }
    return worst;
}

/* --- what comes out ---------------------------------------------------------------------- */

static int keep(const work *w, const sb_surveyed *s) {
    char *data = sb_json_survey_text(s);
    if (!data)
        return sb_complain_memory();
    sb_event event = {
        .at_ms = sb_book_now_ms(), .kind = SB_EVENT_READING, .string = s->string, .data = data};
    sb_book_status status = sb_log_append_in_visit(w->book, w->id, &event, 1);
    free(data);
    return sb_book_complain(status, w->args.at.path, w->name);
}

static int show(work *w) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    for (size_t i = 0; i < w->n; i++) {
        if (!w->args.json) {
            if (i > 0)
                (void)fputc('\n', stdout);
            sb_print_survey(&page, &w->done[i]);
        } else if (!sb_json_survey(stdout, &w->done[i])) {
            return sb_complain_memory();
        }
        int code = w->book ? keep(w, &w->done[i]) : EX_OK;
        if (code != EX_OK)
            return code;
    }
    return EX_OK;
}

static int draw(const work *w) {
    sb_output_file file;
    int code = sb_output_begin(&file, w->args.svg, w->args.force);
    if (code != EX_OK)
        return code;
    sb_svg_survey(file.out, w->name, w->done, w->n);
    return sb_output_end(&file, true);
}

static int conclude(work *w, int code) {
    if (w->n == 0)
        return code;
    int shown = show(w);
    if (shown == EX_OK && w->args.svg)
        shown = draw(w);
    return code != EX_OK ? code : shown;
}

/* --- the run ----------------------------------------------------------------------------- */

static int check(const work *w, const sb_texts *operands) {
    const survey_args *a = &w->args;
    if (a->readings && a->takes.n > 0)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--readings does not go with --take");
    if (operands->n == 0 && !(a->scale_mm > 0))
        return sb_fail(EX_USAGE, "or name an instrument of the book", NULL,
                       "--scale LEN is needed");
    if (operands->n > 0 && a->scale_mm > 0)
        return sb_fail(EX_USAGE, "leave --scale away; setback book edit corrects it", NULL,
                       "the instrument has its own scale length");
    if (operands->n > 0 && a->readings && !a->string)
        return sb_fail(EX_USAGE, "give --string N, 1 being the first", NULL,
                       "readings do not tell which string they are of");
    if (a->action && a->action17_mm > 0)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--action17 does not go with --action");
    if (a->takes.n > MOST_STRINGS)
        return sb_fail(EX_USAGE, "survey fewer at a time", NULL, "at most %d recordings",
                       MOST_STRINGS);
    if (a->takes.n > 1 && (a->string || a->note != SB_NO_NOTE))
        return sb_fail(EX_USAGE, "leave it away, or survey one string at a time", NULL,
                       "--string and --note go with one string only");
    if (a->svg && !a->force) {
        FILE *there = fopen(a->svg, "r");
        if (there) {
            (void)fclose(there);
            return sb_fail(EX_USAGE, "choose another name, or replace it with --force", a->svg,
                           "the file exists already");
        }
    }
    return EX_OK;
}

static int make_plan(work *w) {
    int code = EX_OK;
    sb_survey_plan_default(&w->plan);
    w->plan.a4_hz = w->args.a4_hz;
    if (w->args.scl)
        code = sb_survey_plan_scl(&w->plan, w->args.scl);
    if (code == EX_OK && w->args.frets)
        code = sb_survey_plan_frets(&w->plan, w->args.frets);
    if (code == EX_OK && w->args.weights)
        code = sb_survey_plan_weights(&w->plan, w->args.weights);
    return code;
}

static int open_instrument(work *w, const sb_texts *operands) {
    sb_book_named named = {NULL, NULL, 0};
    if (operands->n == 0)
        return EX_OK;
    int code = sb_book_open_named(&w->args.at, operands, SB_BOOK_WRITE, &named);
    if (code != EX_OK)
        return code;
    w->name = named.name;
    w->book = named.book;
    w->id = named.id;
    sb_book_status status = sb_book_describe(w->book, w->id, &w->instrument);
    if (status == SB_BOOK_OK && w->plan.last > w->instrument.instrument.frets)
        w->plan.last = w->instrument.instrument.frets;
    return sb_book_complain(status, w->args.at.path, w->name);
}

static int prepare(work *w, const sb_texts *operands) {
    int code = check(w, operands);
    if (code == EX_OK)
        code = make_plan(w);
    if (code == EX_OK)
        code = open_instrument(w, operands);
    if (code == EX_OK)
        code = read_string(w);
    if (code != EX_OK)
        return code;
    w->take = sb_take_new();
    return w->take ? EX_OK : sb_complain_memory();
}

static int run(const sb_command *self, int argc, char *const argv[]) {
    sb_texts operands = {.n = 0};
    work *w = calloc(1, sizeof *w);
    if (!w)
        return sb_complain_memory();
    w->args = (survey_args){.note = SB_NO_NOTE,
                            .a4_hz = SB_A4_HZ,
                            .tolerance_cents = SB_TOLERANCE_CENTS,
                            .live.plucks = 1};
    int code = sb_command_args(self, argc, argv, &w->args, &operands);
    if (code == EX_OK)
        code = prepare(w, &operands);
    if (code == EX_OK)
        code = conclude(w, survey_all(w));
    sb_book_close(w->book);
    free(w->take);
    free(w);
    return code;
}

static const char *const usage[] = {
    "--scale LEN --readings FILE [OPTIONS]",
    "--scale LEN --take FILE... [OPTIONS]",
    "INSTRUMENT [--string N] [--take FILE...] [OPTIONS]",
    NULL,
};

static const char *const examples[] = {
    "setback survey --scale 25.5in --take low-e.wav --svg low-e.svg",
    "setback survey --scale 648mm --string G3:17 --first-fret 0.4mm --readings g.tsv --json",
    "setback survey 'blue bass' --string 4",
    NULL,
};

const sb_command sb_cmd_survey = {
    "survey",
    "tell saddle, nut, slot and fret apart, from several frets of a string",
    "Pluck the string open and at frets 1, 2, 3, 5, 7, 9, 12, 15 and 17, or others, in any order: "
    "the notes sort themselves. Fits how far the saddle and the nut are out and how much too high "
    "the nut slot is, each with its error; says whether the fit holds, which single frets stand "
    "out, what is at fault and what to do, and the saddle's best move while the nut stays.\n"
    "A high slot acts almost like a nut that stands too far back; only frets 1 and 2 tell them "
    "apart, and --string, --action and above all --first-fret help.\n"
    "An instrument of the book gives scale and string, and keeps the survey in its log.",
    usage,
    examples,
    groups,
    run,
};
