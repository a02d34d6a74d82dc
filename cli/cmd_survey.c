/* survey: several frets of a string, and what is at fault. */
#include <stddef.h>
#include <stdlib.h>

#include "cli/bench_log.h"
#include "cli/cmd_book.h"
#include "cli/complain.h"
#include "cli/err.h"
#include "cli/json_survey.h"
#include "cli/option_rows.h"
#include "cli/output_file.h"
#include "cli/print_survey.h"
#include "cli/survey_input.h"
#include "cli/survey_known.h"
#include "cli/survey_live.h"
#include "cli/term.h"

#define MOST_STRINGS 24
typedef struct {
    sb_survey_told told;
    const char *readings, *frets, *weights, *scl, *svg;
    sb_texts takes;
    double tolerance_cents;
    bool force, json;
    sb_session_options live;
    sb_book_at at;
} survey_args;

/* --- options --------------------------------------------------------------------------- */

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
    {"note", SB_OPT_NOTE, offsetof(survey_args, told.note), "NOTE",
     "the open string's note, such as E2, so that another string is noticed", 0, 0, false},
    SB_ROW_A4(survey_args, told.a4_hz, 500),
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
    {"the string", sb_survey_told_rows, SB_SURVEY_TOLD_OPTIONS, offsetof(survey_args, told)},
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
    sb_book_named named; /* the instrument; NULL = none */
    sb_survey_known known;
    sb_take *take;
    sb_take_frets frets;
    sb_surveyed done[MOST_STRINGS];
    size_t n;
} work;

/* --- one string -------------------------------------------------------------------------- */

static int judge(work *w, sb_surveyed *s) {
    s->options.tolerance_cents = w->args.tolerance_cents;
    int code = sb_survey_known_describe(&w->known, s);
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

static int survey_take(work *w, const char *path) {
    const sb_open_notes open = sb_survey_known_notes(&w->known);
    const sb_session_options *live = &w->args.live;
    sb_surveyed *s = begin(w, path);
    int code =
        path ? sb_survey_load_take(path, live->input.channel, &w->plan, &open, w->take, &w->frets)
             : sb_survey_listen(live, &w->plan, &open, w->take, &w->frets);
    if (code != EX_OK)
        return code;
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
    sb_book_status status = sb_log_append_in_visit(w->named.book, w->named.id, &event, 1);
    free(data);
    return sb_book_complain(status, w->args.at.path, w->named.name);
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
        int code = w->named.book ? keep(w, &w->done[i]) : EX_OK;
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
    sb_svg_survey(file.out, w->named.name, w->done, w->n);
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
    if (operands->n == 0 && !(a->told.scale_mm > 0))
        return sb_fail(EX_USAGE, "or name an instrument of the book", NULL,
                       "--scale LEN is needed");
    if (operands->n > 0 && a->told.scale_mm > 0)
        return sb_fail(EX_USAGE, "leave --scale away; setback book edit corrects it", NULL,
                       "the instrument has its own scale length");
    if (operands->n > 0 && a->readings && !a->told.string)
        return sb_fail(EX_USAGE, "give --string N, 1 being the first", NULL,
                       "readings do not tell which string they are of");
    if (a->told.action && a->told.action17_mm > 0)
        return sb_fail(EX_USAGE, "give one of them", NULL, "--action17 does not go with --action");
    if (a->takes.n > MOST_STRINGS)
        return sb_fail(EX_USAGE, "survey fewer at a time", NULL, "at most %d recordings",
                       MOST_STRINGS);
    if (a->takes.n > 1 && (a->told.string || a->told.note != SB_NO_NOTE))
        return sb_fail(EX_USAGE, "leave it away, or survey one string at a time", NULL,
                       "--string and --note go with one string only");
    return a->svg ? sb_output_vacant(a->svg, a->force) : EX_OK;
}

static int open_instrument(work *w, const sb_texts *operands) {
    w->known.told = &w->args.told;
    if (operands->n == 0)
        return EX_OK;
    int code = sb_book_open_named(&w->args.at, operands, SB_BOOK_WRITE, &w->named);
    if (code != EX_OK)
        return code;
    sb_description *d = &w->known.instrument;
    w->known.name = w->named.name;
    sb_book_status status = sb_book_describe(w->named.book, w->named.id, d);
    if (status == SB_BOOK_OK && w->plan.last > d->instrument.frets)
        w->plan.last = d->instrument.frets;
    return sb_book_complain(status, w->args.at.path, w->named.name);
}

static int prepare(work *w, const sb_texts *operands) {
    int code = check(w, operands);
    if (code == EX_OK)
        code = sb_survey_plan_make(&w->plan, w->args.scl, w->args.frets, w->args.weights);
    w->plan.a4_hz = w->args.told.a4_hz;
    if (code == EX_OK)
        code = open_instrument(w, operands);
    if (code == EX_OK)
        code = sb_survey_known_read(&w->known);
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
    w->args = (survey_args){.told = {.note = SB_NO_NOTE, .a4_hz = SB_A4_HZ},
                            .tolerance_cents = SB_TOLERANCE_CENTS,
                            .live.plucks = 1};
    int code = sb_command_args(self, argc, argv, &w->args, &operands);
    if (code == EX_OK)
        code = prepare(w, &operands);
    if (code == EX_OK)
        code = conclude(w, survey_all(w));
    sb_book_close(w->named.book);
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
